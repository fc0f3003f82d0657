"""What the report's figures say, on rows made here: how well a criterion tells apart, what comes back, what is next."""

from __future__ import annotations

import pytest

from graders.classroom.report_items import (
    FEWEST_TOLD_APART,
    beliefs_across,
    hard_items,
    to_talk_about,
)
from graders.classroom.report_rows import GRADED, MISSING, Belief, Item, LessonReport, Row, Share
from graders.nbgrader_bridge.lateness import IN_TIME
from graders.submissions.roster import Listed


def row(name, points=6.0, status=GRADED, **criteria):
    """A learner's row of ten points, with criteria of two points each."""
    found = tuple(
        {"exercise": "e", "title": title, "outcome": "met", "points": each, "max_points": 2.0, "misconception": ""}
        for title, each in criteria.items()
    )
    learner = Listed(name, name.capitalize(), "Berg")
    return Row(learner, "l01_one", status, points, max_points=10.0, late=IN_TIME, why="", criteria=found)


def lesson(name="l01_one", rows=(), **more):
    """A lesson's report of these rows."""
    return LessonReport(lesson=name, title=f"Title of {name}", exercises={"e": ("E", 10.0)}, rows=tuple(rows), **more)


def of_class(hard, easy, count=FEWEST_TOLD_APART):
    """A class whose learners earn these points by their number, in two criteria."""
    return [row(f"learner{number}", hard=hard(number), easy=easy(number)) for number in range(count)]


@pytest.mark.parametrize(
    ("hard", "words"),
    [
        (lambda number: 2.0 * (number > 4), "missed by those who miss the rest"),
        (lambda number: 2.0 * (number < 3), "missed by those who do the rest well: look at the question"),
        (lambda number: 2.0 * (number in (1, 6)), "missed by all alike"),
    ],
)
def test_a_criterion_says_who_misses_it(hard, words):
    """Its share goes with that of the rest of the lesson, against it, or with neither."""
    (item, _) = hard_items(of_class(hard, lambda number: 2.0 * number / 7))
    assert item.title == "hard" and item.in_words == words and -1.0 <= item.told_apart <= 1.0


def test_the_correlation_is_that_of_the_rest():
    """By hand: 0, 0, 0, 0, 1, 1, 1, 1 against 0 to 7 sevenths give 0.8729; the item itself is not in the rest."""
    (item, _) = hard_items(of_class(lambda number: 2.0 * (number > 3), lambda number: 2.0 * number / 7))
    assert item.told_apart == pytest.approx(0.8729, abs=1e-4)


def test_few_learners_or_equal_ones_tell_nothing_apart():
    """With seven, or where the rest is the same for all, there is no number."""
    few = hard_items(of_class(lambda number: 2.0 * (number > 3), lambda number: 2.0 * number / 7, count=7))
    alike = hard_items(of_class(lambda number: 2.0 * (number > 3), lambda _: 2.0))
    assert {one.told_apart for one in (*few, *alike)} == {None}
    assert few[0].in_words == "too few learners to say"


def test_beliefs_of_several_lessons_come_together():
    """The same sentence in two lessons is one line with everybody who showed it; that of one lesson is not there."""
    first = lesson(beliefs=(Belief("The peak is the setting.", ("ada", "bo")), Belief("Alone.", ("ada",))))
    second = lesson("l02_two", beliefs=(Belief("The peak is the setting.", ("bo", "cy")),))
    ((belief, where),) = beliefs_across([first, second])
    assert belief.learners == ("ada", "bo", "cy") and where == ("l01", "l02")


def test_what_to_talk_about_next_comes_from_the_latest_lesson_with_work():
    """Beliefs of a fifth of the class, low objectives, hard criteria, weak and missing learners; the rest stays out."""
    rows = [*(row(f"learner{number}") for number in range(8)), row("weak", 2.0), row("away", None, MISSING)]
    latest = lesson(
        "l02_two",
        rows,
        objectives=(Share("set the timing", 0.4, 9), Share("read a gauge", 0.9, 9)),
        beliefs=(Belief("The peak is the setting.", ("learner1", "weak")), Belief("Rare.", ("learner1",))),
        hard=(Item("Backed off", 0.3, 9, 0.5), Item("Fine", 0.7, 9)),
    )
    earlier = lesson(rows=[row("weak")], beliefs=(Belief("The peak is the setting.", ("weak",)),))
    untouched = lesson("l03_three", [row("away", None, MISSING)])
    found, said = to_talk_about([earlier, latest, untouched])
    assert found is latest
    assert said == [
        "The peak is the setting: 2 of 9 learners. It was there in an earlier lesson, too.",
        "Objective with 40 % earned: set the timing.",
        "Hardest: Backed off (30 % earned, missed by those who miss the rest).",
        "Under half of the points: Weak Berg.",
        "Nothing handed in: Away Berg.",
    ]
    assert to_talk_about([untouched]) == (None, [])
