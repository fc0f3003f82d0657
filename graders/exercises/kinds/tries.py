"""What a question earns when it is answered more than once.

Every answer is kept, judged and explained. A share stands for the first, second … different answer: it earns this
share of what the answers before it left open, and answers beyond the last share earn nothing more. So going through
all choices does not pay, reading again does, and no answer takes points away. The same answer given again is no
further one. Where the parts of an answer have nothing to do with each other, each is counted by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from graders.outcome import CriterionOutcome, ExerciseResult, Outcome

FIRST_THEN_HALF = (1.0, 0.5)  # where there are few answers to choose from
TWICE_THEN_HALF = (1.0, 1.0, 0.5)  # for numbers, where a slip of sign or unit is soon made
SAID_BEFORE = {
    (): "",
    FIRST_THEN_HALF: (
        "Your first answer counts in full. A second one earns half of the points that are still open. Further answers "
        "are kept and explained, but earn nothing more."
    ),
    TWICE_THEN_HALF: (
        "Your first two answers count in full. A third one earns half of the points that are still open. Further "
        "answers are kept and explained, but earn nothing more."
    ),
}
COUNTED = "How your answers were counted"
HAIR = 0.005  # of a point: sums of rounded points differ by less


def best_of(judged: Iterable[ExerciseResult]) -> ExerciseResult:
    """The result with the most points, of equal ones the latest."""
    return max(reversed(list(judged)), key=lambda result: result.points)


def points_of_tries(shares: Sequence[float], tries: Iterable[tuple[Any, float]]) -> float:
    """What several tries earn together, each given as the answer and the points that it would earn by itself."""
    points = 0.0
    known: list[Any] = []
    for answer, by_itself in tries:
        if answer in known:
            continue
        share = shares[len(known)] if len(known) < len(shares) else 0.0
        points += share * max(by_itself - points, 0.0)
        known.append(answer)
    return round(points, 2)


def earned_as_a_whole(exercise: Any, tries: Sequence[tuple[Any, ExerciseResult]]) -> ExerciseResult:
    """The best try, with the points that the tries earned together; `tries` are those that count."""
    best = best_of(result for _, result in tries)
    points = points_of_tries(exercise.answers_count, [(answer, result.points) for answer, result in tries])
    if points >= best.points - HAIR:
        return best
    scaled = [replace(one, points=round(one.points * points / best.points, 2)) for one in best.criteria]
    return replace(best, criteria=(*scaled, _why(exercise)))


def earned_by_part(
    exercise: Any, names: Iterable[str], tries: Sequence[tuple[Mapping[str, Any], ExerciseResult]]
) -> ExerciseResult:
    """Every part as its own best try has it, with the points that this part's tries earned together. An answer is a
    table with an entry for each of the `names`, in the order of the criteria; an empty entry is no try at that part."""
    criteria, less = [], False
    for place, name in enumerate(names):
        column = [(answer[name], result.criteria[place]) for answer, result in tries]
        given = [(entry, outcome) for entry, outcome in column if entry is not None]
        best = max(reversed([outcome for _, outcome in given or column]), key=lambda outcome: outcome.points)
        points = points_of_tries(exercise.answers_count, [(entry, outcome.points) for entry, outcome in given])
        less = less or points < best.points - HAIR
        criteria.append(replace(best, points=points))
    return exercise.result([*criteria, *([_why(exercise)] if less else [])])


def _why(exercise: Any) -> CriterionOutcome:
    """The remark that says why less was earned than the right answer is worth."""
    return CriterionOutcome(
        criterion=f"{exercise.id}.counted",
        title=COUNTED,
        outcome=Outcome.NOT_YET,
        points=0.0,
        max_points=0.0,
        sentence=exercise.said_before,
    )
