"""Answers that a rubric foresees: the right one, the empty one, and one for every misconception that it names.

`answered_in` gives what the tests of test_instrument.py go through: every exercise of a lesson's rubric that is
answered, so that who writes a lesson has these tests for nothing.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from pathlib import Path

from engine_sim import Event, Header
from graders.bench.assignment import card_of, seed_text
from graders.exercises.individualise import exercise_for
from graders.exercises.kinds.common import as_text
from graders.exercises.kinds.exercise import Exercise
from graders.exercises.loader import Rubric, lessons_with_rubrics, load_rubric, rubric_in
from graders.outcome import ExerciseResult

ENGINES = Path(__file__).parents[2] / "course" / "engines"
TRIAL = Path(__file__).parent / "trial_rubrics"
ANSWERED_KINDS = (
    "choice",
    "curve",
    "diagnosis",
    "engine_card",
    "hook_up",
    "needle",
    "number",
    "order",
    "several",
    "sum",
)
LEARNERS = ("anna", "bela", "chidi", "dunja", "emil", "farah")


@dataclass(frozen=True)
class GivenAnswer:
    """An answer as the evidence holds it; `shows` is the misconception that leads to it, or none, `looked` the
    inspections before it."""

    value: str | float
    unit: str | None = None
    shows: str = ""
    looked: tuple[str, ...] = ()


LESSONS = (*lessons_with_rubrics(), *sorted(path.stem for path in TRIAL.glob("*.toml")))  # the last for tests alone


@functools.cache
def rubric_of(lesson: str) -> Rubric:
    """The rubric of a lesson, or one of those that are there for tests alone; read when it is first asked for."""
    return load_rubric(lesson) if lesson in lessons_with_rubrics() else rubric_in(TRIAL / f"{lesson}.toml")


def answered_in(lesson: str) -> list[Exercise]:
    """Every exercise of a lesson that is answered, not carried out at the bench or read by a person."""
    return [exercise for exercise in rubric_of(lesson).exercises.values() if exercise.kind in ANSWERED_KINDS]


def header_of(rubric: Rubric, learner: str) -> Header:
    """The head of this learner's evidence."""
    return Header(learner, rubric.lesson, "evening class", "", "2026-03-02T18:30:00+00:00")


def own_exercise(rubric: Rubric, exercise: Exercise, learner: str) -> Exercise:
    """The exercise as this learner has it."""
    header = header_of(rubric, learner)
    return exercise_for(exercise, seed_text(exercise, header), card_of(exercise, header, ENGINES))


def judged(rubric: Rubric, exercise: Exercise, learner: str, *answers: GivenAnswer) -> ExerciseResult:
    """What the judge says of a learner's answers, one try after the other."""
    card = card_of(exercise, header_of(rubric, learner), ENGINES)
    return own_exercise(rubric, exercise, learner).judge_events(events_of(exercise, *answers), card)


def events_of(exercise: Exercise, *answers: GivenAnswer) -> tuple[Event, ...]:
    """These answers as the evidence keeps them, each a second after the one before."""
    return tuple(
        event
        for second, answer in enumerate(answers)
        for event in (
            *(Event(float(second), exercise.id, "inspect", name, None) for name in answer.looked),
            Event(float(second), exercise.id, "answer", answer.value, answer.unit),
        )
    )


def right_answer(own: Exercise) -> GivenAnswer:
    """The answer that earns full marks in a learner's exercise."""
    model = own.model_answer()
    return GivenAnswer(model.value, model.unit, looked=model.inspections)


def mistaken_answers(own: Exercise) -> list[GivenAnswer]:
    """One answer for every place in which a learner's exercise names a misconception."""
    makers = {
        "choice": lambda: _wrongly_chosen(own),
        "needle": lambda: _wrongly_chosen(own),
        "diagnosis": lambda: _wrongly_chosen(own),
        "engine_card": lambda: [],  # nothing about one's own engine is a misconception
        "several": lambda: [_misjudged(own, one) for one in own.choices if one.misconception],
        "number": lambda: [GivenAnswer(wrong.value, own.unit, wrong.misconception) for wrong in own.wrong],
        "sum": lambda: [
            GivenAnswer(as_text(_right_lines(own) | {line.id: [wrong.value, line.unit]}), None, wrong.misconception)
            for line in own.fields
            for wrong in line.wrong
        ],
        "order": lambda: [_too_early(own, pair) for pair in own.before if pair.misconception],
        "hook_up": lambda: [
            _wrongly_put(own, hose.id, wrong) for hose in own.hoses for wrong in hose.wrong if wrong.misconception
        ],
        "curve": lambda: [GivenAnswer(as_text(example.curve), None, example.misconception) for example in own.examples],
    }
    return makers[own.kind]()


def _wrongly_chosen(own: Exercise) -> list[GivenAnswer]:
    looked = own.model_answer().inspections
    return [
        GivenAnswer(one.id, None, one.misconception, looked)
        for one in own.choices
        if one.misconception and not one.right
    ]


def _right_lines(own: Exercise) -> dict[str, list]:
    return {line.id: [line.value, line.unit] for line in own.fields}


def _misjudged(own: Exercise, choice) -> GivenAnswer:
    ticked = {one.id for one in own.choices if one.right} ^ {choice.id}
    wrong = next(one.id for one in own.choices if not one.right)
    return GivenAnswer(as_text(sorted(ticked or {wrong})), None, choice.misconception)


def _too_early(own: Exercise, pair) -> GivenAnswer:
    others = {name: [one for one in own.right_order() if one != name] for name in (pair.first, pair.then)}
    late, early = others[pair.first], others[pair.then]
    late.insert(late.index(pair.then) + 1, pair.first)
    early.insert(early.index(pair.first), pair.then)
    order = min(late, early, key=lambda one: sum(one.index(two.first) > one.index(two.then) for two in own.before))
    return GivenAnswer(as_text(order), None, pair.misconception)


def _wrongly_put(own: Exercise, hose: str, wrong) -> GivenAnswer:
    # Where another hose is on that port, it is left loose for the one in question.
    others = {name: None if port == wrong.port else port for name, port in own.right_hook_up().items()}
    return GivenAnswer(as_text(others | {hose: wrong.port}), None, wrong.misconception)


def tables_in(exercise: Exercise, *names: str) -> list:
    """Everything that stands in these fields of an exercise, of those that its kind has, in their order."""
    return [one for name in names for one in getattr(exercise, name, ())]


def numbers_wanted(exercise: Exercise) -> list:
    """Every place of an exercise in which a number is wanted: the exercise itself, or the lines of a sum."""
    return [one for one in (exercise, *tables_in(exercise, "fields")) if hasattr(one, "formula")]


def sentences_of(exercise: Exercise) -> list[str]:
    """The sentences that an exercise has by finding, of those kinds that have some."""
    return list(getattr(exercise, "sentences", {}).values())
