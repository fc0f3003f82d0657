"""What a learner is given in one exercise: engine, how it is found, day, tools, and what is wrong with it.

Bench and judge both use this module, so that they work on the same engine.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from engine_sim import (
    CONTROLS,
    SEA_LEVEL_DAY,
    SOUND,
    SPRING_STIFFNESS,
    AsFound,
    Conditions,
    Draw,
    Engine,
    EngineCard,
    EvidenceWriter,
    Finding,
    Header,
    LearnersEngine,
    Session,
    fault_named,
    folded_name,
    inspection_named,
    learners_engine,
    load_card,
    usual_screw,
)
from graders.schema import Day, EngineExercise, ExerciseRubric, FoundAs, RubricError

from .engine_cache import engine_for
from .label import AS_MADE, NO_FIGURE, Label, drawn_label

WARM_C = 85.0  # °C: coolant of an engine that is found warm, above every lesson's limit for warm
NO_FAULT = "none"  # in a rubric's list of faults: this engine may be sound


@dataclass(frozen=True)
class BenchAssignment:
    """`fault` is the id of what is wrong, empty where nothing is; `label` what the engine's label is worth."""

    card: EngineCard
    engine: Engine
    found: AsFound
    conditions: Conditions
    tools: tuple[str, ...]
    fault: str = ""
    label: Label = AS_MADE


def card_named(engines: Path, name: str) -> EngineCard:
    """The engine card of that name in the folder of cards, or of that path. Raises CardError."""
    path = Path(engines) / f"{name}.toml"
    return _card(path, path.stat().st_mtime_ns) if path.is_file() else load_card(path)


@functools.lru_cache(maxsize=64)
def _card(path: Path, changed_ns: int) -> EngineCard:
    """A card, read once for each time it was changed."""
    return load_card(path)


def engine_of(header: Header, engines: Path, name: str, engine_number: int = 0) -> LearnersEngine:
    """The engine that the learner of this header was given for an exercise on the card of that name; `engine_number`
    counts those that they had before."""
    return learners_engine(card_named(engines, name), header.class_id, header.learner, header.lesson, engine_number)


def card_of(exercise: ExerciseRubric, header: Header, engines: Path) -> EngineCard | None:
    """The learner's own engine, where an exercise asks about one."""
    return engine_of(header, engines, exercise.engine).card if exercise.engine else None


def assignment_of(exercise: ExerciseRubric, header: Header, engines: Path, engine_number: int = 0) -> BenchAssignment:
    """What the learner of this header works on in an exercise, `engine_number` counting the engines that they had
    there before. Raises TimingCourseError where a card or a fault that the rubric names is not there, and TypeError
    for an exercise of a kind that is not at an engine."""
    if not isinstance(exercise, EngineExercise):
        raise TypeError(f"{exercise.id} is of kind '{exercise.kind}', which is not at an engine")
    given = engine_of(header, Path(engines), exercise.engine, engine_number)
    card, found, wear, fault = given.card, given.found, SOUND, ""
    conditions, label = conditions_of(exercise.day), NO_FIGURE if exercise.found.no_figure else AS_MADE
    found = as_found(given, exercise.found, conditions)
    if exercise.faults:
        draw = Draw(f"{seed_text(exercise, header)}|fault")
        fault = fault_of(exercise, card, draw)
        if fault:
            wear, found = fault_named(fault).on(card, found, draw)
    elif not exercise.guessable:
        draw = Draw(f"{seed_text(exercise, header, engine_number)}|label")
        label, card, wear = drawn_label(card, conditions, draw)
    return BenchAssignment(
        card=card,
        engine=engine_for(card, wear),
        found=found,
        conditions=conditions,
        tools=exercise.tools,
        fault=fault,
        label=label,
    )


def another_engine(
    exercise: ExerciseRubric, header: Header, engines: Path
) -> Callable[[int], tuple[Engine, AsFound]] | None:
    """The further engines of a learner in an exercise, by how many they had before; None where each attempt is at the
    same one."""

    def numbered(engine_number: int) -> tuple[Engine, AsFound]:
        given = assignment_of(exercise, header, engines, engine_number)
        return given.engine, given.found

    return None if not isinstance(exercise, EngineExercise) or exercise.guessable else numbered


def session_at(exercise: ExerciseRubric, header: Header, engines: Path, evidence: EvidenceWriter) -> Session:
    """A session at what the learner of this header works on in an exercise, which goes on
    where its evidence ends."""
    given = assignment_of(exercise, header, engines)
    return Session(
        given.engine,
        conditions=given.conditions,
        found=given.found,
        exercise=exercise.id,
        tools=given.tools,
        evidence=evidence,
        another_engine=another_engine(exercise, header, engines),
    )


def seed_text(exercise: ExerciseRubric, header: Header, engine_number: int = 0) -> str:
    """The text that seeds everything that is drawn for a learner in an exercise, `engine_number` counting the engines
    that they had there before. At an engine every spelling of a name draws the same; elsewhere the numbers are those of
    the name as it is written, as in earlier editions."""
    learner = folded_name(header.learner) if exercise.engine else header.learner
    return f"{header.class_id}|{learner}|{exercise.id}" + (f"|{engine_number}" if engine_number else "")


def fault_of(exercise: EngineExercise, card: EngineCard, draw: Draw) -> str:
    """Id of the fault that a draw gives to an engine, of those that it can have; empty where it is sound."""
    fitting = [name for name in exercise.faults if name == NO_FAULT or fault_named(name).fits(card)]
    fault = fitting[int(draw.share() * len(fitting))]
    return "" if fault == NO_FAULT else fault


def reading_of(assignment: BenchAssignment, inspection: str, words: str) -> Finding:
    """What an inspection of the learner's engine shows, the same every time; `words` are the exercise's seed text."""
    draw = Draw(f"{words}|{inspection}")
    return inspection_named(inspection).look(assignment.engine, assignment.found, assignment.conditions, draw)


def check_assignment(exercise: EngineExercise) -> None:
    """Raise RubricError, or UnknownFault, where a rubric names a tool, a fault or springs that there are not, or where
    both a fault and the label are to be found out."""
    strange = [name for name in exercise.tools if name not in CONTROLS or not CONTROLS[name].tool]
    if strange:
        offered = ", ".join(control.name for control in CONTROLS.values() if control.tool)
        raise RubricError(f"there is no tool '{strange[0]}'; there are {offered}")
    springs = exercise.found.springs
    if springs and springs not in SPRING_STIFFNESS:
        raise RubricError(f"there are no springs '{springs}'; there are {', '.join(SPRING_STIFFNESS)}")
    for name in exercise.faults:
        if name != NO_FAULT:
            fault_named(name)
    if exercise.faults and not exercise.guessable:
        raise RubricError("guessable = false is for sound engines: take it out, or take out faults")


def as_found(given: LearnersEngine, wanted: FoundAs, conditions: Conditions) -> AsFound:
    """How the engine is found: as its owner left it on days like this, or set by its label; cold or warm; made safe
    already or not."""
    found = given.found
    if wanted.set_by == "owner":
        air = conditions.ambient_pa / SEA_LEVEL_DAY.ambient_pa
        opened = usual_screw(given.card, air) - usual_screw(given.card)  # thin air needs a wider way
        found = replace(found, idle_screw=round(found.idle_screw + opened, 2))
    else:
        base = given.card.setting.label_base_timing_deg + wanted.off_label_deg
        found = replace(found, base_timing_deg=base, idle_screw=round(usual_screw(given.card), 2))
    found = replace(found, springs=wanted.springs or None)
    return replace(found, coolant_c=WARM_C if wanted.warm else None, prepared=wanted.prepared)


def conditions_of(day: Day) -> Conditions:
    """The day as the engine feels it."""
    return Conditions(day.altitude_ft, day.ambient_c, day.octane_ron, day.octane_mon, day.humidity_percent)
