"""A rubric that an instructor changed: told what is wrong with it, and judged by from then on."""

from __future__ import annotations

import io
import re
import shutil
import tomllib

import pytest
from rich.console import Console

import course
from course.commands import make_class, rubrics
from engine_sim import TimingCourseError
from graders.exercises.loader import FOLDER, RubricError, lessons_with_rubrics, load_rubric, rubric_for, rubric_path
from graders.judge import judge_lesson
from graders.model_answers.check_rubric import check_rubric
from graders.model_answers.model_learner import tried
from tests.scripted_learner import Habits, evidence_by
from tests.submissions.hostile import source_of_one_lesson

LESSON, BENCH = "l04_base_timing", "l04_set_base_timing"
CELLS = {exercise.id: exercise.points for exercise in load_rubric(LESSON).exercises.values()}


@pytest.fixture
def own(tmp_path):
    """A function that puts a changed rubric into a class's own folder and returns the folder."""

    def changed(*changes):
        text = (FOLDER / f"{LESSON}.toml").read_text(encoding="utf-8")
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        (tmp_path / f"{LESSON}.toml").write_text(text, encoding="utf-8")
        return tmp_path

    return changed


def checked(folder, trials=3, cells=CELLS):
    """What is said of the class's own rubric."""
    return check_rubric(LESSON, folder, course.ENGINES, "spring", cells, trials=trials)


def test_the_courses_own_rubric_is_met_by_a_faultless_try():
    """Nothing is wrong with it; what no machine can try is said."""
    report = checked(None)
    assert (report.wrong, report.own) == ((), False)
    assert len(report.notes) == 1 and "l04_explain" in report.notes[0] and "a person marks it" in report.notes[0]


def test_a_tolerance_that_is_too_narrow_is_found_with_its_criterion(own):
    """No hand can hit the window: the sentence has criterion, points, how many engines, and what a learner is told."""
    report = checked(own(("drop_rpm = 25.0, fall_inhg = 0.2, retard", "drop_rpm = -50.0, fall_inhg = 0.2, retard")))
    (sentence,) = (one for one in report.wrong if "setting" in one)
    for words in (f"{BENCH}, setting", "faultless try loses", "of 3 points", "every engine", "wider"):
        assert words in sentence
    assert report.own and len(report.wrong) == 1


def test_every_exercise_but_a_letter_is_tried():
    """What no machine tries is what a person marks, and nothing else; every bench is among what is tried."""
    exercises = [one for lesson in lessons_with_rubrics() for one in load_rubric(lesson).exercises.values()]
    assert {one.kind for one in exercises if not tried(one)} == {"written"}
    assert sum(one.kind == "bench" for one in exercises if tried(one)) == 18


# By lesson: exercise, criterion, field, and a value that nobody can keep.
TOO_NARROW = {
    "l00_before_you_touch": [("l00_first_moves", "readings", "warm_c", 178.0)],
    "l01_why_the_spark_leads": [("l01_three_speeds", "read_middle", "less", 0.0)],
    "l02_what_the_gauges_say": [("l02_turn_and_watch", "both_ways", "steady_rpm", 0.001)],
    "l03_getting_it_to_start": [
        ("l03_static", "timing", "window_deg", 0.001),
        ("l03_will_not_start", "starter", "most", 1.0),
    ],
    "l05_road_check": [("l05_three_roads", "roads", "roads", 4), ("l05_two_fuels", "steps", "step_deg", 0.1)],
    "l06_advance_curve": [
        ("l06_what_pings_where", "base", "window_deg", -1.0),
        ("l06_choose_springs", "parts", "percent", -1.0),
    ],
    "l07_altitude_weather_fuel": [
        ("l07_at_home", "limit", "window_deg", -9.0),
        ("l07_at_the_harbour", "reading", "coolant_c", 178.0),
    ],
    "l09_answer_the_letter": [("l09_do_the_job", "setting", "drop_rpm", -50.0)],
}


def tightened(text: str, exercise: str, criterion: str, field: str, value: float) -> str:
    """A rubric's text in which one tolerance has another value."""
    place = text.index(f'id = "{criterion}"\n', text.index(f'id = "{exercise}"\n'))
    changed, count = re.subn(rf"\b{field} = [\d.]+", f"{field} = {value}", text[place:], count=1)
    assert count == 1
    return text[:place] + changed


@pytest.mark.parametrize("lesson", TOO_NARROW)
def test_a_tolerance_that_nobody_can_keep_is_found_at_every_bench(tmp_path, lesson):
    """Tightened beyond reach, each is named with its exercise and criterion, and nothing else is called wrong."""
    text = (FOLDER / f"{lesson}.toml").read_text(encoding="utf-8")
    for change in TOO_NARROW[lesson]:
        text = tightened(text, *change)
    (tmp_path / f"{lesson}.toml").write_text(text, encoding="utf-8")
    cells = {name: one.points for name, one in load_rubric(lesson).exercises.items()}
    found = check_rubric(lesson, tmp_path, course.ENGINES, "spring", cells, trials=1).wrong
    assert [sentence.partition(" (")[0] for sentence in found] == [
        f"{exercise}, {criterion}" for exercise, criterion, *_ in TOO_NARROW[lesson]
    ]
    assert all("faultless try loses" in sentence for sentence in found)


def test_a_wrong_right_answer_is_found(own):
    """Two choices called right, or none, is refused; a number whose right answer is a mistake is refused, too."""
    broken = checked(own(("right = true", "right = false")))
    assert len(broken.wrong) == 1 and f"{LESSON}.toml" in broken.wrong[0] and "l04_why_back_off" in broken.wrong[0]


def test_points_that_differ_from_the_lessons_cells_are_noted(own):
    """Changed points count in proportion: that is a note and no fault; an exercise without a cell is a fault."""
    report = checked(
        own(
            (
                'title = "Set on a warm engine"\ncheck = "was_warm"\npoints = 1',
                'title = "Set on a warm engine"\ncheck = "was_warm"\npoints = 12',
            )
        ),
        trials=1,
    )
    assert report.wrong == () and any("31 points" in note and "20" in note for note in report.notes)
    cells = {name: points for name, points in CELLS.items() if name != BENCH} | {"l04_new": 1.0}
    found = checked(None, trials=1, cells=cells).wrong
    assert "l04_new has a grade cell" in " ".join(found) and f"{BENCH} is in the rubric" in " ".join(found)


def test_the_judge_goes_by_the_classs_own_rubric(own, tmp_path):
    """A stricter window takes points from a learner who had them; another lesson's rubric is the course's."""
    path = evidence_by(tmp_path / "evidence.jsonl", "anna", Habits(), class_id="spring")
    folder = own(("drop_rpm = 25.0, fall_inhg = 0.2, retard", "drop_rpm = -50.0, fall_inhg = 0.2, retard"))
    usual = judge_lesson(LESSON, path, course.ENGINES, "anna")
    strict = judge_lesson(LESSON, path, course.ENGINES, "anna", folder)
    assert usual.exercise(BENCH).points - strict.exercise(BENCH).points in (1.5, 3.0)
    assert rubric_path("l00_other", folder).parent == FOLDER


def test_a_rubric_is_read_again_when_it_was_changed(own):
    """An instructor changes a file while a program runs: the next look sees it."""
    folder = own()
    before = rubric_for(LESSON, folder).title
    text = (folder / f"{LESSON}.toml").read_text(encoding="utf-8")
    (folder / f"{LESSON}.toml").write_text(text.replace(before, "Another title"), encoding="utf-8")
    assert rubric_for(LESSON, folder).title == "Another title"


def test_a_rubric_under_another_lessons_name_is_refused(own):
    """A copy that still names its old lesson would judge the wrong evidence."""
    folder = own()
    shutil.copy(folder / f"{LESSON}.toml", folder / "l05_copy.toml")
    with pytest.raises(RubricError, match="name the file after its lesson"):
        rubric_for("l05_copy", folder)


@pytest.mark.classroom
def test_an_instructor_takes_a_rubric_changes_it_and_is_told(tmp_path, schema_asked_once):
    """By command: the copy is the course's to the byte, is not overwritten, is checked; a fault is exit status 1."""
    root = tmp_path / "spring"
    make_class.make(root, source=source_of_one_lesson(tmp_path / "lessons"))
    path = root / "rubrics" / f"{LESSON}.toml"
    assert str(path) in make_class.own_rubric(root, LESSON)
    assert path.read_bytes() == (FOLDER / path.name).read_bytes()
    with pytest.raises(TimingCourseError, match="already"):
        make_class.own_rubric(root, LESSON)
    with pytest.raises(TimingCourseError, match="no lesson"):
        make_class.own_rubric(root, "l77_nowhere")
    path.write_text("lesson = ", encoding="utf-8")
    (root / "rubrics" / "l77_nowhere.toml").write_text("", encoding="utf-8")
    console = Console(width=200, record=True, file=io.StringIO())
    assert rubrics.check(root, console) == 1
    printed = console.export_text()
    assert "not readable as TOML" in printed and "l77_nowhere.toml belongs to no lesson" in printed
    assert tomllib.loads((FOLDER / path.name).read_text(encoding="utf-8"))["lesson"] == LESSON
