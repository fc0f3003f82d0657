"""A list of answers to choose from or to tick: what several kinds of exercises share."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import replace

from pydantic import StrictBool
from pydantic.dataclasses import dataclass

from graders.exercises.filling import Drawn, filled_text
from graders.schema import AS_DECLARED

from .common import AnswerError, in_short, mixed, need

Choices = tuple["Choice", ...]


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class Choice:
    """One answer to choose or tick. `sentence` is the feedback, `misconception` the belief behind it.

    Which one is right depends on the learner's engine where a choice names the `pattern` of a needle or the `fault`
    that it stands for ("none" for a sound engine); its sentence is then said where it is wrong.

    In an exercise with several right answers, `sentence` is for those who judged this one wrongly: ticked a wrong
    one, or left a right one out; the sentence of a right one is a hint, then, and does not say which one it is.
    """

    id: str
    text: str
    sentence: str
    right: StrictBool = False
    misconception: str | None = None
    pattern: str = ""
    fault: str = ""


def read_choice(choices: Sequence[Choice], value: object) -> Choice:
    """The choice that was taken. Raises AnswerError where it is none of these."""
    for choice in choices:
        if choice.id == value:
            return choice
    raise AnswerError(f"The answer '{in_short(value)}' is none of the choices of this exercise.")


def right_choice(choices: Sequence[Choice]) -> Choice:
    """The first choice that is right in a learner's own form of an exercise."""
    return next(one for one in choices if one.right)


def right_texts(choices: Sequence[Choice]) -> str:
    """The texts of all that are right, for the instructor."""
    return "; ".join(one.text for one in choices if one.right)


def texts_of(choices: Sequence[Choice]) -> list[str]:
    """What a learner reads in a list of choices."""
    return [one.text for one in choices]


def filled_choices(choices: Sequence[Choice], numbers: Mapping[str, Drawn]) -> Choices:
    """The choices with the learner's numbers in text and sentence."""
    return tuple(
        replace(
            one,
            text=filled_text(one.text, numbers, f"choices.{one.id}.text"),
            sentence=filled_text(one.sentence, numbers, f"choices.{one.id}.sentence"),
        )
        for one in choices
    )


def shuffled_choices(choices: Choices, dice: random.Random, wanted: bool) -> Choices:
    """The choices in a learner's own order, where that is wanted."""
    return mixed(choices, dice) if wanted else choices


# ---- where the learner's engine decides what is right ----------------------------------------------------------------


def need_no_right(choices: Sequence[Choice]) -> None:
    """Raise RubricError where a choice says that it is right: the learner's engine decides that."""
    marked = [choice.id for choice in choices if choice.right]
    need(not marked, f"choices.{marked[0] if marked else ''}.right: the learner's engine decides that; take it out")


def still_wrong(choices: Sequence[Choice]) -> list[Choice]:
    """The choices without the one that a learner's engine makes right."""
    return [choice for choice in choices if not choice.right]
