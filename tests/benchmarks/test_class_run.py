"""Thirty hand-ins judged by `grade` beside nbgrader's own autograde, which executes the cells, in one run.

Both are whole programs, from their start. nbgrader as it comes executes the lesson as it is handed out, whose check
cells wait for a button to be pressed and so judge nothing (everyone gets full points), and makes no pages; `grade`
makes the learners' pages too. In its best form on two processors nbgrader runs twice side by side, each with every
other learner, and its test cells call the same judge: the same job, which must give the same scores.

On its own: `python -m tests.benchmarks.test_class_run [HAND-INS]`.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

import pytest

from course import SOURCE
from course.commands import make_class
from graders.classroom.run import Classroom
from tests.benchmarks.processor import Taken, taken
from tests.scripted_learner import evidence_by

LESSON = "l04_base_timing"
HAND_INS = 30
SIDE_BY_SIDE = ("*[02468]", "*[13579]")  # learners by the last figure of their number
AUTOGRADE = """
import sys
from nbgrader.converters import Autograde
from nbgrader.coursedir import CourseDirectory

directory = CourseDirectory()
directory.root, directory.assignment_id, directory.student_id = sys.argv[1:]
Autograde(coursedir=directory).start()
"""
JUDGING_CELL = [
    "from course.widgets.at_work import lesson_at_work\n",
    "\n",
    'float(lesson_at_work().judge("{exercise}").points)',
]


def write_evidence(folder: Path, count: int, class_id: str) -> None:
    """What `count` learners leave who each did the whole lesson on an engine of their own."""
    for number in range(count):
        learner = f"learner{number:02d}"
        (folder / learner).mkdir(parents=True)
        (folder / learner / "learner.toml").write_text(f'name = "{learner}"\n', encoding="utf-8")
        evidence_by(folder / learner / "evidence.jsonl", learner, class_id=class_id)


def hand_in(root: Path, evidence: Path, source: Path = SOURCE) -> None:
    """A class in `root` in which each learner handed in the released notebook and their evidence."""
    make_class.make(root, source=source)
    for learner in sorted(path.name for path in evidence.iterdir()):
        folder = root / "submitted" / learner / LESSON
        shutil.copytree(root / "release" / LESSON, folder)
        shutil.copytree(evidence / learner, folder, dirs_exist_ok=True)


def judging_source(target: Path) -> Path:
    """The lesson's source with test cells that judge when they are executed."""
    shutil.copytree(SOURCE / LESSON, target / LESSON)
    path = target / LESSON / f"{LESSON}.ipynb"
    content = json.loads(path.read_text(encoding="utf-8"))
    for cell in content["cells"]:
        marks = cell["metadata"].get("nbgrader", {})
        if cell["cell_type"] == "code" and marks.get("grade"):
            cell["source"] = [line.replace("{exercise}", marks["grade_id"]) for line in JUDGING_CELL]
    path.write_text(json.dumps(content), encoding="utf-8")
    return target


def grade(root: Path, *words: str) -> Taken:
    """What `timing-course grade` takes, feedback pages and summary included."""
    command = [sys.executable, "-m", "course", "grade", str(root), "--json", *words]
    done = []
    took = taken(lambda: done.append(subprocess.run(command, capture_output=True, text=True, check=False)))
    assert done[0].returncode == 0, done[0].stderr
    return took


def stock(root: Path, lesson: str = LESSON, students: Sequence[str] = ("*",)) -> Taken:
    """What nbgrader takes as it comes: a kernel for every hand-in, all cells executed, no feedback pages; a process for
    each pattern of `students`, side by side."""

    def run() -> None:
        command = [sys.executable, "-c", AUTOGRADE, str(root), lesson]
        begun = [subprocess.Popen([*command, one], stderr=subprocess.DEVNULL) for one in students]
        assert [one.wait() for one in begun] == [0] * len(begun)

    return taken(run)


def scores(root: Path) -> dict[str, dict[str, float]]:
    """What stands in the gradebook of a class, by learner and grade cell."""
    course = Classroom(root).course
    return {
        learner: {grade.name: grade.points for grade in course.grades(LESSON, learner)}
        for learner in sorted(path.name for path in (root / "submitted").iterdir())
    }


def measured(count: int, folder: Path) -> None:
    """Time the runs over the same evidence. Each class is a folder of one name, since the engines follow it."""
    write_evidence(folder / "evidence", count, "class")
    classes = {name: folder / name / "class" for name in ("grade", "stock", "judging")}
    for name, root in classes.items():
        root.parent.mkdir()
        hand_in(root, folder / "evidence", judging_source(folder / "source") if name == "judging" else SOURCE)
    runs = {"grade": grade, "stock": stock, "judging": lambda root: stock(root, students=SIDE_BY_SIDE)}
    times = {}
    for name, run in runs.items():
        os.environ["TIMING_COURSE_CACHE"] = str(folder / name / "maps")  # no run finds the engines of another
        times[name] = run(classes[name])
    ours = times["grade"]
    print(
        f"\n{count} hand-ins of {LESSON}\ngrade, with feedback pages: {ours}\n"
        f"nbgrader's own autograde, executing the lesson as handed out (judges nothing): {times['stock']}, "
        f"{times['stock'].times(ours)}\n"
        f"two of it side by side, executing test cells that judge (the same scores): {times['judging']}, "
        f"{times['judging'].times(ours)}"
    )
    assert scores(classes["grade"]) == scores(classes["judging"])


@pytest.mark.benchmark
@pytest.mark.classroom
def test_grading_a_class_beside_executing_it(tmp_path, capsys):
    """Thirty hand-ins side by side: the same scores; how long each way takes is printed."""
    with capsys.disabled():
        measured(HAND_INS, tmp_path)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        measured(int(sys.argv[1]) if sys.argv[1:] else HAND_INS, Path(place))
