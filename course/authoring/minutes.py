"""How long a lesson takes, counted: its words, its questions, and acts and engine time of a faultless learner at its
benches. `python -m course.authoring.build minutes` writes the counts into the outline."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

from course import ENGINES, OUTLINE
from engine_sim import Evidence
from graders.exercises.kinds.exercise import Exercise
from graders.exercises.loader import Rubric, load_rubric
from graders.model_answers.model_learner import faultless_evidence

from .glossary_links import text_of

WORDS_A_MINUTE = 180.0  # read with care, by somebody to whom some of the words are new; our own figure
ACT_S = 8.0  # to find a control, use it and look at what it did; our own figure, as all below
WRITING_MIN = 1.5  # for each point of a text in one's own words
LOOK_MIN = 1.0  # to choose an inspection and to understand what it found
JUMPS = ("wait_until_warm",)  # acts after which the page leaves engine time out
ROUND_TO_MIN = 5
LEARNER = "ada"


def reading_minutes(lesson: str) -> float:
    """Minutes to read a lesson's text, its questions and what can be chosen."""
    texts = [text_of(lesson)]
    for exercise in load_rubric(lesson).exercises.values():
        texts += [exercise.question, *exercise.texts()]
    return len(re.findall(r"[^\W_]+(?:['’-][^\W_]+)*", "\n".join(texts))) / WORDS_A_MINUTE


def working_minutes(rubric: Rubric) -> float:
    """Minutes that a faultless learner works at a lesson's exercises."""
    evidence = faultless_evidence(rubric, LEARNER, "", ENGINES)
    return sum(_exercise_minutes(exercise, evidence) for exercise in rubric.exercises.values())


def _exercise_minutes(exercise: Exercise, evidence: Evidence) -> float:
    events = evidence.of_exercise(exercise.id)
    if exercise.at_the_bench:
        waited_s = sum(
            after.time_s - before.time_s for before, after in pairwise(events) if before.control not in JUMPS
        )
        return (waited_s + ACT_S * len(events)) / 60.0
    if exercise.marked_by_person:
        return WRITING_MIN * float(exercise.points)
    looks = sum(event.control == "inspect" for event in events)
    return exercise.minutes + LOOK_MIN * looks


def minutes_of(lesson: str) -> int:
    """Minutes of a lesson, rounded up to the next five."""
    found = reading_minutes(lesson) + working_minutes(load_rubric(lesson))
    return int(-(-found // ROUND_TO_MIN) * ROUND_TO_MIN)


def write() -> Path:
    """Write the counted minutes into the outline. The lessons' openings give the same: change them with it."""
    outline = OUTLINE.read_text(encoding="utf-8")
    for lesson in re.findall(r'^id = "(\w+)"$', outline, re.MULTILINE):
        mine = rf'(id = "{lesson}"\ntitle = "[^"]*"\nminutes = )\d+'
        outline = re.sub(mine, rf"\g<1>{minutes_of(lesson)}", outline)
    OUTLINE.write_text(outline, encoding="utf-8", newline="\n")
    return OUTLINE
