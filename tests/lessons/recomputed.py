"""What the engines give in the states that a file of told numbers names, by the public functions of engine_sim.

A state names its engine and one of KINDS: a settled idle, a pull with the throttle wide open, the whole method, a
start, an inspection, what its card says, or acts at the bench. What it gives is called STATE_QUANTITY, for instance
`warm_speed_rpm`; steps at the bench give their notes' names instead of the state's.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from course import ENGINES
from engine_sim import (
    SOUND,
    AsFound,
    Conditions,
    Draw,
    Engine,
    Header,
    Session,
    Wear,
    fault_named,
    inspection_named,
    weights_from,
)
from engine_sim.model.start_trial import start_trial
from engine_sim.physics.distributor import Weights
from engine_sim.physics.roots import find_root
from engine_sim.physics.units import KPA_PER_INHG
from graders.bench.assignment import assignment_of, card_named
from graders.bench.engine_cache import engine_for
from graders.bench.full_throttle import pull_of, pull_over_lead
from graders.bench.reference import reference_for
from graders.exercises.loader import load_rubric

NUMBER = r"\d+(?:,\d{3})*(?:\.\d+)?"
SCREWS = (0.0, 6.0)  # turns in, between which a speed is looked for
LOOK_S, BLINK_S = 3.0, 0.2  # of watching the instruments for a note, and between two looks
SHOWN = ("speed_rpm", "vacuum_inhg", "coolant_c", "timing_light_deg", "dwell_deg", "torque_nm", "ping_level")


@dataclass(frozen=True)
class State:
    """One engine in one state. Exactly one of `idle`, `pull`, `method`, `start`, `inspect`, `sheet` and
    `acts` is given.

    `engine` is a card; `drawn` (exercise, learner) an engine as a learner gets it. `card` moves fields of the card
    ("setting.idle_rpm"), `wear` and `fault` say what is wrong (its amounts come from the text `fault_draw`), `day` and
    `found` are the fields of Conditions and AsFound: else sea level, warm, made safe, and timing and idle speed by the
    label. A screw may be given as the speed that it gives the sound, warm engine there: { rpm, timing_deg }.
    """

    engine: str = ""
    drawn: Mapping[str, str] = field(default_factory=dict)
    card: Mapping[str, Any] = field(default_factory=dict)
    wear: Mapping[str, Any] = field(default_factory=dict)
    fault: str = ""
    fault_draw: str = ""
    day: Mapping[str, float] = field(default_factory=dict)
    found: Mapping[str, Any] = field(default_factory=dict)
    tools: tuple[str, ...] = ()
    idle: Mapping[str, Any] | None = None
    pull: Mapping[str, Any] | None = None
    method: Mapping[str, Any] | None = None
    start: Mapping[str, Any] | None = None
    inspect: str | None = None
    sheet: tuple[str, ...] | None = None
    acts: tuple[Mapping[str, Any], ...] | None = None


def quantities(states: Mapping[str, Mapping]) -> dict[str, float]:
    """Everything that these states give, by name. Raises ValueError that names a state which cannot be computed."""
    found: dict[str, float] = {}
    for name, table in states.items():
        try:
            state = State(**table)
            (kind,) = (kind for kind in KINDS if getattr(state, kind) is not None)
            given = KINDS[kind](_at_hand(state), getattr(state, kind))
        except Exception as error:
            raise ValueError(f"the state '{name}' cannot be computed: {error}") from error
        prefix = "" if kind == "acts" else f"{name}_"
        found |= {f"{prefix}{quantity}": float(value) for quantity, value in given.items()}
    return found


@dataclass(frozen=True)
class AtHand:
    """An engine, how it stands, the day, and the tools beside it."""

    engine: Engine
    found: AsFound
    day: Conditions
    tools: tuple[str, ...]


def _at_hand(state: State) -> AtHand:
    if state.drawn:
        lesson = state.drawn["exercise"].split("_")[0]
        (path,) = (ENGINES.parent / "source").glob(f"{lesson}_*")
        exercise = load_rubric(path.name).exercises[state.drawn["exercise"]]
        given = assignment_of(exercise, Header(state.drawn["learner"], path.name, "", "", "told"), ENGINES)
        found = replace(given.found, **state.found)
        return AtHand(given.engine, found, given.conditions, (*given.tools, *state.tools))
    card = card_named(ENGINES, state.engine)
    if state.card:
        content = card.model_dump()
        for name, value in state.card.items():
            section, item = name.split(".")
            content[section][item] = value
        card = type(card).model_validate(content)
    label, day = card.setting, Conditions(**state.day)
    wanted = {
        "base_timing_deg": label.label_base_timing_deg,
        "idle_screw": {"rpm": label.idle_rpm},
        "coolant_c": 85.0,
        "prepared": True,
        **state.found,
    }
    if isinstance(wanted["idle_screw"], Mapping):
        at = {"timing_deg": wanted["base_timing_deg"], **wanted["idle_screw"]}
        turned = not (state.idle is state.acts is state.inspect is None)  # what else needs no screw
        wanted["idle_screw"] = _screw_for(engine_for(card), day, **at) if turned else SCREWS[0]
    found, wear = AsFound(**wanted), Wear(**state.wear)
    if state.fault:
        worn, found = fault_named(state.fault).on(card, found, Draw(state.fault_draw))
        wear = worn if wear == SOUND else wear
    return AtHand(engine_for(card, wear), found, day, state.tools)


def _screw_for(engine: Engine, day: Conditions, rpm: float, timing_deg: float, **more: Any) -> float:
    """The turns of the idle screw at which an engine settles at a speed, to a hundredth as the bench has them."""

    def surplus(screw):
        state = engine.idle(timing_deg, float(screw), day.altitude_ft, ambient_c=day.ambient_c, **more)
        return np.array(float(np.nan_to_num(state.speed_rpm)) - rpm)

    return round(float(find_root(surplus, *SCREWS, iterations=10)), 2)


# ---- kinds of state --------------------------------------------------------------------------------------------------


def _idle(at: AtHand, wanted: Mapping[str, Any]) -> dict[str, float]:
    """A settled idle: `timing_deg` and `idle_screw` (turns, or the speed `rpm` that it gives at `timing_deg`), else as
    found; the rest as Engine.idle takes it."""
    wanted = dict(wanted)
    timing = wanted.pop("timing_deg", at.found.base_timing_deg)
    screw = wanted.pop("idle_screw", at.found.idle_screw)
    if isinstance(screw, Mapping):
        screw = _screw_for(at.engine, at.day, **{"timing_deg": timing, **wanted, **screw})
    state = at.engine.idle(timing, screw, at.day.altitude_ft, ambient_c=at.day.ambient_c, **wanted)
    vacuum = float(state.manifold_vacuum_inhg)
    return {
        "timing_deg": timing,
        "idle_screw": screw,
        "speed_rpm": float(state.speed_rpm),
        "vacuum_inhg": vacuum,
        "vacuum_kpa": vacuum * KPA_PER_INHG,
        "pressure_kpa": float(state.manifold_pressure_kpa),
        "total_deg": float(state.total_advance_deg),
    }


def _pull(at: AtHand, wanted: Mapping[str, Any]) -> dict[str, float]:
    """The throttle wide open at `rpm`, with a base of `timing_deg` or a total of `total_deg`; `from_best_deg` is a
    total so far earlier than the middle of the flat top. The best and what is lost against it are those of 20 °C.
    `springs` and `stop_deg` are fitted to the weights in the place of the card's. From 1,100 to 2,800 rpm nothing is
    heard up to a total of `silent_to_deg`. An automatic's converter lets it turn at `stall_rpm`."""
    rpm = wanted["rpm"]
    over = pull_over_lead(at.engine, rpm, at.day.altitude_ft)
    as_they_are = float(at.engine.centrifugal_deg(rpm))
    weights = as_they_are if "springs" not in wanted else float(_fitted(at, wanted).advance_deg(rpm))
    base = wanted.get("timing_deg", at.found.base_timing_deg)
    if "from_best_deg" in wanted:
        base = over.best_deg + wanted["from_best_deg"] - weights
    base = wanted.get("total_deg", base + weights) - weights
    limit = pull_of(at.engine.card, at.day)
    stall = {}
    if at.engine.card.drive.transmission == "automatic":
        stall["stall_rpm"] = at.engine.stall_speed_rpm(at.found.base_timing_deg, at.day)
    octane = wanted.get("octane_ron", at.engine.fuel_octane(at.day, rpm))
    state = at.engine.full_throttle(
        rpm,
        base + weights - as_they_are,
        octane,
        at.day.altitude_ft,
        at.day.ambient_c,
        humidity_percent=at.day.humidity_percent,
    )
    flat = over.flat_top_deg(wanted.get("flat_share", 0.005))
    return {
        "timing_deg": base,
        "weights_deg": weights,
        "total_deg": float(state.total_advance_deg),
        "torque_nm": float(state.torque_nm),
        "lost_percent": 100.0 * (1.0 - float(state.torque_nm) / over.torque_nm.max()),
        "best_deg": over.best_deg,
        "flat_from_deg": flat[0],
        "flat_to_deg": flat[1],
        "octane_required_ron": float(state.octane_required_ron),
        "margin_octane": float(state.knock_margin_octane),
        "margin_deg": float(state.knock_margin_deg),
        "silent_to_deg": float(np.interp(rpm, limit.speed_rpm, limit.latest_ping_deg)),
        **stall,
    }


def _fitted(at: AtHand, wanted: Mapping[str, Any]) -> Weights:
    stop_deg = wanted.get("stop_deg", at.engine.card.distributor.stop_deg)
    return weights_from(at.engine, {"springs": wanted["springs"], "weights_stop": stop_deg})


def _method(at: AtHand, wanted: Mapping[str, Any]) -> dict[str, float]:
    """The whole method, with `idle_rpm` and `speed_drop_rpm` where they are not the label's."""
    content = at.engine.card.model_dump()
    content["setting"] |= wanted
    found = reference_for(type(at.engine.card).model_validate(content), at.day).method
    return {
        "peak_deg": found.peak_timing_deg,
        "peak_rpm": found.peak_speed_rpm,
        "peak_inhg": found.peak_vacuum_inhg,
        "idle_screw": found.idle_setting,
        "timing_deg": found.timing_deg,
        "speed_rpm": found.speed_rpm,
        "vacuum_inhg": found.vacuum_inhg,
    }


def _start(at: AtHand, wanted: Mapping[str, Any]) -> dict[str, float]:
    """A start, as start_trial takes it. An engine that never fires, or never runs, has no such time."""
    wanted = {"base_timing_deg": at.found.base_timing_deg, "coolant_c": at.day.ambient_c, **wanted}
    trial = start_trial(at.engine, conditions=at.day, **wanted)
    times = {"fires_s": trial.fires_s, "runs_s": trial.runs_s}
    return {"kicks": trial.kicks, **{name: time for name, time in times.items() if time is not None}}


def _inspect(at: AtHand, inspection: str) -> dict[str, float]:
    """The numbers of an inspection's finding: said_1 and so on, and whether it is in order (1 or 0)."""
    found = inspection_named(inspection).look(at.engine, at.found, at.day, Draw(inspection))
    said = {f"said_{place}": _number(text) for place, text in enumerate(re.findall(NUMBER, found.text), 1)}
    return {"in_order": float(found.in_order), **said}


def _sheet(at: AtHand, fields: tuple[str, ...]) -> dict[str, float]:
    """Fields of the engine's card, as section.field; the quantity has the field's name."""
    parts = [name.split(".") for name in fields]
    return {item: float(getattr(getattr(at.engine.card, section), item)) for section, item in parts}


def _number(text: str) -> float:
    return float(text.replace(",", ""))


def _acts(at: AtHand, steps: tuple[Mapping[str, Any], ...]) -> dict[str, float]:
    """Steps at the bench: an `act` with its `value`, then `wait_s`, then a `note`, the mean of what the instruments
    show over `watch_s`. `says` is a text that must come up in the record or in the sound; `outcome` what comes of the
    act. The numbers of the last sentence of the record are NOTE_said_1 and so on."""
    session = Session(at.engine, conditions=at.day, found=at.found, tools=at.tools)
    given: dict[str, float] = {}
    for step in (Step(**table) for table in steps):
        lines = len(session.log)
        if step.act:
            act = session.act(step.act, step.value)
            assert act.kind == step.outcome, f"'{step.act}' was {act.kind}: {act.sentence}"
        session.advance(step.wait_s)
        said = " ".join([*(line.text for line in session.log[lines:]), session.readings().idle_words])
        assert step.says in said, f"'{step.says}' was wanted after '{step.act}'; it says: {said}"
        if step.note:
            given |= {f"{step.note}_{name}": value for name, value in _noted(session, step.watch_s).items()}
    return given


@dataclass(frozen=True)
class Step:
    """One step at the bench; see `_acts`."""

    act: str = ""
    value: str | float | None = None
    outcome: str = "done"
    wait_s: float = 0.0
    says: str = ""
    note: str = ""
    watch_s: float = LOOK_S


def _noted(session: Session, watch_s: float) -> dict[str, float]:
    given = {"base_deg": session.base_timing_deg}
    for place, number in enumerate(re.findall(NUMBER, session.sentence), 1):
        given[f"said_{place}"] = _number(number)
    looks = []
    for _ in range(max(round(watch_s / BLINK_S), 1)):
        session.advance(BLINK_S)
        looks.append(session.readings())
    for name in SHOWN:
        shown = [getattr(look, name) for look in looks]
        if None not in shown:
            given[name] = float(np.mean(shown))
            given |= {f"lowest_{name}": min(shown), f"highest_{name}": max(shown)}
    if "vacuum_inhg" in given:
        given["vacuum_kpa"] = given["vacuum_inhg"] * KPA_PER_INHG
    return given


KINDS = {
    "idle": _idle,
    "pull": _pull,
    "method": _method,
    "start": _start,
    "inspect": _inspect,
    "sheet": _sheet,
    "acts": _acts,
}
