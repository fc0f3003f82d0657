"""How a class run grows from ten learners to three hundred, beside nbgrader's own autograde on a sample, in one run.

The hand-ins hold the answers to lesson l04 and no work at the bench, but for every tenth, which has all of it: so that
what is measured is the class run. Stock autograde executes the cells of ten of them, which judges nothing; what three
hundred would take is extrapolated from that, and the printout says so.

On its own: `python -m tests.benchmarks.test_class_growth [LEARNERS ...]`.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path

import pytest

from course.commands import make_class as class_folder
from tests.benchmarks.processor import Taken
from tests.benchmarks.test_class_run import LESSON, grade, stock
from tests.scripted_learner import evidence_by
from tests.submissions import hostile

SIZES = (10, 30, 100, 300)
SAMPLE = 10
CLASS = "class"


def make_class(root: Path, learners: int, worked: Path | None) -> None:
    """A class in which that many handed in; the evidence of those who worked at the bench is taken from `worked`."""
    class_folder.make(root, source=hostile.source_of_one_lesson(root.parent / "lessons"))
    for number in range(learners):
        learner = f"learner{number:03d}"
        folder = root / "submitted" / learner / LESSON
        shutil.copytree(root / "release" / LESSON, folder)
        (folder / "learner.toml").write_text(f'name = "{learner}"\n', encoding="utf-8")
        if worked and number % 10 == 0:
            shutil.copyfile(worked / f"{learner}.jsonl", folder / hostile.EVIDENCE)
        else:
            hostile.answered(folder, learner, CLASS)


def growth(sizes: tuple[int, ...], place: Path) -> list[tuple[int, Taken]]:
    """Grade a class of each size with empty caches; print and return what it took; print the stock sample's."""
    worked = place / "worked"
    worked.mkdir()
    for number in range(0, max(sizes), 10):
        evidence_by(worked / f"learner{number:03d}.jsonl", f"learner{number:03d}", class_id=CLASS)
    taken = []
    for size in sizes:
        root = place / str(size) / CLASS
        root.parent.mkdir()
        make_class(root, size, worked)
        os.environ["TIMING_COURSE_CACHE"] = str(place / str(size) / "maps")
        taken.append((size, grade(root)))
        each = taken[-1][1].each(size)
        print(f"{size:4d} learners: {taken[-1][1]} with feedback pages, {each.clock_s:.3f} s each")
    theirs = place / "stock" / CLASS
    theirs.parent.mkdir()
    make_class(theirs, SAMPLE, worked)
    sample = stock(theirs)
    each_s = sample.each(SAMPLE).clock_s
    print(
        f"nbgrader's own autograde, executing {SAMPLE} of them: {sample}, {each_s:.2f} s each; for "
        f"{sizes[-1]} that would be {each_s * sizes[-1]:.0f} s (extrapolated, not measured), "
        f"{sample.each(SAMPLE).times(taken[-1][1].each(sizes[-1]))}"
    )
    return taken


@pytest.mark.benchmark
@pytest.mark.classroom
def test_a_class_run_grows_with_the_class(tmp_path, capsys):
    """Ten to three hundred learners in one run: seconds and seconds a learner are printed."""
    with capsys.disabled():
        assert [size for size, _ in growth(SIZES, tmp_path)] == list(SIZES)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        growth(tuple(map(int, sys.argv[1:])) or SIZES, Path(folder))
