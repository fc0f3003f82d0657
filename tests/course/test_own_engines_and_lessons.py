"""A class's own engine cards and lessons, put into the class folder, reach benches and judge alike."""

from __future__ import annotations

import io
import shutil

import pytest
from rich.console import Console
from typer.testing import CliRunner

from course import ENGINES, SOURCE
from course.cli import app
from course.commands import answers, check, grade, hand_in, make_class, released_rubrics, report, rubrics
from course.commands.collect import run as collect
from course.commands.start import lay_out
from course.jupyter.plain_page.lesson_list import lessons_in
from course.learner.lesson_folder import LessonFolder
from course.widgets.at_work import LessonAtWork
from engine_sim import TimingCourseError, learners_engine, load_card
from graders.exercises.loader import FOLDER, own_cards, rubric_for
from graders.model_answers.method import MethodAttempt
from graders.nbgrader_bridge.course_config import NbgraderCourse
from graders.submissions.verdict_key import own_rubrics, to_judge
from tests.scripted_learner import RIGHT_ANSWERS
from tests.submissions.hostile import source_of_one_lesson

SHIPPED, TRUCK, OWN, CARD = "l04_base_timing", "delivery_truck_six", "l11_our_engine", "our_four"
BENCH = "l11_set_base_timing"


@pytest.fixture(scope="module")
def spring(tmp_path_factory, schema_asked_once):
    """A class of one lesson of the course; made once, copied by each test."""
    folder = tmp_path_factory.mktemp("own")
    make_class.make(folder / "spring", source=source_of_one_lesson(folder / "lessons"))
    return folder / "spring"


@pytest.fixture
def root(spring, tmp_path):
    """A copy of that class."""
    shutil.copytree(spring, tmp_path / "spring")
    return tmp_path / "spring"


def own_card(root, name=CARD, idle_rpm=875.0):
    """Put a card of the class's own into its folder: the runabout's, with another idle speed."""
    text = (ENGINES / "farm_runabout_four.toml").read_text(encoding="utf-8")
    card = load_card(ENGINES / "farm_runabout_four.toml")
    changed = text.replace(f"idle_rpm = {card.setting.idle_rpm:.1f}", f"idle_rpm = {idle_rpm}")
    assert changed != text
    path = root / "engines" / f"{name}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(changed, encoding="utf-8")
    return path


def own_lesson(root):
    """Put a lesson of the class's own into its folder, at its own engine: notebook and rubric of lesson l04 under
    another name, as an instructor begins."""
    notebook = (SOURCE / SHIPPED / f"{SHIPPED}.ipynb").read_text(encoding="utf-8")
    rubric = (FOLDER / f"{SHIPPED}.toml").read_text(encoding="utf-8")
    for path, text in (
        (root / "source" / OWN / f"{OWN}.ipynb", notebook),
        (root / "rubrics" / f"{OWN}.toml", rubric.replace(TRUCK, CARD)),
    ):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text.replace(SHIPPED, OWN).replace("l04_", "l11_"), encoding="utf-8")


def printed(function, *arguments, **options):
    """What a command prints on a console, and its status."""
    console = Console(width=250, record=True, file=io.StringIO())
    status = function(*arguments, console=console, **options)
    return console.export_text(), status


def at_work(folder):
    """The lesson in a learner's folder, as its widgets have it."""
    return LessonAtWork(LessonFolder(folder))


def worked(folder):
    """Do a whole lesson of l04's exercises in a learner's folder; return its points by its own check."""
    lesson = at_work(folder)
    MethodAttempt(lesson.session(lesson.exercise(BENCH))).work()
    for exercise, value, unit in RIGHT_ANSWERS:
        lesson.record(exercise.replace("l04_", "l11_"), value, unit)
    return {name: lesson.judge(name).points for name in lesson.rubric.exercises}


@pytest.mark.classroom
def test_a_lesson_of_a_class_s_own_at_its_own_engine_goes_the_whole_way(root, tmp_path, capsys, monkeypatch):
    """Put in, checked alone, released, handed out, done at the bench, collected, judged as the learner's own check
    judges it, reported; nobody needs a tool of nbgrader's for it."""
    monkeypatch.setattr(rubrics, "check_rubric", lambda *given: CHECK(*given, trials=2))
    path = own_card(root)
    own_lesson(root)
    text, status = printed(rubrics.check, root, only=OWN)
    assert status == 0 and f"{OWN} (the class's own" in text and "can be met in full" in text and SHIPPED not in text
    assert f"{OWN}: it lies in source/ and has a rubric, and was never released" in text
    (sentence,) = released_rubrics.release(root, OWN)
    assert sentence.startswith(f"{OWN} is released.") and released_rubrics.release(root) == []
    assert (root / "release" / OWN / "engines" / path.name).read_bytes() == path.read_bytes()

    learner = tmp_path / "ada" / OWN
    lay_out(tmp_path / "ada", "ada", root / "release")
    given = learners_engine(load_card(path), "spring", "ada", OWN)
    assert at_work(learner).session(at_work(learner).exercise(BENCH)).engine.card.setting.idle_rpm == 875.0
    assert at_work(learner).engine_digest == given.card.digest
    shown = {entry.lesson: entry for entry in lessons_in(tmp_path / "ada")}[OWN]
    assert shown.problem == "" and shown.points > 0
    own = worked(learner)
    assert own[BENCH] == rubric_for(OWN, learner).exercises[BENCH].points
    told = sum(own.values()) - own[BENCH]  # what was not looked over at the bench is not told
    assert f"Base timing by vacuum gauge and tachometer: {told:g} of" in printed(check.run, learner)[0]

    monkeypatch.chdir(tmp_path)
    assert hand_in.run(tmp_path / "ada", OWN, True) == 0
    assert collect(root, [tmp_path / "ada" / "hand-in"]) == 0
    text, status = printed(grade.run, root)
    assert status == 0
    points = {one.name: one.points for one in NbgraderCourse(root).grades(OWN, "ada")}
    assert points == {name: own[name] for name in points} and points[BENCH] == own[BENCH]
    assert (root / "feedback" / "ada" / OWN / f"{OWN}.html").is_file()
    assert answers.run(root, OWN, "ada") == 0 and BENCH in capsys.readouterr().out
    assert report.run(root, None) == 0 and OWN in (root / "report" / "grades.csv").read_text(encoding="utf-8")


CHECK = rubrics.check_rubric


@pytest.mark.classroom
def test_a_card_of_the_same_name_takes_the_place_of_the_course_s(root, tmp_path):
    """With no rubric of its own the class has another truck at bench and judge; given up, everybody has the course's
    again, also a learner who had taken the other one."""
    path = own_card(root, TRUCK)
    (sentence,) = released_rubrics.drifted(NbgraderCourse(root))
    assert SHIPPED in sentence and "engine card" in sentence
    released_rubrics.release(root)
    assert not (root / "release" / SHIPPED / f"{SHIPPED}.rubric").exists()
    lay_out(tmp_path / "ada", "ada", root / "release")
    other = learners_engine(load_card(path), "spring", "ada", SHIPPED).card.digest
    usual = learners_engine(load_card(ENGINES / path.name), "spring", "ada", SHIPPED).card.digest
    assert at_work(tmp_path / "ada" / SHIPPED).engine_digest == other != usual
    path.unlink()
    assert len(released_rubrics.release(root)) == 1 and released_rubrics.drifted(NbgraderCourse(root)) == []
    (tmp_path / "ada" / SHIPPED / "evidence.jsonl").unlink()
    lay_out(tmp_path / "ada", "ada", root / "release")
    assert at_work(tmp_path / "ada" / SHIPPED).engine_digest == usual


@pytest.mark.classroom
def test_what_is_wrong_with_own_cards_and_lessons_is_named(root):
    """A card that cannot be read, one that no exercise names, a lesson of a strange name, one that is not there."""
    own_card(root, "nobody_s")
    (root / "engines" / "broken.toml").write_text("name = ", encoding="utf-8")
    text, status = printed(rubrics.check, root, only=SHIPPED)
    assert status == 0 and "broken" not in text
    rubric = root / "rubrics" / f"{SHIPPED}.toml"
    rubric.parent.mkdir()
    rubric.write_text("lesson = ", encoding="utf-8")
    text, status = printed(rubrics.check, root)
    assert status == 1 and "broken.toml" in text and "nobody_s.toml is used by no lesson" in text
    with pytest.raises(TimingCourseError, match="There is no lesson 'l77'"):
        rubrics.check(root, only="l77")
    rubric.unlink()
    own_lesson(root)
    for place in ("source", "rubrics"):
        for found in sorted((root / place).rglob(f"{OWN}*"), reverse=True):
            found.rename(found.with_name(found.name.replace(OWN, "ours")))
    with pytest.raises(TimingCourseError, match="l11_our_engine, by which hand-ins are known, and 'ours' was found"):
        released_rubrics.release(root)


def test_a_verdict_depends_on_the_cards_that_its_lesson_is_at(tmp_path):
    """A changed card of the class's own changes the key of its lessons' verdicts, and of no other lesson's."""
    root = tmp_path / "spring"
    root.mkdir()
    assert own_rubrics(root) is None

    def keys():
        return [
            to_judge(root, "submitted", "ada", lesson, ENGINES).key()
            for lesson in (SHIPPED, "l07_altitude_weather_fuel")
        ]

    before = keys()
    own_card(root, TRUCK)
    first = keys()
    own_card(root, TRUCK, 900.0)
    second = keys()
    assert len({before[0], first[0], second[0]}) == 3
    assert [card.name for card in own_cards(SHIPPED, own_rubrics(root))] == [f"{TRUCK}.toml"]
    assert before[1] == first[1] == second[1]


def test_a_lesson_is_taken_with_the_two_options_alone():
    """Named where no option takes one, it is an error of usage that names both, and nothing is made."""
    result = CliRunner().invoke(app, ["class", "nowhere", SHIPPED])
    assert result.exit_code == 2 and "--check-rubrics" in result.output and "--release" in result.output
