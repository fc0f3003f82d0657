"""Thirty hand-ins judged by `grade` beside nbgrader's own autograde, which executes the cells, in one run.

nbgrader as it comes is timed twice: on the lesson as it is handed out, whose check cells wait for a button to be
pressed and so judge nothing (everyone gets full points); and with test cells that call the same judge, which is the
same job done nbgrader's own way and must give the same scores. The ratio that is wanted is that of the same job.

On its own: `python -m tests.benchmarks.test_class_run [HAND-INS]`.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import pytest

from course import SOURCE
from course.commands import make_class
from graders.classroom.run import Classroom
from tests.scripted_learner import evidence_by

LESSON = "l04_base_timing"
HAND_INS = 30
JUDGING_CELL = [
    "from course.widgets.at_work import lesson_at_work\n",
    "\n",
    'float(lesson_at_work().judge("{exercise}").points)',
]


@dataclass(frozen=True)
class Times:
    """Seconds of the four runs over the same hand-ins."""

    judge_s: float
    grade_s: float
    stock_s: float
    stock_judging_s: float

    def __str__(self) -> str:
        return (
            f"grade up to the gradebook: {self.judge_s:.1f} s; with feedback pages: {self.grade_s:.1f} s\n"
            f"nbgrader's own autograde, executing the lesson as handed out (judges nothing): {self.stock_s:.1f} s, "
            f"{self.stock_s / self.judge_s:.1f} and {self.stock_s / self.grade_s:.1f} times as long\n"
            f"nbgrader's own autograde, executing test cells that judge (the same scores): "
            f"{self.stock_judging_s:.1f} s, {self.stock_judging_s / self.judge_s:.1f} and "
            f"{self.stock_judging_s / self.grade_s:.1f} times as long"
        )


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


def seconds_of_grade(root: Path, with_pages: bool) -> float:
    """What `timing-course grade` takes: judging and gradebook, as autograde does, or feedback pages as well."""
    began = time.perf_counter()
    room = Classroom(root)
    pages = []
    reports = room.judge(LESSON, then=lambda report: pages.append(room.page(report) if with_pages else ""))
    failures = [sentence for sentence in pages if sentence]
    took = time.perf_counter() - began
    assert not failures and all(report.judged_now and report.points > 0.0 for report in reports)
    return took


def seconds_of_stock(root: Path, lesson: str = LESSON) -> float:
    """What nbgrader takes as it comes: a kernel for every hand-in, all cells executed, no feedback pages."""
    from nbgrader.converters import Autograde
    from nbgrader.coursedir import CourseDirectory

    directory = CourseDirectory()
    directory.root, directory.assignment_id = str(root), lesson
    began = time.perf_counter()
    Autograde(coursedir=directory).start()
    return time.perf_counter() - began


def scores(root: Path) -> dict[str, dict[str, float]]:
    """What stands in the gradebook of a class, by learner and grade cell."""
    course = Classroom(root).course
    return {
        learner: {grade.name: grade.points for grade in course.grades(LESSON, learner)}
        for learner in sorted(path.name for path in (root / "submitted").iterdir())
    }


def measured(count: int, folder: Path) -> Times:
    """Time the three runs over the same evidence. Each class is a folder of one name, since the engines follow it."""
    write_evidence(folder / "evidence", count, "class")
    classes = {name: folder / name / "class" for name in ("judge", "grade", "stock", "judging")}
    for name, root in classes.items():
        root.parent.mkdir()
        hand_in(root, folder / "evidence", judging_source(folder / "source") if name == "judging" else SOURCE)
    runs = {
        "judge": lambda root: seconds_of_grade(root, False),
        "grade": lambda root: seconds_of_grade(root, True),
        "stock": seconds_of_stock,
        "judging": seconds_of_stock,
    }
    taken = []
    for name, run in runs.items():
        os.environ["TIMING_COURSE_CACHE"] = str(folder / name / "maps")  # no run finds the engines of another
        taken.append(run(classes[name]))
    times = Times(*taken)
    print(f"\n{count} hand-ins of {LESSON}\n{times}")
    assert scores(classes["grade"]) == scores(classes["judging"])
    return times


@pytest.mark.benchmark
@pytest.mark.classroom
def test_grading_a_class_beside_executing_it(tmp_path, capsys):
    """Thirty hand-ins side by side: the same scores; how long each way takes is printed."""
    with capsys.disabled():
        measured(HAND_INS, tmp_path)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        measured(int(sys.argv[1]) if sys.argv[1:] else HAND_INS, Path(place))
