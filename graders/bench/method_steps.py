"""The steps of the method that an exercise asks for, each ticked as soon as an act of it was recorded: right or wrong,
since that is the judge's to say. Who asks what comes next is told the first step that is not ticked, and earns what
belongs to it in another try."""

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
    """One step: its phase and words, the checks of a rubric that ask for it, the acts of which one after the other must
    have been done, the sentence for the learner who asks for it, and the checks that then earn nothing: those that ask
    for it, where no others are named."""

    phase: str
    words: str
    checks: frozenset[str]
    acts: tuple[IsSuch, ...]
    hint: str
    told_away: frozenset[str] = frozenset()

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

_CLAMPED = frozenset({"clamped_and_read_again", "put_back_as_found"})

STEPS = (
    MethodStep("Make safe", "parking brake", _SAFE, (_set("brake"),), "Set the parking brake."),
    MethodStep("Make safe", "chocks", _SAFE, (_set("chocks"),), "Put the chocks at the wheels."),
    MethodStep("Make safe", "extraction", _SAFE, (_set("ventilation"),), "Switch the exhaust extraction on."),
    MethodStep("Make safe", "fan and belts", _SAFE, (_set("fan_area"),), "Look over fan and belts, and clear them."),
    MethodStep(
        "Set",
        "tachometer",
        _GAUGES,
        (_set("tachometer"),),
        "With the engine at rest, clip the tachometer's lead on the coil's terminal on the points side.",
    ),
    MethodStep("Set", "gauge hose", _GAUGES, (_set("gauge_hose"),), "Put the gauge's hose on a manifold fitting."),
    MethodStep(
        "Set",
        "advance hose off",
        frozenset({"hose_off_and_plugged"}),
        (_HOSE_OFF,),
        "With the engine at rest, pull the hose off at the vacuum unit, and plug its other end.",
    ),
    MethodStep(
        "Set",
        "engine warm",
        frozenset({"was_warm", "read_cold_and_warm", "read_at_warm_idle"}),
        (_warm,),
        "Start the engine and wait until it is warm.",
    ),
    MethodStep(
        "Set", "clamp loosened", _TURNS, (_LOOSE,), "Loosen the clamp of the distributor just enough.", _CLAMPED
    ),
    MethodStep(
        "Set",
        "body turned and read",
        _TURNS,
        (_TURNED, _READ),
        "Turn the body by small steps against the rotor, and read the gauges at each, until the vacuum rises no more.",
    ),
    MethodStep(
        "Set",
        "idle speed set",
        frozenset({"idle_brought_back"}),
        (_IDLE_SET,),
        "At the highest vacuum bring the idle back to its speed with the idle screw, and look for the peak again.",
    ),
    MethodStep(
        "Set",
        "body turned again",
        frozenset({"backed_off"}),
        (_IDLE_SET, _TURNED),
        "Turn the body with the rotor until the speed has fallen by the nameplate's drop.",
        frozenset({"backed_off", "where_it_ended"}),
    ),
    MethodStep(
        "Confirm",
        "clamp tightened",
        _TURNS | {"put_back_as_found"},
        (_LOOSE, _TIGHT),
        "Tighten the clamp of the distributor.",
        _CLAMPED,
    ),
    MethodStep(
        "Confirm",
        "read again",
        frozenset({"clamped_and_read_again"}),
        (_LOOSE, _TIGHT, _READ),
        "Read the gauges once more: a clamp that bites can move the setting.",
    ),
    MethodStep(
        "Confirm",
        "hose on again",
        frozenset({"reconnected"}),
        (_HOSE_OFF, _HOSE_ON),
        "With the engine at rest, put the advance hose back on; then set the idle speed.",
    ),
    MethodStep(
        "Road",
        "chocks away",
        _DRIVES,
        (_set("chocks", "away"),),
        "Switch off, hold the vehicle by brake and gearbox, and take the chocks away.",
    ),
    MethodStep("Road", "driver seated", _DRIVES, (_set("driver"),), "Take the driver's seat, with everyone clear."),
    MethodStep("Road", "driven", _DRIVES, (_set("road_check"),), "Start the engine and drive the road check."),
)
_BY_WORDS = {step.words: step for step in STEPS}


def steps_of(checks: Collection[str], prepared: bool) -> list[MethodStep]:
    """The steps that these checks of a rubric ask for; what a colleague has prepared is none."""
    return [
        step
        for step in STEPS
        if step.checks.intersection(checks) and not (prepared and step.checks in (_SAFE, _GAUGES))
    ]


def next_step(checks: Collection[str], acts: Sequence[ActionRecord], prepared: bool) -> MethodStep | None:
    """The first of the steps that these acts of one attempt do not hold; None where they hold all."""
    done = [act for act in acts if act.kind == "done"]
    return next((step for step in steps_of(checks, prepared) if not step.done(done)), None)


def told_away(hints: Collection[str]) -> frozenset[str]:
    """The checks that earn nothing in an attempt with these hints, which are words of steps; others are passed over."""
    steps = [_BY_WORDS[words] for words in hints if words in _BY_WORDS]
    return frozenset().union(*(step.told_away or step.checks for step in steps))


def rail(guide: str, checks: Collection[str], acts: Sequence[ActionRecord], prepared: bool) -> list[dict]:
    """The phases with `title`, `done`, and their `steps` as pairs of words and whether they are ticked.

    With the guide "phases" the steps are left out, with "none" everything is. `acts` are those of one attempt that
    were done, not those that were stopped. What a colleague has prepared is no step.
    """
    if guide == "none":
        return []
    done = [act for act in acts if act.kind == "done"]
    phases: dict[str, list[list]] = {}
    for step in steps_of(checks, prepared):
        phases.setdefault(step.phase, []).append([step.words, step.done(done)])
    shown: list[dict] = []
    for title, steps in phases.items():
        ticked = all(tick for _, tick in steps)
        shown.append({"title": title, "done": ticked, "steps": steps if guide == "steps" else []})
    return shown
