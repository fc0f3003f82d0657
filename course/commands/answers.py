"""The answers of a lesson as one learner of a class has it, for the instructor: numbers, orders, faults, settings."""

from __future__ import annotations

import json
from pathlib import Path

from course import ENGINES
from engine_sim import Header, TimingCourseError, fault_named, published
from graders.bench.assignment import assignment_of, seed_text
from graders.bench.reference import reference_for
from graders.exercises.individualise import card_of, exercise_for
from graders.exercises.loader import lessons_with_rubrics, rubric_for
from graders.model_answers.model_learner import inspections_before, right_answer
from graders.nbgrader_bridge.course_config import NbgraderCourse
from graders.schema import ExerciseRubric
from graders.submissions.verdict_key import own_rubrics

KPA_PER_INHG = published("inch_of_mercury").value
PERSON = "Read and marked by a person."
OWN_ENGINE = "Nothing about the learner's own engine is right or wrong."


class AnswersError(TimingCourseError):
    """There are no such answers."""


def run(folder: Path, lesson: str, learner: str) -> int:
    """Print the answers of a lesson for a learner of the class in `folder`; return 0. Raises TimingCourseError."""
    course = NbgraderCourse(folder)
    if lesson not in lessons_with_rubrics():
        raise AnswersError(f"There is no rubric for '{lesson}'; there are {', '.join(lessons_with_rubrics())}.")
    header = Header(learner, lesson, course.directory.course_id, "", "")
    for title, answer in answers_for(header, own_rubrics(course.root)):
        print(f"{title}\n    {answer}")
    return 0


def answers_for(header: Header, rubrics: Path | None = None) -> list[tuple[str, str]]:
    """Id with title, and answer in words, of every exercise as the learner of this header has it."""
    exercises = rubric_for(header.lesson, rubrics).exercises.values()
    return [(f"{one.id}, {one.title} ({one.points:g} points)", _answer(one, header)) for one in exercises]


def _answer(exercise: ExerciseRubric, header: Header) -> str:
    if exercise.kind == "bench":
        return _bench(exercise, header)
    if exercise.kind == "engine_card":
        return OWN_ENGINE
    own = exercise_for(exercise, seed_text(exercise, header), card_of(exercise, header, ENGINES))
    return _IN_WORDS[own.kind](own)


def _bench(exercise: ExerciseRubric, header: Header) -> str:
    """What is wrong with the engine, how it was found, and where the method leads on it."""
    assignment = assignment_of(exercise, header, ENGINES)
    method = reference_for(assignment.card, assignment.conditions).method
    wrong = fault_named(assignment.fault).title if assignment.fault else "nothing"
    return (
        f"Wrong with it: {wrong}. Found at {assignment.found.base_timing_deg:.1f} crank degrees before top centre. On "
        f"this engine, sound, the method has its peak at {method.peak_timing_deg:.0f} and ends at "
        f"{method.timing_deg:.1f}, at {method.speed_rpm:.0f} rpm and {method.vacuum_inhg:.1f} inHg "
        f"({method.vacuum_inhg * KPA_PER_INHG:.0f} kPa), or later where it pings."
    )


def _number(value: float, unit: str) -> str:
    return f"{value:.4g} {unit}".strip()


def _chosen(own: ExerciseRubric) -> str:
    return "; ".join(one.text for one in own.choices if one.right)


def _diagnosis(own: ExerciseRubric) -> str:
    return f"{_chosen(own)} It takes: {', '.join(inspections_before(own))}."


def _steps(own: ExerciseRubric) -> str:
    texts = {step.id: step.text for step in own.steps}
    order = [texts[name] for name in json.loads(right_answer(own)[0])]
    return "For example: " + " ".join(f"{number}. {text}" for number, text in enumerate(order, start=1))


def _hoses(own: ExerciseRubric) -> str:
    return "; ".join(f"{hose.label}: {' or '.join(hose.allowed)}" for hose in own.hoses)


def _written(own: ExerciseRubric) -> str:
    """What was asked of this learner: where something is drawn, the person who marks must know it."""
    return f"{PERSON} Asked: {own.question}" if own.draw else PERSON


_IN_WORDS = {
    "written": _written,
    "choice": _chosen,
    "several": _chosen,
    "needle": _chosen,
    "diagnosis": _diagnosis,
    "number": lambda own: _number(own.value, own.unit),
    "sum": lambda own: "; ".join(f"{line.label}: {_number(line.value, line.unit)}" for line in own.fields),
    "order": _steps,
    "hook_up": _hoses,
    "curve": lambda own: "For example: " + ", ".join(f"{deg:g} at {rpm:g} rpm" for rpm, deg in own.reference),
}
