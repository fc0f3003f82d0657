"""What the figures of a class say: what was earned of each objective and criterion, how well a criterion tells learners
apart, which beliefs were shown, and what to talk about next. Pure functions over the rows of the report."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from graders.exercises.loader import Rubric

from .report_rows import NOT_JUDGEABLE, Belief, Item, LessonReport, Row, Share

HARD_ITEMS = 8
FEWEST_TOLD_APART = 8  # learners; with fewer, one of them decides what a correlation says
LOW = 0.6  # the share of points below which something is worth the class's time
HALF = 0.5
MOST_TO_TALK_ABOUT = 3
BELIEVED_BY = 0.2  # the share of a class that makes a belief the class's own matter


def mean(shares: Sequence[float]) -> float:
    """The arithmetic mean."""
    return sum(shares) / len(shares)


def earned_of(row: Row, names: Iterable[str], most: Mapping[str, float]) -> float | None:
    """The share that one learner earned of the points of these exercises; without those that are not settled."""
    earned = {name: points for name in names if (points := row.exercises.get(name)) is not None}
    whole = sum(most[name] for name in earned)
    return sum(earned.values()) / whole if whole else None


def objective_exercises(rubric: Rubric, cells: Iterable[str]) -> dict[str, list[str]]:
    """The exercises that serve each objective, in the rubric's order."""
    found: dict[str, list[str]] = {one.objective: [] for one in rubric.exercises.values()}
    for name in cells:
        if name in rubric.exercises:
            found[rubric.exercises[name].objective].append(name)
    return {objective: names for objective, names in found.items() if names}


def objectives(
    rubric: Rubric, words: Mapping[str, str], cells: Mapping[str, float], rows: Sequence[Row]
) -> list[Share]:
    """The class's share of the points of each objective, and each learner's."""
    found = []
    for objective, names in objective_exercises(rubric, cells).items():
        each = {row.learner.id: share for row in rows if (share := earned_of(row, names, cells)) is not None}
        if each:
            found.append(Share(words.get(objective, objective), mean(list(each.values())), len(each), each))
    return found


def beliefs(rubric: Rubric, rows: Sequence[Row]) -> list[Belief]:
    """Each misconception that somebody showed, the most frequent first."""
    showed: dict[str, list[str]] = {}
    for row in rows:
        for name in dict.fromkeys(one["misconception"] for one in row.criteria if one["misconception"]):
            showed.setdefault(name, []).append(row.learner.id)
    ranked = sorted(showed.items(), key=lambda item: (-len(item[1]), item[0]))
    known = rubric.misconceptions
    return [Belief(known[name].sentence if name in known else name, tuple(who)) for name, who in ranked]


def hard_items(rows: Sequence[Row]) -> list[Item]:
    """The criteria of which the class earned least, the hardest first, each with how well it tells learners apart."""
    scores: dict[tuple[str, str], dict[str, tuple[float, float]]] = {}
    for row in rows:
        for one in row.criteria:
            if one["max_points"] and one["outcome"] != NOT_JUDGEABLE:
                item = scores.setdefault((one["exercise"], one["title"]), {})
                item[row.learner.id] = (one["points"], one["max_points"])
    totals: dict[str, tuple[float, float]] = {}
    for item in scores.values():
        for learner, (points, most) in item.items():
            before = totals.get(learner, (0.0, 0.0))
            totals[learner] = (before[0] + points, before[1] + most)
    found = [
        Item(title, mean([points / most for points, most in item.values()]), len(item), told_apart(item, totals))
        for (_, title), item in scores.items()
    ]
    return sorted((one for one in found if one.share < 1.0), key=lambda one: (one.share, one.title))[:HARD_ITEMS]


def told_apart(item: Mapping[str, tuple[float, float]], totals: Mapping[str, tuple[float, float]]) -> float | None:
    """How an item goes with the rest of the lesson: the correlation, from -1 to 1, of its share with the share of all
    other criteria (corrected item-total correlation). None for few learners, or where either is the same for all."""
    pairs = []
    for learner, (points, most) in item.items():
        rest_points, rest_most = totals[learner][0] - points, totals[learner][1] - most
        if rest_most > 0:
            pairs.append((points / most, rest_points / rest_most))
    if len(pairs) < FEWEST_TOLD_APART:
        return None
    mean_x, mean_y = (mean(list(side)) for side in zip(*pairs, strict=True))
    covered = sum((x - mean_x) * (y - mean_y) for x, y in pairs)
    spread_x, spread_y = sum((x - mean_x) ** 2 for x, _ in pairs), sum((y - mean_y) ** 2 for _, y in pairs)
    return covered / math.sqrt(spread_x * spread_y) if min(spread_x, spread_y) > 1e-12 else None


def beliefs_across(lessons: Sequence[LessonReport]) -> list[tuple[Belief, tuple[str, ...]]]:
    """Each misconception with everybody who showed it in any lesson, and the lessons, the most frequent first; those of
    several lessons alone, where a learner may have kept it."""
    who: dict[str, dict[str, None]] = {}
    where: dict[str, dict[str, None]] = {}
    for lesson in lessons:
        for one in lesson.beliefs:
            who.setdefault(one.sentence, {}).update(dict.fromkeys(one.learners))
            where.setdefault(one.sentence, {})[lesson.short] = None
    found = [(Belief(one, tuple(sorted(who[one]))), tuple(where[one])) for one in who if len(where[one]) > 1]
    return sorted(found, key=lambda pair: (-len(pair[0].learners), pair[0].sentence))


def to_talk_about(lessons: Sequence[LessonReport]) -> tuple[LessonReport | None, list[str]]:
    """The latest lesson of which something was judged, and what it and the lessons before say for the next meeting:
    beliefs of many, objectives that were earned least, hard criteria, and whom to see."""
    done = [lesson for lesson in lessons if lesson.judged]
    if not done:
        return None, []
    lesson = done[-1]
    names = {row.learner.id: row.learner.shown for row in lesson.rows}
    judged = len(lesson.judged)
    many = max(2, math.ceil(BELIEVED_BY * judged))
    before = {one.sentence for earlier in done[:-1] for one in earlier.beliefs}
    said = []
    for one in [belief for belief in lesson.beliefs if len(belief.learners) >= many][:MOST_TO_TALK_ABOUT]:
        again = " It was there in an earlier lesson, too." if one.sentence in before else ""
        said.append(f"{one.sentence.rstrip('.')}: {len(one.learners)} of {judged} learners.{again}")
    low = sorted((one for one in lesson.objectives if one.share < LOW), key=lambda one: one.share)
    said += [f"Objective with {100 * one.share:.0f} % earned: {one.title.rstrip('.')}." for one in low[:2]]
    hard = [one for one in lesson.hard if one.share < HALF][:2]
    said += [f"Hardest: {one.title} ({100 * one.share:.0f} % earned, {one.in_words})." for one in hard]
    weak = [row.learner.id for row in lesson.judged if row.share is not None and row.share < HALF]
    missing = [row.learner.id for row in lesson.rows if row.is_missing]
    waiting = sum(row.waits for row in lesson.rows)
    if weak:
        said.append(f"Under half of the points: {', '.join(names[one] for one in weak)}.")
    if missing:
        said.append(f"Nothing handed in: {', '.join(names[one] for one in missing)}.")
    if waiting:
        said.append(f"{waiting} hand-in(s) wait for a person, and may gain points yet.")
    return lesson, said
