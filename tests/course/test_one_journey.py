"""One journey through the whole course, command by command, so that the quick run comes to every module: a class is
made, a lesson opened and worked, handed in and graded, and what the course draws and writes is drawn and written.

Each stage looks only at whether it ended as it should; what it must say stands in the tests of its own module.
"""

from __future__ import annotations

import functools
import importlib
import json
import runpy
import shutil
from types import SimpleNamespace

import pytest
from traitlets.config import Config
from typer.testing import CliRunner

import course
from course import cli
from course.authoring import front_end_units, glossary_page, reference_card
from course.authoring.edition import lessons
from course.authoring.lesson_pictures import picture_named, pictures
from course.commands import make_class, mark, rubrics
from course.jupyter.prompt_connection import PromptConnection
from course.marking import server
from course.widgets import picture
from course.widgets.shared.front_end import WIDGETS
from engine_sim import Event, EvidenceWriter
from graders.exercises.loader import load_rubric
from graders.exercises.packing import ENDING
from graders.judge import judge_lesson
from graders.model_answers.check_rubric import check_rubric
from graders.model_answers.model_learner import faultless_evidence, tried
from graders.nbgrader_bridge import sandbox
from graders.nbgrader_bridge.collect import archive_problem
from graders.nbgrader_bridge.course_config import NbgraderCourse
from tests.submissions.making import source_of_one_lesson

LESSON, WRITTEN = "l04_base_timing", "l04_explain"
WITH_A_CLASS, LEARNER = "autumn", "ada"
# Lessons whose exercises between them have every criterion of the bench and every way of working.
WORKED = ("l02_what_the_gauges_say", "l05_road_check", "l06_advance_curve", "l07_altitude_weather_fuel")
OLDER_NAMES = ("course.build", "course.not_running", "graders.boxed_kernel", "graders.nbgrader_collect")

pytestmark = pytest.mark.usefixtures("schema_asked_once")


def type_in(*arguments) -> str:
    """Type a command; what it prints. It must end well."""
    done = CliRunner().invoke(cli.app, [str(argument) for argument in arguments], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


def work(lesson: str, folder, learner: str, class_id: str) -> None:
    """Write down a faultless learner's work beside the lesson's notebook."""
    evidence = faultless_evidence(load_rubric(lesson), learner, class_id, course.ENGINES)
    (folder / "evidence.jsonl").unlink(missing_ok=True)
    writer = EvidenceWriter(folder / "evidence.jsonl", evidence.header)
    for event in evidence.events:
        writer.append(event)
    if lesson == LESSON:
        writer.append(Event(evidence.events[-1].time_s + 1.0, WRITTEN, "answer", "It would ping under load."))


@pytest.fixture(scope="module")
def school(tmp_path_factory):
    """A class of one lesson with one learner on its roster."""
    place = tmp_path_factory.mktemp("school")
    (place / "roster.csv").write_text(f"id\n{LEARNER}\n", encoding="utf-8")
    make_class.make(place / WITH_A_CLASS, place / "roster.csv", source=source_of_one_lesson(place / "lessons"))
    return place / WITH_A_CLASS


@pytest.fixture(scope="module")
def at_home(school, tmp_path_factory):
    """The learner's folder with what the class handed out, worked without a fault."""
    folder = tmp_path_factory.mktemp("home") / "my-course"
    type_in("start", folder, "--name", LEARNER, "--lessons", school / "release", "--lay-out-only")
    work(LESSON, folder / LESSON, LEARNER, WITH_A_CLASS)
    return folder


def test_a_learner_works_checks_and_hands_in(at_home, school, tmp_path, monkeypatch):
    """Every cell of the lesson runs; the learner's own check tells points; the file to hand in is one that a collection
    takes."""
    monkeypatch.chdir(at_home / LESSON)
    names: dict = {}
    for cell in json.loads((at_home / LESSON / f"{LESSON}.ipynb").read_text(encoding="utf-8"))["cells"]:
        if cell["cell_type"] == "code":
            exec("".join(cell["source"]), names)
    assert "Together" in type_in("check", at_home)
    assert json.loads(type_in("check", at_home, "--json"))["max_points"] == 34
    monkeypatch.chdir(tmp_path)
    type_in("hand-in", LESSON, "--folder", at_home, "--anyway")
    (archive,) = [*tmp_path.rglob("*.zip"), *at_home.rglob("*.zip")]
    assert archive_problem(archive) == ""


def test_an_instructor_grades_and_reports(school, at_home):
    """The hand-in has its points in the gradebook and its page, the class its report, the instructor the answers, and
    each learner's pages an archive; what waits for a mark and what is kept about a learner is shown."""
    assert "No archive was found" in type_in("collect", school)
    shutil.copytree(at_home / LESSON, school / "submitted" / LEARNER / LESSON)
    assert LEARNER in type_in("grade", school)
    assert list((school / "feedback").rglob("*.html"))
    type_in("report", school)
    mark_the_answer(school)
    assert "1 archive(s)" in type_in("give-back", school)
    assert mark.in_words(NbgraderCourse(school))
    assert "Nothing was taken away" in type_in("forget", school, LEARNER)
    assert "l04_why_back_off" in type_in("answers", school, LESSON, LEARNER)


def mark_the_answer(school) -> None:
    """Give the one written answer its mark, on the page and as the page keeps it."""
    desk = server.Desk(school, "Ida")
    (place,) = desk.places()
    answer = desk.desk.answer(place)
    assert server.application(desk, "key") and server.markdown(answer.notes.guide)
    desk.desk.save(answer, {one.id: len(one.levels) - 1 for one in answer.to_mark}, False, "Well said.", "Ida")
    assert [one.waits for one in desk.places()] == [False]


def test_an_instructor_has_a_rubric_of_the_classs_own(school, monkeypatch):
    """It is put into the folder, given to the learners' lessons, and found to be sound (tried once)."""
    monkeypatch.setattr(rubrics, "check_rubric", functools.partial(check_rubric, trials=1))
    type_in("class", school, "--own-rubric", LESSON)
    (rubric,) = (school / "rubrics").glob("*.toml")
    text = rubric.read_text(encoding="utf-8")
    rubric.write_text(text.replace('title = "', 'title = "Our ', 1), encoding="utf-8")
    type_in("class", school, "--release")
    assert list((school / "release" / LESSON).glob(f"*{ENDING}"))
    type_in("class", school, "--check-rubrics")


@pytest.mark.parametrize("lesson", WORKED)
def test_faultless_work_earns_all_that_a_machine_judges(lesson, tmp_path):
    """At the bench, on the road and in another weather."""
    work(lesson, tmp_path, LEARNER, "")
    verdict = judge_lesson(lesson, tmp_path / "evidence.jsonl", course.ENGINES, LEARNER)
    earned = {one.exercise: one.points for one in verdict.exercises}
    wanted = {one.id: one.points for one in load_rubric(lesson).exercises.values() if tried(one)}
    assert verdict.problem == "" and wanted and {name: earned[name] for name in wanted} == wanted


def test_what_the_course_draws_and_writes_is_there():
    """One picture of each module that draws some, and what is generated is what is kept."""
    first = {picture_named(name).draw.__module__: name for name in sorted(pictures())}
    assert all("<svg" in picture_named(name).svg for name in first.values())
    assert picture(sorted(pictures())[0]).problem == ""
    assert (WIDGETS / "shared" / "generated_units.js").read_text(encoding="utf-8") == front_end_units.units_text()
    assert glossary_page.glossary_text() and reference_card.card_text()
    assert len(lessons()) > 10 and "rpm" in type_in("engine", "delivery_truck_six", "--table")


@pytest.mark.parametrize("name", OLDER_NAMES)
def test_a_module_of_an_older_name_has_what_configurations_ask_for(name):
    """Every name that it promises is there."""
    module = importlib.import_module(name)
    assert module.__all__ and all(hasattr(module, one) for one in module.__all__)


def test_what_a_server_loads_can_be_loaded(monkeypatch):
    """A connection sends every packet at once; the plain pages' program and the class's configuration can be read."""
    told = []

    class Connection(PromptConnection):
        websocket_handler = SimpleNamespace(set_nodelay=told.append)

    monkeypatch.setattr(PromptConnection.__mro__[1], "connect", lambda self: "connected")
    assert Connection().connect() == "connected" and told == [True]
    runpy.run_module("course.jupyter.plain_page.__main__", run_name="only read")
    config = Config()
    runpy.run_path(str(course.HERE / "nbgrader_config.py"), {"get_config": lambda: config})
    assert config.CourseDirectory.course_id == "timing"
    assert isinstance(sandbox.why_no_box(), str)
