"""A person's mark of a written answer: a level for each criterion, their sum, and less for an answer that could hurt.

`marked` is the one place where levels become points: the marking page, the gradebook and the learner's page show what
it gives.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass as plain_dataclass

from pydantic.dataclasses import dataclass

from engine_sim import TimingCourseError
from graders.schema import AS_DECLARED, Number


class MarkingError(TimingCourseError):
    """A mark that cannot be given."""


@plain_dataclass(frozen=True)
class ToMark:
    """One criterion as the person who marks sees it: its highest points, what an answer of each level is like, the
    lowest first, and comments that are often needed."""

    id: str
    title: str
    points: float
    levels: tuple[str, ...]
    comments: tuple[str, ...] = ()

    def points_at(self, level: int) -> float:
        """The points of a level, in equal steps from none to all."""
        return self.points * level / (len(self.levels) - 1)


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class UnsafeLimit:
    """What an answer that could hurt somebody, or break the engine, still earns: nothing under the criterion
    `nothing_for`, `points_off` less, and `most` at most in all."""

    nothing_for: str = ""
    points_off: Number = 0.0
    most: Number | None = None

    def in_words(self, titles: Mapping[str, str]) -> str:
        """The rule as one sentence; `titles` has the criteria by their ids."""
        parts = [
            f"nothing under '{titles[self.nothing_for]}'" if self.nothing_for else "",
            f"{self.points_off:g} point{'' if self.points_off == 1 else 's'} less" if self.points_off else "",
            f"{self.most:g} points at most in all" if self.most is not None else "",
        ]
        return f"An answer that could hurt somebody earns {' and '.join(filter(None, parts))}."


@plain_dataclass(frozen=True)
class Marked:
    """What one criterion earned: `said` is what such an answer is like, `best` what one with all points is like, or
    nothing where it has them."""

    id: str
    title: str
    level: int
    points: float
    max_points: float
    said: str
    best: str = ""


@plain_dataclass(frozen=True)
class MarkedAnswer:
    """A whole mark: the criteria, the points that count, their sum without the limit, and the limit in words where it
    was used."""

    criteria: tuple[Marked, ...]
    points: float
    sum: float
    unsafe: str = ""


def marked(
    to_mark: Sequence[ToMark], levels: Mapping[str, int], limit: UnsafeLimit | None = None, unsafe: bool = False
) -> MarkedAnswer:
    """The mark that these levels make, by criterion. Raises MarkingError where one is missing or does not exist."""
    if unsafe and limit is None:
        raise MarkingError(
            "The rubric of this exercise has no limit for unsafe answers: mark it by its criteria alone."
        )
    nothing_for = limit.nothing_for if limit and unsafe else ""
    criteria = tuple(_marked(one, 0 if one.id == nothing_for else levels.get(one.id)) for one in to_mark)
    total = sum(one.points for one in criteria)
    if limit is None or not unsafe:
        return MarkedAnswer(criteria, total, total)
    points = max(total - limit.points_off, 0.0)
    points = points if limit.most is None else min(points, limit.most)
    return MarkedAnswer(criteria, points, total, limit.in_words({one.id: one.title for one in to_mark}))


def _marked(one: ToMark, level: int | None) -> Marked:
    if level is None or level not in range(len(one.levels)):
        raise MarkingError(f"'{one.title}' has no level yet: choose one of 0 to {len(one.levels) - 1}.")
    best = "" if level == len(one.levels) - 1 else one.levels[-1]
    return Marked(
        id=one.id,
        title=one.title,
        level=level,
        points=one.points_at(level),
        max_points=one.points,
        said=one.levels[level],
        best=best,
    )
