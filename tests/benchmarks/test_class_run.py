"""Thirty hand-ins judged by `grade` beside nbgrader's own autograde of the same notebooks, in one run.

On its own: `python tests/benchmarks/test_class_run.py [HAND-INS]`.
"""

from __future__ import annotations

import importlib.util
import shutil
import sys
import tempfile
import time
from pathlib import Path

import pytest

from course import class_folder
from graders.classroom import Classroom

LESSON = "l04_base_timing"
HAND_INS = 30
WANTED_RATIO = 8.0


def scripted_learner():
    """The module of the scripted learner, which lies beside the tests and is no package."""
    path = Path(__file__).parents[1] / "scripted_learner.py"
    if path.stem not in sys.modules:
        spec = importlib.util.spec_from_file_location(path.stem, path)
        sys.modules[path.stem] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[path.stem])
    return sys.modules[path.stem]


def hand_in_by_many(root: Path, count: int) -> None:
    """A class in `root` in which `count` learners each did the whole lesson on an engine of their own."""
    class_folder.make(root)
    for number in range(count):
        learner = f"learner{number:02d}"
        folder = root / "submitted" / learner / LESSON
        shutil.copytree(root / "release" / LESSON, folder)
        scripted_learner().evidence_by(folder / "evidence.jsonl", learner, class_id=root.name)


def seconds_of_grade(root: Path) -> float:
    """What `timing-course grade` takes: judging, gradebook and feedback pages."""
    began = time.perf_counter()
    room = Classroom(root)
    reports = room.judge(LESSON)
    failures = room.feedback(reports)
    took = time.perf_counter() - began
    assert not failures and all(report.judged_now and report.points > 0.0 for report in reports)
    return took


def seconds_of_stock(root: Path) -> float:
    """What nbgrader takes as it comes: it starts a kernel for every hand-in and executes all cells. No feedback pages."""
    from nbgrader.converters import Autograde
    from nbgrader.coursedir import CourseDirectory

    directory = CourseDirectory()
    directory.root, directory.assignment_id = str(root), LESSON
    began = time.perf_counter()
    Autograde(coursedir=directory).start()
    took = time.perf_counter() - began
    assert len(list((root / "autograded").glob(f"*/{LESSON}/{LESSON}.ipynb"))) == len(list((root / "submitted").iterdir()))
    return took


def measured(count: int, folder: Path) -> tuple[float, float]:
    """Seconds of `grade` and of the stock run on copies of one class."""
    ours, stock = folder / "ours", folder / "stock"
    hand_in_by_many(ours, count)
    shutil.copytree(ours, stock)
    grade_s, stock_s = seconds_of_grade(ours), seconds_of_stock(stock)
    print(f"\n{count} hand-ins of {LESSON}: grade with feedback pages {grade_s:.1f} s, nbgrader's own autograde "
          f"{stock_s:.1f} s, ratio {stock_s / grade_s:.1f} (wanted: at least {WANTED_RATIO:g})")
    return grade_s, stock_s


@pytest.mark.benchmark
@pytest.mark.classroom
def test_grading_a_class_is_eight_times_as_quick_as_executing_it(tmp_path, capsys):
    """The same thirty notebooks, side by side."""
    with capsys.disabled():
        grade_s, stock_s = measured(HAND_INS, tmp_path)
    assert stock_s / grade_s >= WANTED_RATIO


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        measured(int(sys.argv[1]) if sys.argv[1:] else HAND_INS, Path(place))
