"""Notebooks that were tampered with: scripts for anybody who looks, forged marks, and code that must not be run."""

from __future__ import annotations

from .making import (
    ANSWERED,
    BENCH,
    SCRIPT,
    answer,
    answered,
    beside_honest_work,
    change,
    change_marks,
    code_everywhere,
    hostile,
    trap_of,
)

# ---- pages ----------------------------------------------------------------------------------------------------------


@hostile(ANSWERED)
def script_in_the_answer(folder, learner, class_id):
    """Commands for a browser in the written answer and in a notebook that shows it."""
    answered(folder, learner, class_id, answer("l04_explain", SCRIPT * 20))
    change(folder, lambda content: content["cells"][0].update(source=SCRIPT))


@beside_honest_work()
def script_around_the_cells(folder):
    """Commands for a browser in titles, outputs, attachments, raw cells, ids and cell metadata."""

    def plant(content: dict) -> None:
        content["metadata"] |= {"title": SCRIPT, "widgets": {SCRIPT: {}}, "authors": [{"name": SCRIPT}]}
        for cell in content["cells"]:
            cell["metadata"] |= {"tags": [SCRIPT], "collapsed": SCRIPT}
            if cell["cell_type"] == "code":
                cell["outputs"] = [{"output_type": "display_data", "metadata": {}, "data": {"text/html": SCRIPT}}]
        content["cells"].append(
            {"cell_type": "raw", "id": "raw1", "metadata": {"raw_mimetype": "text/html"}, "source": SCRIPT}
        )
        content["cells"].append(
            {
                "cell_type": "markdown",
                "id": "m1",
                "metadata": {},
                "source": SCRIPT,
                "attachments": {"x.svg": {"image/svg+xml": f"<svg onload='alert(7)'>{SCRIPT}</svg>"}},
            }
        )

    change(folder, plant)


# ---- cells and their marks ------------------------------------------------------------------------------------------


@beside_honest_work()
def locked_cells_edited(folder):
    """Checks that give full points."""
    change(
        folder,
        lambda content: [
            cell.update(source="100") for cell in content["cells"] if cell["metadata"].get("nbgrader", {}).get("locked")
        ],
    )


@beside_honest_work()
def locked_cells_deleted(folder):
    """Checks taken out."""
    change(
        folder,
        lambda content: content.update(
            cells=[cell for cell in content["cells"] if not cell["metadata"].get("nbgrader", {}).get("grade")]
        ),
    )


@beside_honest_work()
def every_cell_copied(folder):
    """All cells selected, copied and pasted, as happens in JupyterLab."""
    change(
        folder,
        lambda content: content["cells"].extend(
            [dict(cell, id=f"copy-{number}") for number, cell in enumerate(content["cells"])]
        ),
    )


@beside_honest_work()
def points_changed(folder):
    """Every exercise worth a thousand points."""
    change_marks(folder, lambda marks: marks.update(points=1000))


@beside_honest_work()
def points_beyond_number(folder):
    """Every exercise worth infinitely much."""
    change_marks(folder, lambda marks: marks.update(points=float("inf")))


@beside_honest_work()
def marks_swapped(folder):
    """The easy exercise's mark on the hard one's cell."""
    names = {BENCH: "l04_why_back_off", "l04_why_back_off": BENCH}
    change_marks(folder, lambda marks: marks.update(grade_id=names.get(marks["grade_id"], marks["grade_id"])))


@beside_honest_work()
def tags_forged(folder):
    """Tags that tell an executing grader to leave a cell alone."""
    change(
        folder,
        lambda content: [cell["metadata"].update(tags=["skip-execution", "remove_cell"]) for cell in content["cells"]],
    )


@beside_honest_work()
def schema_of_marks_old(folder):
    """Marks of an old schema, which stop a whole class where they are believed."""
    change_marks(folder, lambda marks: marks.update(schema_version=2))


@beside_honest_work()
def schema_of_marks_of_the_future(folder):
    """Marks of schema 99."""
    change_marks(folder, lambda marks: marks.update(schema_version=99))


@beside_honest_work()
def metadata_stripped(folder):
    """A notebook that went through a tool that leaves the bare cells."""
    change(
        folder, lambda content: [content.update(metadata={}), *(cell.update(metadata={}) for cell in content["cells"])]
    )


@beside_honest_work("could not be read")
def notebook_of_another_age(folder):
    """A notebook that says to be of format 99."""
    change(folder, lambda content: content.update(nbformat=99))


@beside_honest_work()
def score_painted_on(folder):
    """Outputs that look like full scores."""
    output = {"output_type": "execute_result", "metadata": {}, "execution_count": 1, "data": {"text/plain": "27.0"}}
    change(
        folder,
        lambda content: [cell.update(outputs=[output]) for cell in content["cells"] if cell["cell_type"] == "code"],
    )


@beside_honest_work()
def verdict_painted_on(folder):
    """A notebook that says the judge had been here."""
    change(
        folder,
        lambda content: content["metadata"].update(
            timing_course={
                "exercises": {BENCH: {"points": 27.0, "max_points": 27.0, "needs_person": "", "title": "x"}},
                "key": "x",
            }
        ),
    )


# ---- code that must not be run --------------------------------------------------------------------------------------


@beside_honest_work()
def code_that_loops(folder):
    """A loop without an end."""
    code_everywhere(folder, "while True: pass")


@beside_honest_work()
def code_that_exits(folder):
    """An exit, and one that no handler sees."""
    code_everywhere(folder, "import os; os._exit(0)")


@beside_honest_work()
def code_that_prints_without_end(folder):
    """Output without an end."""
    code_everywhere(folder, "while True: print('x' * 10_000)")


@beside_honest_work()
def code_that_reads_other_folders(folder):
    """The work of the neighbours."""
    code_everywhere(folder, "import glob; print([open(name).read() for name in glob.glob('../../*/*/*')])")


@beside_honest_work()
def code_that_writes_the_gradebook(folder):
    """Full points for everybody."""
    code_everywhere(
        folder,
        f"import sqlite3; c = sqlite3.connect({str(folder.parents[2] / 'gradebook.db')!r}); "
        "c.execute('UPDATE grade SET auto_score = 100'); c.commit()",
    )


@beside_honest_work()
def code_that_replaces_the_judge(folder):
    """Packages and start-up files that stand beside the notebook under the names of the course's own."""
    code_everywhere(folder, "import graders.judge; graders.judge.judge_lesson = lambda *a, **k: 1 / 0")
    springs = f"open({str(trap_of(folder))!r}, 'w').close()\n"
    for name in ("graders", "engine_sim", "nbgrader", "json", "numpy"):
        (folder / name).mkdir()
        (folder / name / "__init__.py").write_text(springs, encoding="utf-8")
    for name in ("sitecustomize.py", "usercustomize.py", "nbgrader_config.py", "ipython_config.py", "conftest.py"):
        (folder / name).write_text(springs, encoding="utf-8")
