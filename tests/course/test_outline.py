"""Outline, lesson and rubric say the same: ids, order, points, minutes, and objectives that are taught and assessed."""

import json
import re
import tomllib

import pytest

from course import OUTLINE, SOURCE
from course.authoring import minutes
from course.authoring.edition import lessons, optional_lessons
from course.jupyter.plain_page.lesson_list import label_of
from course.widgets.shared.front_end import WIDGETS
from graders.exercises.loader import load_rubric
from tests.graders.instrument import sentences_of, tables_in

COUNTED_FROM = ""
LESSONS = tomllib.loads(OUTLINE.read_text(encoding="utf-8"))["lessons"]


def cells_of(lesson: str) -> list[dict]:
    """The cells of a lesson's source notebook."""
    return json.loads((SOURCE / lesson / f"{lesson}.ipynb").read_text(encoding="utf-8"))["cells"]


def marks_of(lesson: str) -> list[dict]:
    """nbgrader's marks of a lesson's grade cells, in order."""
    found = [cell["metadata"].get("nbgrader", {}) for cell in cells_of(lesson)]
    return [marks for marks in found if marks.get("grade")]


def test_every_lesson_is_in_the_outline():
    """The outline names every lesson that has a source, and gives them their order; ids never change."""
    have = {folder.name for folder in SOURCE.glob("*") if (folder / f"{folder.name}.ipynb").is_file()}
    assert [lesson["id"] for lesson in LESSONS] == lessons() and set(lessons()) == have


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda lesson: lesson["id"])
def test_exercises_and_points_agree(lesson):
    """Outline, rubric and grade cells have the same exercises, in one order, with the same points."""
    rubric, marks = load_rubric(lesson["id"]), marks_of(lesson["id"])
    assert [mark["grade_id"] for mark in marks] == lesson["exercises"]
    assert {mark["grade_id"]: mark["points"] for mark in marks} == {
        name: exercise.points for name, exercise in rubric.exercises.items()
    }
    assert rubric.title == lesson["title"]


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda lesson: lesson["id"])
def test_objectives_are_taught_and_assessed(lesson):
    """The lesson opens with its minutes and every objective; each is assessed, and each exercise serves one."""
    opening = "".join(cells_of(lesson["id"])[0]["source"])
    assert f"{lesson['minutes']} minutes" in opening and lesson["title"] in opening
    assert all(text in opening for text in lesson["objectives"].values())
    assessed = {exercise.objective for exercise in load_rubric(lesson["id"]).exercises.values()}
    assert assessed == set(lesson["objectives"])


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda lesson: lesson["id"])
def test_every_objective_is_assessed_by_points_of_knowledge(lesson):
    """For every objective there is a criterion with points that a wrong answer loses: a prediction is none."""
    assessed = {
        exercise.objective
        for exercise in load_rubric(lesson["id"]).exercises.values()
        if not getattr(exercise, "predicts", "") and any(points > 0 for _, _, points in exercise.parts())
    }
    assert set(lesson["objectives"]) <= assessed


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda lesson: lesson["id"])
def test_feedback_points_at_headings_that_exist(lesson):
    """Every "Read '...'" in the rubric names a heading of the lesson."""
    headings = {
        line.lstrip("#").strip()
        for cell in cells_of(lesson["id"])
        if cell["cell_type"] == "markdown"
        for line in "".join(cell["source"]).splitlines()
        if line.startswith("#")
    }
    rubric = load_rubric(lesson["id"])
    sentences = [
        sentence
        for exercise in rubric.exercises.values()
        for sentence in (
            *sentences_of(exercise),
            *(item.sentence for item in tables_in(exercise, "choices", "wrong")),
            *(said for criterion in tables_in(exercise, "criteria") for said in criterion.sentences.values()),
        )
    ]
    named = {part.split("'")[0] for sentence in sentences for part in sentence.split("Read '")[1:]}
    assert named and named <= headings


@pytest.mark.parametrize("lesson", LESSONS, ids=lambda lesson: lesson["id"])
def test_lessons_are_called_by_their_place(lesson):
    """Each says which of how many it is, and names no lesson by its id."""
    texts = ["".join(cell["source"]) for cell in cells_of(lesson["id"]) if cell["cell_type"] == "markdown"]
    assert f"*{label_of(lesson['id'])} · about {lesson['minutes']} minutes*" in texts[0]
    assert not re.search(r"\bl\d\d\b", "\n".join(texts))


def test_lessons_call_the_button_that_judges_by_its_name():
    """Wherever a lesson sends its learner to the judge's button, it says what stands on it."""
    verdict = (WIDGETS / "bench" / "verdict.js").read_text(encoding="utf-8")
    button = re.search(r'pushButton\("(.+)", .+look_over', verdict)
    texts = {lesson: "".join("".join(cell["source"]) for cell in cells_of(lesson)) for lesson in lessons()}
    named = [lesson[:3] for lesson, text in texts.items() if button and f"ress **{button[1]}**" in text]
    assert named == ["l00", "l01", "l02", "l03", "l04", "l05", "l06", "l11", "l09"]


@pytest.mark.parametrize(
    "lesson", [one for one in LESSONS if one["id"] >= COUNTED_FROM], ids=lambda lesson: lesson["id"]
)
def test_a_lesson_takes_the_minutes_that_it_promises(lesson, record_property):
    """Words at the pace of careful reading, questions, acts and engine time at the benches come to the outline's
    minutes, within five; `python -m course.authoring.build minutes` writes them."""
    counted = minutes.minutes_of(lesson["id"])
    record_property("minutes", counted)
    assert abs(counted - lesson["minutes"]) <= minutes.ROUND_TO_MIN


def test_more_words_take_more_minutes(monkeypatch):
    """The count sees a lesson that has grown: as many minutes more as its new words take."""
    before = minutes.reading_minutes("l05_road_check")
    text = minutes.text_of("l05_road_check")
    monkeypatch.setattr(minutes, "text_of", lambda lesson: text + " word" * 900)
    assert minutes.reading_minutes("l05_road_check") - before == pytest.approx(900 / minutes.WORDS_A_MINUTE)


def test_the_counted_minutes_are_written_into_the_outline(monkeypatch, tmp_path):
    """Each lesson gets its own count, and nothing else of the outline changes."""
    outline = tmp_path / "outline.toml"
    outline.write_text(OUTLINE.read_text(encoding="utf-8"), encoding="utf-8")
    counts = {lesson["id"]: 100 + place for place, lesson in enumerate(LESSONS)}
    monkeypatch.setattr(minutes, "OUTLINE", outline)
    monkeypatch.setattr(minutes, "minutes_of", counts.__getitem__)
    minutes.write()
    written = tomllib.loads(outline.read_text(encoding="utf-8"))["lessons"]
    assert written == [{**lesson, "minutes": counts[lesson["id"]]} for lesson in LESSONS]


def test_lessons_that_may_be_left_out_say_when():
    """The few lessons that somebody with one vehicle of their own may leave out say when, in a sentence; the main job,
    the dangers and the road check are none of them."""
    optional = optional_lessons()
    assert [name[:3] for name in optional] == ["l06", "l07", "l11", "l09"]
    assert all(text.startswith("For one vehicle of your own you may leave it out") for text in optional.values())
    assert all(text.endswith(".") for text in optional.values())
