"""The learner's edition, and the canonical form of sources."""

from __future__ import annotations

import json

import nbformat
import pytest

from course.authoring.build import CodeFolded, as_wanted, canonical, not_canonical, with_values
from course.authoring.edition import BuildError, lessons, make_learners_edition
from engine_sim import TimingCourseError

LESSON = "l98_trial"
OPENING = "# Trial\n\n*Lesson 4 of 11 · about 50 minutes*"

pytestmark = pytest.mark.usefixtures("schema_asked_once")


def marks(grade_id, grade, solution, cell_type="code"):
    """nbgrader's marks of a cell; a graded one is worth 2 points."""
    content = {
        "grade": grade,
        "grade_id": grade_id,
        "locked": not solution,
        "schema_version": 3,
        "solution": solution,
        "task": False,
        "cell_type": cell_type,
    }
    return {"nbgrader": content | ({"points": 2.0} if grade else {})}


@pytest.fixture(autouse=True)
def table(monkeypatch):
    """A table of one value in the place of the published one."""

    def look_up(text):
        def found(key):
            if key != "peak":
                raise TimingCourseError(f"There is no value '{key}'.")
            return text

        return found

    monkeypatch.setattr("course.authoring.sourced_values.value_text", look_up("18.5 inHg"))
    monkeypatch.setattr("course.authoring.sourced_values.citation_text", look_up("the handbook, page 3"))


@pytest.fixture
def source(tmp_path):
    """A folder of sources with one lesson, left untidy as an editor leaves it."""
    cells = [
        nbformat.v4.new_markdown_cell("# Trial\n\nIt is {{value:peak}}, from {{source:peak}}."),
        nbformat.v4.new_markdown_cell("For the instructor: say it twice.", metadata={"tags": ["instructor"]}),
        nbformat.v4.new_code_cell(
            'check("l98_first")',
            metadata=marks("l98_first", True, False),
            execution_count=7,
            outputs=[nbformat.v4.new_output("stream", text="left over")],
        ),
        nbformat.v4.new_markdown_cell("The model answer.", metadata=marks("l98_explain", True, True, "markdown")),
    ]
    notebook = nbformat.v4.new_notebook(
        cells=cells,
        metadata={
            "widgets": {"state": 1},
            "kernelspec": {"display_name": "mine", "language": "python", "name": "my-kernel"},
        },
    )
    folder = tmp_path / "source" / LESSON
    folder.mkdir(parents=True)
    nbformat.write(notebook, folder / f"{LESSON}.ipynb")
    (folder / "evidence.jsonl").write_text("a trial run's", encoding="utf-8")
    return tmp_path / "source"


def edition(folder):
    """The text of the learner's notebook below `folder`."""
    return (folder / LESSON / f"{LESSON}.ipynb").read_text(encoding="utf-8")


def test_edition_fills_in_values_and_keeps_back_what_is_not_for_learners(source, tmp_path):
    """Values stand in the text; no instructor's cell, no model answer, no output and no evidence of a trial run."""
    made = make_learners_edition(tmp_path / "mine", source=source)
    text = edition(tmp_path / "mine")
    assert made == [tmp_path / "mine" / LESSON]
    assert "It is 18.5 inHg, from the handbook, page 3." in text and "{{" not in text
    for kept_back in ("say it twice", "model answer", "left over"):
        assert kept_back not in text
    assert not (tmp_path / "mine" / LESSON / "evidence.jsonl").exists()


def test_edition_never_overwrites_work(source, tmp_path):
    """A notebook and evidence that are there stay to the byte."""
    make_learners_edition(tmp_path / "mine", source=source)
    for name in (f"{LESSON}.ipynb", "evidence.jsonl"):
        (tmp_path / "mine" / LESSON / name).write_text("work of an evening", encoding="utf-8")
    make_learners_edition(tmp_path / "mine", source=source)
    assert edition(tmp_path / "mine") == "work of an evening"
    assert (tmp_path / "mine" / LESSON / "evidence.jsonl").read_text(encoding="utf-8") == "work of an evening"


def test_place_and_minutes_come_from_the_outline(tmp_path, monkeypatch):
    """A lesson that gives them otherwise is named and written; one that the outline does not have is left alone."""
    monkeypatch.setattr("course.authoring.build.minutes_by_lesson", lambda: {"l97_first": 30, LESSON: 45})
    for name in (LESSON, "l99_own"):
        (tmp_path / name).mkdir()
        text = json.dumps(nbformat.v4.new_notebook(cells=[nbformat.v4.new_markdown_cell(OPENING)]))
        (tmp_path / name / f"{name}.ipynb").write_text(canonical(text), encoding="utf-8")
    (wrong,) = not_canonical(tmp_path)
    assert wrong.stem == LESSON and "*Lesson 2 of 2 · about 45 minutes*" in as_wanted(wrong)


def test_unknown_keys_and_lessons_are_refused(source, tmp_path):
    """A key that the table lacks, a lesson that does not exist and a folder without lessons are each said."""
    with pytest.raises(TimingCourseError, match="no_such_key"):
        with_values("{{value:no_such_key}}")
    with pytest.raises(BuildError, match=LESSON):
        make_learners_edition(tmp_path / "mine", ["l77"], source)
    with pytest.raises(BuildError, match="no lessons"):
        lessons(tmp_path)


def test_canonical_form_is_reached_in_one_step_and_kept(source):
    """Outputs, counts, widget state and kernels' names go; ids follow grade ids; a second pass changes nothing."""
    path = source / LESSON / f"{LESSON}.ipynb"
    assert not_canonical(source) == [path]
    once = canonical(path.read_text(encoding="utf-8"))
    assert canonical(once) == once and once.endswith("}\n") and not once.endswith("\n\n")
    content = json.loads(once)
    assert content["cells"][2] | {"metadata": {}} == {
        "cell_type": "code",
        "id": "l98_first",
        "metadata": {},
        "source": ['check("l98_first")'],
        "outputs": [],
        "execution_count": None,
    }
    assert set(content["metadata"]) == {"kernelspec", "language_info"} and "my-kernel" not in once
    path.write_text(once, encoding="utf-8")
    assert not_canonical(source) == []


def test_two_cells_of_one_id_are_told_apart(source):
    """A copied cell gets an id of its own, and the same one each time."""
    path = source / LESSON / f"{LESSON}.ipynb"
    content = json.loads(path.read_text(encoding="utf-8"))
    content["cells"].append(content["cells"][0])
    identities = [cell["id"] for cell in json.loads(canonical(json.dumps(content)))["cells"]]
    assert len(set(identities)) == len(identities)


@pytest.mark.parametrize(
    ("code", "folded"),
    [
        ("from course.widgets import bench, check", True),
        ('bench("l04_set_base_timing")', True),
        ("words()", True),
        ("def spark(n):\n    return n", False),
        ("from course.widgets import bench\nspeed = 3", False),
        ('print("hello")\nprint("you")', False),
    ],
)
def test_cells_that_only_show_a_part_are_folded(code, folded):
    """In JupyterLab a learner sees no code of ours; code that an instructor wrote to be read stays in view."""
    cell, _ = CodeFolded().preprocess_cell(nbformat.v4.new_code_cell(code), {}, 0)
    assert cell.metadata.get("jupyter", {}).get("source_hidden", False) is folded and cell.source == code
