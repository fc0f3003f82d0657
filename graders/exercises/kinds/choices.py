"""One answer to choose, or several to tick."""

from __future__ import annotations

from graders.outcome import CriterionOutcome
from graders.schema import Choice, ExerciseRubric

from .common import AnswerError, Kind, need, need_different, need_sentences, outcome_of, parts_in, remark, whole

LEFT_OUT = "Something that belongs here was left out"


def check_choice(exercise: ExerciseRubric) -> None:
    """Raise RubricError unless exactly one choice is right."""
    need_different((choice.id for choice in exercise.choices), "choices")
    need(sum(choice.right for choice in exercise.choices) == 1, "choices needs exactly one choice with right = true")


def read_choice(exercise: ExerciseRubric, value, _unit: str | None) -> Choice:
    """The choice that was taken."""
    for choice in exercise.choices:
        if choice.id == value:
            return choice
    raise AnswerError(f"The answer '{str(value)[:40]}' is none of the choices of this exercise.")


def judge_choice(exercise: ExerciseRubric, choice: Choice, _card) -> list[CriterionOutcome]:
    """All or nothing, with the sentence of the choice that was taken."""
    return [outcome_of(exercise, float(choice.right), choice.sentence, choice.misconception)]


def check_several(exercise: ExerciseRubric) -> None:
    """Raise RubricError unless there are at least one right and one wrong choice, and the sentences."""
    need_different((choice.id for choice in exercise.choices), "choices")
    kinds = {choice.right for choice in exercise.choices}
    need(kinds == {True, False}, "choices needs at least one with right = true and one with right = false")
    need_sentences(exercise.sentences, ("right", "wrong"))


def read_several(exercise: ExerciseRubric, value, _unit: str | None) -> frozenset[str]:
    """The ids that were ticked: at least one, each once."""
    ticked = parts_in(value, list, "A list of choices")
    known = [choice.id for choice in exercise.choices]
    for name in ticked:
        if name not in known:
            raise AnswerError(f"'{str(name)[:40]}' is none of the choices of this exercise.")
    if not ticked or len(set(ticked)) != len(ticked):
        raise AnswerError("At least one tick was wanted, and each choice once: tick all that apply.")
    return frozenset(ticked)


def judge_several(exercise: ExerciseRubric, ticked: frozenset[str], _card) -> list[CriterionOutcome]:
    """Full points for exactly the right ones; where `partial` is true, else a share: right ticks less wrong ticks, of
    all that are right, never below nothing. Every choice that was judged wrongly has its remark."""
    missed = [choice for choice in exercise.choices if choice.right != (choice.id in ticked)]
    if not missed:
        return [outcome_of(exercise, 1.0, exercise.sentences["right"])]
    right = [choice.id for choice in exercise.choices if choice.right]
    share = max(2 * len(ticked & set(right)) - len(ticked), 0) / len(right) if exercise.partial else 0.0
    remarks = [remark(exercise, choice.id, _about(choice), choice.sentence, choice.misconception) for choice in missed]
    return [outcome_of(exercise, share, exercise.sentences["wrong"]), *remarks]


def _about(choice: Choice) -> str:
    # What was left out is not named: that would be the answer.
    return LEFT_OUT if choice.right else f"You ticked: {choice.text}"


CHOICE = Kind(frozenset({"choices", "shuffle"}), check_choice, read_choice, judge_choice, whole)
SEVERAL = Kind(
    frozenset({"choices", "shuffle", "partial", "sentences"}), check_several, read_several, judge_several, whole
)
