"""Whether the rubrics of a class can be used: readable, in step with the lesson, and met by a faultless attempt.

The faultless attempt is made on the engines of a dozen learners: a tolerance that is wide enough for one engine may be
too narrow for another.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from engine_sim import TimingCourseError
from graders.exercises.kinds.exercise import Exercise
from graders.exercises.loader import Rubric, rubric_for, rubric_path
from graders.judge import judge_exercise
from graders.outcome import CriterionOutcome, Outcome

from .model_learner import faultless_evidence, tried

TRIALS = 12
TOO_NARROW = "Make the tolerance wider, or correct what the rubric calls right."
CHECK_FAILED = "The check itself failed; no tolerance helps. Report it with the lines above that begin with Traceback."
Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class RubricReport:
    """One lesson's rubric: its file, whether it is the class's own, what is wrong with it, and what is worth knowing.

    Every item is a sentence for the instructor.
    """

    lesson: str
    path: Path
    own: bool
    wrong: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def check_rubric(
    lesson: str,
    own: Path | None,
    engines: Path,
    class_id: str,
    cells: Mapping[str, float],
    progress: Progress = lambda *_: None,
    trials: int = TRIALS,
) -> RubricReport:
    """Check one lesson's rubric; `cells` are the points of the lesson's grade cells by exercise."""
    path = rubric_path(lesson, own)
    is_own = own is not None and path.parent == Path(own)
    try:
        rubric = rubric_for(lesson, own)
    except TimingCourseError as error:
        return RubricReport(lesson, path, is_own, (str(error),))
    wrong = [*_out_of_step(rubric, cells), *_not_met(rubric, own, engines, class_id, progress, trials)]
    notes = [
        f"{exercise.id}: no machine can try it ({_why_not(exercise)}), so its criteria were only read."
        for exercise in rubric.exercises.values()
        if not tried(exercise)
    ]
    notes += [
        f"{name}: the rubric gives {rubric.exercises[name].points:g} points and the lesson's cell "
        f"{most:g}; the gradebook counts in the cell's, in proportion."
        for name, most in cells.items()
        if name in rubric.exercises and rubric.exercises[name].points != most
    ]
    return RubricReport(lesson, path, is_own, tuple(wrong), tuple(notes))


def _out_of_step(rubric: Rubric, cells: Mapping[str, float]) -> list[str]:
    return [
        *(
            f"{name} has a grade cell in the lesson and is not in the rubric: nobody can earn its points."
            for name in cells
            if name not in rubric.exercises
        ),
        *(
            f"{name} is in the rubric and has no grade cell in the lesson: it is not counted."
            for name in rubric.exercises
            if name not in cells
        ),
    ]


def _why_not(exercise: Exercise) -> str:
    return "a person marks it" if exercise.marked_by_person else "it asks for work that no machine knows"


def _not_met(
    rubric: Rubric, own: Path | None, engines: Path, class_id: str, progress: Progress, trials: int
) -> list[str]:
    """A sentence for each criterion that a faultless attempt does not meet on some engine."""
    lost: dict[tuple[str, str], list[tuple[str, CriterionOutcome]]] = {}
    for number in range(trials):
        learner = f"trial {number + 1}"
        progress(f"{rubric.lesson}: engine {number + 1}", number, trials)
        try:
            evidence = faultless_evidence(rubric, learner, class_id, engines)
        except TimingCourseError as error:
            return [f"No faultless try could be made on the engine of '{learner}': {error}"]
        for exercise in filter(tried, rubric.exercises.values()):
            for one in judge_exercise(exercise.id, evidence, engines, own).criteria:
                if one.points < one.max_points:
                    lost.setdefault((exercise.id, one.criterion), []).append((learner, one))
    progress(rubric.lesson, trials, trials)
    return [_sentence(name, found, trials) for (name, _), found in lost.items()]


def _sentence(exercise: str, found: list[tuple[str, CriterionOutcome]], trials: int) -> str:
    learner, one = found[0]
    where = "every engine" if len(found) == trials else f"{len(found)} of {trials} engines"
    part = f"{exercise}, {one.criterion}" if one.criterion != exercise else exercise
    return (
        f"{part} ('{one.title}'): a faultless try loses {one.max_points - one.points:g} of {one.max_points:g} "
        f"points on {where}, such as that of '{learner}', which is told: {one.sentence} "
        + (CHECK_FAILED if one.outcome is Outcome.COULD_NOT_BE_JUDGED else TOO_NARROW)
    )
