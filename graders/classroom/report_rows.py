"""The records that the report is made of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from graders.nbgrader_bridge.lateness import Lateness
from graders.submissions.roster import Listed

from .report_pictures import Way
from .run import NEEDS_PERSON, WAITING, kept_in_words

GRADED, MISSING, NOT_JUDGEABLE, UNJUDGED = "graded", "missing", "could not be judged", WAITING
SEPARATES = 0.2  # common practice with tests, no source: below it an item says little about who can do the rest


@dataclass(frozen=True)
class Row:
    """One learner's line of one lesson. `points` is None where there is nothing that could have earned any, which a
    real zero is not; `exercises` holds the points by exercise, None where they are not settled. `kept_from` names
    another edition of the course whose verdict stands; `page` is the address of the learner's page from the report."""

    learner: Listed
    lesson: str
    status: str
    points: float | None
    max_points: float
    late: Lateness
    why: str
    exercises: Mapping[str, float | None] = field(default_factory=dict)
    criteria: tuple[dict, ...] = ()
    by_present_rules: bool = True
    kept_from: str = ""
    page: str = ""

    @property
    def share(self) -> float | None:
        """The share of the lesson's points that count."""
        return self.points / self.max_points if self.points is not None and self.max_points else None

    @property
    def is_missing(self) -> bool:
        """Whether nothing was handed in."""
        return self.status == MISSING

    @property
    def waits(self) -> bool:
        """Whether a person has to look yet."""
        return self.status in (NEEDS_PERSON, NOT_JUDGEABLE)


@dataclass(frozen=True)
class Share:
    """How much of something the class earned: from 0 to 1 of its points, by how many learners, and each one's share."""

    title: str
    share: float
    learners: int
    each: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Item:
    """A criterion: what the class earned of it, and how it goes with the rest of the lesson (from -1 to 1, or None)."""

    title: str
    share: float
    learners: int
    told_apart: float | None = None

    @property
    def in_words(self) -> str:
        """What the correlation says."""
        if self.told_apart is None:
            return "too few learners to say"
        if self.told_apart < 0:
            return "missed by those who do the rest well: look at the question"
        return "missed by those who miss the rest" if self.told_apart >= SEPARATES else "missed by all alike"


@dataclass(frozen=True)
class Belief:
    """A misconception and who showed it."""

    sentence: str
    learners: tuple[str, ...]


@dataclass(frozen=True)
class Picture:
    """Everybody's way in one exercise, in both themes and in words."""

    title: str
    light: str
    dark: str
    words: str
    ways: tuple[Way, ...]


@dataclass(frozen=True)
class LessonReport:
    """The report on one lesson."""

    lesson: str
    title: str
    exercises: Mapping[str, tuple[str, float]]  # id -> title, points
    rows: tuple[Row, ...]
    objectives: tuple[Share, ...] = ()
    beliefs: tuple[Belief, ...] = ()
    hard: tuple[Item, ...] = ()
    pictures: tuple[Picture, ...] = ()

    def count(self, status: str) -> int:
        """How many learners have this status."""
        return sum(row.status == status for row in self.rows)

    @property
    def kept(self) -> list[str]:
        """A sentence for each other edition of the course whose verdicts stand."""
        return kept_in_words(row.kept_from for row in self.rows)

    @property
    def judged(self) -> list[Row]:
        """The rows that have points."""
        return [row for row in self.rows if row.points is not None]

    @property
    def share(self) -> float | None:
        """What those who were judged earned on average, from 0 to 1."""
        shares = [row.share for row in self.judged if row.share is not None]
        return sum(shares) / len(shares) if shares else None

    @property
    def max_points(self) -> float:
        """The lesson's points."""
        return sum(points for _, points in self.exercises.values())

    @property
    def short(self) -> str:
        """The lesson's number, as in l04, or its id where it has none."""
        return self.lesson.split("_")[0]

    @property
    def untouched(self) -> bool:
        """Whether nobody handed anything in."""
        return all(row.status == MISSING for row in self.rows)
