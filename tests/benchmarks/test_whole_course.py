"""A whole class with all lessons judged by `grade`, beside nbgrader's own autograde of some of the same notebooks, in
one run.

Everybody did without a fault whatever a machine can do so. nbgrader as it comes executes the cells of the sample's
notebooks, which judges nothing; what the class would take is extrapolated from that, and the printout says so.

On its own: `python -m tests.benchmarks.test_whole_course [LEARNERS [SAMPLE]]`.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path

import pytest

from course import ENGINES
from course.authoring.edition import lessons
from course.commands import make_class
from engine_sim import EvidenceWriter
from graders.exercises.loader import load_rubric
from graders.model_answers.model_learner import faultless_evidence
from tests.benchmarks.processor import Taken
from tests.benchmarks.test_class_run import grade, stock

LEARNERS, SAMPLE = 30, 3
CLASS = "class"


def write_evidence(folder: Path, learners: int) -> None:
    """What everybody leaves in every lesson."""
    for number in range(learners):
        learner = f"learner{number:03d}"
        for lesson in lessons():
            evidence = faultless_evidence(load_rubric(lesson), learner, CLASS, ENGINES)
            place = folder / learner / lesson
            place.mkdir(parents=True)
            (place / "learner.toml").write_text(f'name = "{learner}"\n', encoding="utf-8")
            writer = EvidenceWriter(place / "evidence.jsonl", evidence.header)
            for event in evidence.events:
                writer.append(event)
        print(f"\r{number + 1} of {learners} learners have done their lessons", end="", flush=True)
    print()


def hand_in(root: Path, evidence: Path, learners: int) -> None:
    """A class in which the first `learners` handed in every lesson."""
    root.parent.mkdir()
    make_class.make(root)
    for learner in sorted(path.name for path in evidence.iterdir())[:learners]:
        for lesson in lessons():
            folder = root / "submitted" / learner / lesson
            shutil.copytree(root / "release" / lesson, folder)
            shutil.copytree(evidence / learner / lesson, folder, dirs_exist_ok=True)


def measured(learners: int, sample: int, place: Path) -> tuple[Taken, Taken]:
    """What a notebook takes each way; prints it."""
    write_evidence(place / "evidence", learners)
    ours, theirs = place / "ours" / CLASS, place / "stock" / CLASS
    hand_in(ours, place / "evidence", learners)
    hand_in(theirs, place / "evidence", sample)
    os.environ["TIMING_COURSE_CACHE"] = str(place / "ours" / "maps")
    whole, notebooks = grade(ours), learners * len(lessons())
    each = whole.each(notebooks)
    print(
        f"{learners} learners, {len(lessons())} lessons: {whole} with feedback pages, {each.clock_s:.3f} s a notebook"
    )
    os.environ["TIMING_COURSE_CACHE"] = str(place / "stock" / "maps")
    executed = sample * len(lessons())
    stock_whole = sum((stock(theirs, lesson) for lesson in lessons()), Taken(0.0, 0.0))
    stock_each = stock_whole.each(executed)
    print(
        f"nbgrader's own autograde, executing {executed} of these notebooks: {stock_whole}, {stock_each.clock_s:.2f} s "
        f"a notebook; for all {notebooks} that would be {stock_each.clock_s * notebooks:.0f} s (extrapolated, not "
        f"measured), {stock_each.times(each)}"
    )
    return each, stock_each


@pytest.mark.benchmark
@pytest.mark.classroom
def test_a_class_with_every_lesson(tmp_path, capsys):
    """Thirty learners, all lessons: seconds a notebook are printed, beside those of executing it."""
    with capsys.disabled():
        assert all(one.clock_s > 0.0 for one in measured(LEARNERS, SAMPLE, tmp_path))


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        measured(*(int(given) for given in (*sys.argv[1:], *(LEARNERS, SAMPLE)[len(sys.argv) - 1 :])), Path(folder))
