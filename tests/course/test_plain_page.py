"""The plain pages without a browser: what the home page says, what a page runs, how they are started."""

from __future__ import annotations

import dataclasses
import json
import re
import shutil
from types import SimpleNamespace

import nbformat
import pytest
from jinja2 import Environment, FileSystemLoader

import course
from course.__main__ import command_line
from course.authoring.edition import BuildError, lessons
from course.authoring.lay_out_again import lay_out_again
from course.jupyter.plain_page.lesson_list import (
    NOT_HANDED_OUT,
    NOT_JUDGED,
    OLDER_EDITION,
    UNREADABLE,
    VIGNETTES,
    label_of,
    lessons_in,
    other_notebooks,
    where_you_were,
)
from course.jupyter.plain_page.pages import JudgeBehind
from course.jupyter.plain_page.server import (
    HERE,
    NotHandedOut,
    lesson_alone,
    page_style,
    with_its_neighbours,
    without_notebook_talk,
)
from course.learner import progress
from course.learner.known_lessons import LEDGER, is_known, known_lessons, remember_lessons
from course.learner.lesson_folder import LessonFolder
from course.learner.progress import KEPT, bring_up_to_date, kept_progress
from course.widgets.at_work import lesson_at_work
from graders.exercises.loader import load_rubric
from graders.exercises.packing import ENDING, packed
from graders.model_answers.model_learner import faultless_evidence
from tests.apart import run_apart

LESSON, OTHER = "l04_base_timing", "l00_before_you_touch"


def write_lesson(folder, lesson: str, text: str, *more):
    """Write a lesson of one Markdown cell and more cells, as the folder's own."""
    place = folder / lesson
    place.mkdir()
    cells = [nbformat.v4.new_markdown_cell(text), *more]
    nbformat.write(nbformat.v4.new_notebook(cells=cells), place / f"{lesson}.ipynb")
    remember_lessons(folder, [place / f"{lesson}.ipynb"])
    return place


def opened(folder, lesson: str):
    """The notebook of a lesson as the page of it would run it."""
    notebook = nbformat.read(folder / lesson / f"{lesson}.ipynb", as_version=4)
    handler = SimpleNamespace(settings={"plain_page_folder": str(folder)})
    return lesson_alone(handler, notebook=notebook, cwd=lesson)


def test_the_home_page_lists_lessons_in_order(tmp_path):
    """Title, place, minutes, points, whether work has begun; a class's own stand behind the course's; folders without
    a lesson of their name are no lessons."""
    second = write_lesson(tmp_path, "l04_base_timing", "# Base timing\n\n*Lesson 5 of 12 · about 40 minutes*")
    write_lesson(tmp_path, "l00_of_our_own", "# Our own workshop")
    (tmp_path / "notes").mkdir()
    (tmp_path / "notes" / "mine.ipynb").write_text("{}", encoding="utf-8")
    (tmp_path / "other.ipynb").write_text("{}", encoding="utf-8")
    (second / "evidence.jsonl").write_text("something\n", encoding="utf-8")
    found = lessons_in(tmp_path)
    assert [(one.title, one.label, one.minutes, one.points, one.begun, one.problem) for one in found] == [
        ("Base timing", "Lesson 5 of 12", 40, 34.0, True, ""),
        ("Our own workshop", "", None, 0.0, False, ""),
    ]
    assert found[0].address == "lesson/l04_base_timing"
    assert other_notebooks(tmp_path) == ["notes/mine.ipynb", "other.ipynb"]


def test_somebody_alone_is_told_what_may_be_left_out(tmp_path):
    """One with a vehicle of their own; in a class the instructor decides, and nothing is said."""
    alone = write_lesson(tmp_path, "l06_advance_curve", "# The advance curve")
    write_lesson(tmp_path, "l04_base_timing", "# Base timing")
    base, curve = lessons_in(tmp_path)
    assert base.optional == "" and curve.optional.startswith("For one vehicle of your own")
    (alone / "class.toml").write_text('class = "autumn"\n', encoding="utf-8")
    assert lessons_in(tmp_path)[1].optional == ""


def test_every_lesson_of_the_course_has_a_picture_of_its_own():
    """And a lesson of a class's own has the general one."""
    assert {path.stem for path in VIGNETTES.glob("*.svg")} == {*lessons(), "lesson"}
    assert [label_of(lesson) for lesson in lessons()][::11] == ["Lesson 1 of 12", "Lesson 12 of 12"]


def test_a_page_runs_nothing_but_what_was_handed_out(tmp_path):
    """A changed text, code cell or further cell is refused; outputs and a written answer change nothing, and neither
    they nor the notebook's own settings reach the page."""
    answer = nbformat.v4.new_markdown_cell("Write here", metadata={"nbgrader": {"solution": True}})
    code = nbformat.v4.new_code_cell("1 + 1")
    place = write_lesson(tmp_path, "l04_base_timing", "# Base timing\n\n**First of all:** run it.\n\nOn.", code, answer)
    path = place / "l04_base_timing.ipynb"
    as_handed_out = nbformat.read(path, as_version=4)
    worked = nbformat.from_dict(as_handed_out)
    worked.cells[1].outputs = [nbformat.v4.new_output("display_data", {"text/html": "<script>bad()</script>"})]
    worked.cells[2].source = "<script>bad()</script>"
    worked.metadata = {"voila": {"template": "other"}}
    nbformat.write(worked, path)
    page = opened(tmp_path, "l04_base_timing")
    assert [cell.source for cell in page.cells] == ["# Base timing\n\nOn.", "1 + 1"]
    assert "bad" not in json.dumps(page) and "voila" not in page.metadata and not page.cells[1].outputs
    assert page.metadata.title == "Base timing · Timing course"
    for number, source in ((0, "# Base timing <script>bad()</script>"), (1, "import os")):
        changed = nbformat.from_dict(as_handed_out)
        changed.cells[number].source = source
        nbformat.write(changed, path)
        with pytest.raises(NotHandedOut):
            opened(tmp_path, "l04_base_timing")
        assert lessons_in(tmp_path)[0].problem == OLDER_EDITION and not is_known(tmp_path, path)
    more = nbformat.from_dict(as_handed_out)
    more.cells.append(nbformat.v4.new_code_cell("import os"))
    nbformat.write(more, path)
    with pytest.raises(NotHandedOut):
        opened(tmp_path, "l04_base_timing")


@pytest.mark.parametrize("content", ["", "{}", "[1, null]", '"text"'])
def test_a_spoilt_list_of_lessons_lets_nothing_run(tmp_path, content):
    """Where the list cannot be read no lesson is known."""
    write_lesson(tmp_path, "l00_good", "# Good")
    (tmp_path / LEDGER).write_text(content, encoding="utf-8")
    assert known_lessons(tmp_path) == set() and lessons_in(tmp_path)[0].problem == NOT_HANDED_OUT


def test_each_lesson_leads_to_the_next(tmp_path):
    """The page of a lesson names the lessons before and after it, and leaves out one that it would not run."""
    for lesson in ("a", "b", "c", "d"):
        write_lesson(tmp_path, lesson, f"# Lesson {lesson.upper()}")
    (tmp_path / "b" / "b.ipynb").write_text("spoilt", encoding="utf-8")

    def beside(lesson: str) -> dict:
        settings = {"plain_page_folder": str(tmp_path)}
        return with_its_neighbours({"kept": 1}, settings=settings, notebook_path=f"{lesson}/{lesson}.ipynb")

    assert beside("a") == {"kept": 1, "courseLabel": "", "courseNext": "c", "courseNextTitle": "Lesson C"}
    assert beside("d") == {"kept": 1, "courseLabel": "", "courseBefore": "c", "courseBeforeTitle": "Lesson C"}


def test_progress_is_judged_once_and_again_when_the_work_changed(my_course, monkeypatch):
    """Points come from the judge; a second look judges nothing, more work is judged, a spoilt file begins afresh."""
    first, second = bring_up_to_date(my_course), kept_progress(my_course)
    assert first == second and set(first) == {LESSON, OTHER}
    one = first[LESSON]
    assert (one.max_points, one.exercises) == (34.0, 6) and 0 < one.points < 34 and one.tried == 1
    assert one.last == "l04_distributor_degrees" and not one.problem and not one.complete
    assert (first[OTHER].points, first[OTHER].tried, first[OTHER].max_points) == (0.0, 0, 24.0)
    judged = []
    real = progress.progress_in
    monkeypatch.setattr(progress, "progress_in", lambda lesson: judged.append(lesson.name) or real(lesson))
    bring_up_to_date(my_course)
    assert judged == []
    with (my_course / OTHER / "evidence.jsonl").open("w") as file:
        file.write("not evidence")
    found = bring_up_to_date(my_course)
    assert judged == [OTHER] and found[OTHER].problem and found[OTHER].points == 0
    (my_course / KEPT).write_text("spoilt", encoding="utf-8")
    assert kept_progress(my_course) == {} and bring_up_to_date(my_course) == found


def test_the_judge_behind_the_home_page_is_a_process_of_its_own(my_course):
    """It writes down what the judge finds, and to end it once it has ended does nothing."""
    behind = JudgeBehind(my_course)
    behind.end()
    run_apart(behind.up_to_date())
    behind.end()
    assert kept_progress(my_course) == bring_up_to_date(my_course) != {}


def test_one_goes_on_where_one_was(my_course):
    """The lesson worked on last, at its exercise; when it is complete, the next one that is not; then none."""
    bring_up_to_date(my_course)
    at = where_you_were(lessons_in(my_course), my_course)
    assert at is not None and at.address == f"lesson/{LESSON}#l04_distributor_degrees"

    def complete(*names: str) -> None:
        kept = json.loads((my_course / KEPT).read_text(encoding="utf-8"))
        for name in names:
            kept[name]["points"] = kept[name]["max_points"]
        (my_course / KEPT).write_text(json.dumps(kept), encoding="utf-8")

    complete(LESSON)
    after = where_you_were(lessons_in(my_course), my_course)
    assert after is not None and after.lesson == OTHER
    complete(OTHER)
    assert where_you_were(lessons_in(my_course), my_course) is None


@pytest.fixture
def my_course(tmp_path):
    """A folder with two lessons and a right answer to the first exercise of one."""
    for lesson in (LESSON, OTHER):
        (tmp_path / lesson).mkdir()
        shutil.copy(course.SOURCE / lesson / f"{lesson}.ipynb", tmp_path / lesson)
    (tmp_path / "learner.toml").write_text('name = "Robin Vale"\n', encoding="utf-8")
    remember_lessons(tmp_path, tmp_path.glob("*/*.ipynb"))
    rubric = load_rubric(LESSON)
    exercise = "l04_distributor_degrees"
    alone = dataclasses.replace(rubric, exercises={exercise: rubric.exercises[exercise]})
    evidence = faultless_evidence(alone, "Robin Vale", "", course.ENGINES)
    place = LessonFolder(tmp_path / LESSON)
    engine = lesson_at_work(tmp_path / LESSON).engine_digest
    for event in evidence.events:
        place.record_answer(place.writer(engine), exercise, event.value, event.unit)
    return tmp_path


@pytest.mark.parametrize("content", ["", "not JSON", "[]", json.dumps({"cells": 3}), json.dumps({"cells": [{}]})])
def test_a_lesson_that_cannot_be_read_is_said(tmp_path, content):
    """A spoilt notebook has its sentence on the index and does not take the others away."""
    write_lesson(tmp_path, "l00_good", "# Good")
    (write_lesson(tmp_path, "l01_bad", "x") / "l01_bad.ipynb").write_text(content, encoding="utf-8")
    good, bad = lessons_in(tmp_path)
    assert good.title == "Good" and not good.problem
    assert bad.problem == UNREADABLE and where_you_were([bad], tmp_path) is None


@pytest.mark.parametrize("content", [b"", b"lesson = ", packed(b"lesson = "), packed(b'lesson = "l04_base_timing"')])
def test_a_rubric_that_cannot_be_read_has_its_sentence(tmp_path, content):
    """The lesson stays in the list and opens, its points are not told, and the other lessons are as they were."""
    spoilt = write_lesson(tmp_path, "l04_base_timing", "# Base timing")
    write_lesson(tmp_path, "l05_road_check", "# On the road")
    (spoilt / f"l04_base_timing{ENDING}").write_bytes(content)
    bad, good = lessons_in(tmp_path)
    assert (bad.title, bad.points, bad.remark, bad.problem) == ("Base timing", 0.0, NOT_JUDGED, "")
    assert good.points > 0 and not good.remark
    templates = Environment(loader=FileSystemLoader(HERE / "templates" / "plain"), autoescape=True)
    page = templates.get_template("home.html.j2").render(
        base_url="/", style="", lessons=[bad, good], go_on=bad, forgery_token=""
    )
    assert page.count(NOT_JUDGED) == 1 and 'href="/lesson/l04_base_timing"' in page and "On the road" in page


def test_talk_about_running_cells_is_left_out():
    """The paragraph for notebooks goes; everything around it stays."""
    text = "# Title\n\n**First of all:** open the menu\n**Run**.\n\nThe rest."
    notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_markdown_cell(text)])
    without_notebook_talk(notebook)
    assert notebook.cells[0].source == "# Title\n\nThe rest."


@pytest.mark.parametrize("path", sorted(HERE.rglob("*.j2")) + sorted(HERE.rglob("*.css")), ids=lambda path: path.name)
def test_templates_name_no_other_machine(path):
    """Nothing in our templates and style sheets is fetched from elsewhere."""
    assert not re.search(r"(https?:)?//[a-z]", path.read_text(encoding="utf-8"))


def test_the_style_has_both_palettes():
    """The page's style holds light colours, and dark ones where the system is dark."""
    style = page_style()
    assert style.index("--eb-paper: #ffffff") < style.index("prefers-color-scheme: dark")
    assert "/* colours" not in style


@pytest.mark.parametrize(
    ("given", "run"),
    [
        ([], ["start"]),
        (["--notebook"], ["start", "--notebook"]),
        (["--help"], ["--help"]),
        (["check"], ["check"]),
        (["start", "here", "--plain"], ["start", "here", "--plain"]),
    ],
)
def test_options_alone_are_options_of_start(given, run):
    """`python3 -m course --notebook` starts notebooks, and every command is reached as before."""
    assert command_line(given) == run


def test_a_lesson_that_the_course_has_not_stays_as_it_is(tmp_path):
    """Nothing is moved before there is something to put in its place."""
    place = write_lesson(tmp_path, "l00_of_our_own", "# Our own workshop")
    with pytest.raises(BuildError):
        lay_out_again(tmp_path, "l00_of_our_own")
    assert (place / "l00_of_our_own.ipynb").is_file() and len(list(place.iterdir())) == 1
