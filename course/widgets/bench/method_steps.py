"""The steps of the method that an exercise asks for, each ticked as soon as an act of it was recorded: right or wrong,
since that is the judge's to say."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from engine_sim.physics.friction import WARM_C
from engine_sim.workshop.controls import SNUG

if TYPE_CHECKING:
    from engine_sim.workshop.trajectory import ActionRecord

IsSuch = Callable[["ActionRecord"], bool]


@dataclass(frozen=True)
class MethodStep:
    """One step: its phase and words, the checks of a rubric that ask for it, and the acts of which one after the other
    must have been done."""

    phase: str
    words: str
    checks: frozenset[str]
    acts: tuple[IsSuch, ...]

    def done(self, acts: Sequence[ActionRecord]) -> bool:
        """Whether these acts hold the step's own, in their order."""
        rest = iter(acts)
        return all(any(is_such(act) for act in rest) for is_such in self.acts)


def _set(control: str, *values: str) -> IsSuch:
    """An act that set a control, to one of the values where some are named."""
    return lambda act: act.control == control and (not values or act.value in values)


def _warm(act: ActionRecord) -> bool:
    return act.running and (act.coolant_c >= WARM_C or act.control == "wait_until_warm")


_READ = _set("read_gauges")
_TURNED = _set("distributor")
_LOOSE, _TIGHT = _set("clamp", "loose", SNUG), _set("clamp", "tight")
_HOSE_OFF, _HOSE_ON = _set("vacuum_hose", "off and plugged", "off and open"), _set("vacuum_hose", "on")
_IDLE_SET = _set("idle_screw")

_SAFE = frozenset({"made_safe"})
_GAUGES = frozenset({"gauges_on", "hooked_up_at_rest", "read_both_ports"})
_TURNS = frozenset({"found_peak", "read_early_and_late"})
_DRIVES = frozenset({"road_checked", "drove_as_it_is_used", "drove_every_road"})

STEPS = (
    MethodStep("Make safe", "parking brake", _SAFE, (_set("brake"),)),
    MethodStep("Make safe", "chocks", _SAFE, (_set("chocks"),)),
    MethodStep("Make safe", "extraction", _SAFE, (_set("ventilation"),)),
    MethodStep("Make safe", "fan and belts", _SAFE, (_set("fan_area"),)),
    MethodStep("Set", "tachometer", _GAUGES, (_set("tachometer"),)),
    MethodStep("Set", "gauge hose", _GAUGES, (_set("gauge_hose"),)),
    MethodStep("Set", "advance hose off", frozenset({"hose_off_and_plugged"}), (_HOSE_OFF,)),
    MethodStep("Set", "engine warm", frozenset({"was_warm", "read_cold_and_warm", "read_at_warm_idle"}), (_warm,)),
    MethodStep("Set", "clamp loosened", _TURNS, (_LOOSE,)),
    MethodStep("Set", "body turned and read", _TURNS, (_TURNED, _READ)),
    MethodStep("Set", "idle speed set", frozenset({"idle_brought_back"}), (_IDLE_SET,)),
    MethodStep("Set", "body turned again", frozenset({"backed_off"}), (_IDLE_SET, _TURNED)),
    MethodStep("Confirm", "clamp tightened", _TURNS | {"put_back_as_found"}, (_LOOSE, _TIGHT)),
    MethodStep("Confirm", "read again", frozenset({"clamped_and_read_again"}), (_LOOSE, _TIGHT, _READ)),
    MethodStep("Confirm", "hose on again", frozenset({"reconnected"}), (_HOSE_OFF, _HOSE_ON)),
    MethodStep("Road", "chocks away", _DRIVES, (_set("chocks", "away"),)),
    MethodStep("Road", "driver seated", _DRIVES, (_set("driver"),)),
    MethodStep("Road", "driven", _DRIVES, (_set("road_check"),)),
)


def rail(guide: str, checks: Collection[str], acts: Sequence[ActionRecord], prepared: bool) -> list[dict]:
    """The phases with `title`, `done`, and their `steps` as pairs of words and whether they are ticked.

    With the guide "phases" the steps are left out, with "none" everything is. `acts` are those of one attempt that
    were done, not those that were stopped. What a colleague has prepared is no step.
    """
    if guide == "none":
        return []
    done = [act for act in acts if act.kind == "done"]
    phases: dict[str, list[list]] = {}
    for step in STEPS:
        made_ready = prepared and step.checks in (_SAFE, _GAUGES)
        if step.checks.intersection(checks) and not made_ready:
            phases.setdefault(step.phase, []).append([step.words, step.done(done)])
    shown: list[dict] = []
    for title, steps in phases.items():
        ticked = all(tick for _, tick in steps)
        shown.append({"title": title, "done": ticked, "steps": steps if guide == "steps" else []})
    return shown
