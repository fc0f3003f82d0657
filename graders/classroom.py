"""A class run: everything that was handed in is judged by nbgrader with our judge; one bad hand-in stops nobody else.

What nbgrader gets to see is a clean copy of each hand-in in a folder of its own, so that links and huge files are never
followed nor copied; its grades go into a copy of the gradebook that takes the gradebook's place learner by learner. A
hand-in whose verdict is already in the gradebook is not judged again, so that a person's marks stay as they are.
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path

from . import hand_in
from .ahead import JudgedAhead, Task
from .gradebook import GradebookError, WorkingCopy
from .nbgrader_bridge import RECORD, judging_by, verdict_key
from .nbgrader_course import CellGrade, CourseFolderError, NbgraderCourse, kept_engines, sound_time

JUDGED, NEEDS_PERSON, NOTHING, NOT_JUDGED = "judged", "needs a person", "nothing handed in", "not judged"
LOG = "judging.log"
_TRIES = 5

Progress = Callable[[str, int, int], None]  # what is being done, how many are done, how many there are


@dataclass(frozen=True)
class HandInReport:
    """One learner's line of the summary. `reasons` says why a person must look, `remarks` what else was noticed."""

    learner: str
    lesson: str
    status: str
    points: float = 0.0
    max_points: float = 0.0
    reasons: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    judged_now: bool = False


class Classroom:
    """The class in `root`. Raises CourseFolderError or GradebookError, whose text is fit for the instructor."""

    def __init__(self, root: Path, again: bool = False, workers: int | None = None):
        self.course = NbgraderCourse(root)
        self.again, self.workers = again, workers
        self.engines = Path(self.course.config.Judge.get("engines", ""))
        self.submitted = self.course.directory.submitted_directory

    def judge(self, lesson: str | None = None, progress: Progress = lambda *_: None,
              then: Callable[[HandInReport], None] = lambda _: None) -> list[HandInReport]:
        """Judge all hand-ins of one lesson, or of every lesson, and return a line for each learner and lesson.

        `then` is called with each line as soon as its verdict is in the gradebook, while further verdicts are still
        being worked out: the time to make its page.
        """
        lessons = self._lessons(lesson)
        reports = []
        with kept_engines(), self._gradebook() as copy, self._clean_copies() as clean:
            work = [(name, learner, self._is_wanted(name, learner)) for name in lessons
                    for learner in self._learners(name)]
            tasks = [self._task(name, learner) for name, learner, wanted in work if wanted]
            with JudgedAhead([task for task in tasks if task], self.workers) as ahead, judging_by(ahead.verdict):
                for done, (name, learner, wanted) in enumerate(work):
                    progress(f"{name}: {learner}", done, len(work))
                    reports.append(self._report(name, learner, wanted, copy, clean))
                    then(reports[-1])
        progress("done", len(work), len(work))
        return reports

    def feedback(self, reports: list[HandInReport]) -> list[str]:
        """Make the feedback pages of all that were judged; return one sentence for each page that could not be made."""
        with kept_engines():
            return [sentence for sentence in map(self.page, reports) if sentence]

    def page(self, report: HandInReport) -> str:
        """Make one learner's feedback page where it is not up to date; return a sentence where it could not be made."""
        if report.status not in (JUDGED, NEEDS_PERSON) or not self._record(report.lesson, report.learner):
            return ""
        if self._page_is_current(report):
            return ""
        try:
            self.course.feedback(report.lesson, report.learner)
            self._page_key_path(report).write_text(self._page_key(report), encoding="utf-8")
        except Exception as error:  # one page that cannot be made must not keep the others from their pages
            return f"{report.learner}: no feedback page could be made ({self._logged(error)})."
        return ""

    def _lessons(self, lesson: str | None) -> list[str]:
        released = self.course.lessons()
        if lesson is None:
            return released
        if lesson not in released:
            raise CourseFolderError(f"There is no lesson '{lesson}' in this class; there are "
                                    f"{', '.join(released) or 'none yet'}.")
        return [lesson]

    def _learners(self, lesson: str) -> list[str]:
        """Everyone on the roster and everyone with a folder of this lesson, sorted."""
        folder = self.course.root / self.submitted
        found = [entry.name for entry in os.scandir(folder)
                 if os.path.lexists(Path(entry.path) / lesson)] if folder.is_dir() else []
        return sorted({*found, *self.course.learners()})

    def _is_wanted(self, lesson: str, learner: str) -> bool:
        """Whether there is a hand-in whose verdict the gradebook does not hold yet, or is wanted again."""
        if hand_in.name_problem(learner) or not os.path.lexists(self.course.folder(self.submitted, learner, lesson)):
            return False
        try:
            return self.again or not self._is_judged(lesson, learner)
        except OSError:  # files that vanish or cannot be read while looked at: the hand-in's own line will say so
            return True

    def _task(self, lesson: str, learner: str) -> Task | None:
        found = hand_in.look_at(self.course.root, self.submitted, learner, lesson)
        return None if found.problem else Task(lesson, found.evidence, self.engines, learner)

    def _report(self, lesson: str, learner: str, wanted: bool, copy: WorkingCopy | None, clean: Path) -> HandInReport:
        sentence = hand_in.name_problem(learner)
        if sentence:
            return HandInReport(learner, lesson, NOT_JUDGED, reasons=(sentence,))
        try:
            if not os.path.lexists(self.course.folder(self.submitted, learner, lesson)):
                return self._from_gradebook(lesson, learner, NOTHING)
            if wanted:
                self._judge_one(lesson, learner, copy, clean)
            return self._from_gradebook(lesson, learner, JUDGED, judged_now=wanted)
        except GradebookError:
            raise
        except Exception as error:  # whatever one hand-in provokes, the others are judged
            if copy is not None:
                copy.begin_again()
            return HandInReport(learner, lesson, NEEDS_PERSON, reasons=(
                f"It could not be judged ({self._logged(error)}); the gradebook was left as it was.",))

    def _judge_one(self, lesson: str, learner: str, copy: WorkingCopy | None, clean: Path) -> None:
        self._copy_cleanly(lesson, learner, clean)
        for _ in range(_TRIES):
            with self.course.writing_into(copy.url) if copy else nullcontext():
                self.course.autograde(lesson, learner, clean.name)
            if copy is None or copy.take_over():
                return
        raise GradebookError("Another program keeps writing to the gradebook: close the marking screen and run this "
                             "again.")

    def _copy_cleanly(self, lesson: str, learner: str, clean: Path) -> None:
        """Lay out what nbgrader may see of a hand-in: its notebooks, an empty one where there is none, its time."""
        found = hand_in.look_at(self.course.root, self.submitted, learner, lesson)
        target = clean / learner / lesson
        shutil.rmtree(target, ignore_errors=True)
        target.mkdir(parents=True)
        for name in (f"{notebook}.ipynb" for notebook in self.course.notebooks(lesson)):
            (target / name).write_bytes(found.files[name].read_bytes() if name in found.files else b"")
        time = sound_time(found.files.get(hand_in.TIMESTAMP_NAME))
        if time:
            (target / hand_in.TIMESTAMP_NAME).write_text(time, encoding="utf-8")

    def _is_judged(self, lesson: str, learner: str) -> bool:
        """Whether the gradebook already holds the verdict on exactly this hand-in by exactly this rubric."""
        record = self._record(lesson, learner)
        if not record or record["key"] != self._key(lesson, learner):
            return False
        automatic = {grade.name: grade.auto_points for grade in self.course.grades(lesson, learner)}
        return all(name in automatic and automatic[name] in (found["points"], None)
                   for name, found in record["exercises"].items())

    def _key(self, lesson: str, learner: str) -> str:
        found = hand_in.look_at(self.course.root, self.submitted, learner, lesson)
        return verdict_key(found, lesson, self.engines)

    def _record(self, lesson: str, learner: str) -> dict:
        """What the judge wrote into the judged notebooks of one learner; empty where one is missing or damaged."""
        total: dict = {}
        folder = self.course.folder(self.course.directory.autograded_directory, learner, lesson)
        try:
            for name in self.course.notebooks(lesson):
                notebook = json.loads((folder / f"{name}.ipynb").read_text(encoding="utf-8"))
                record = notebook["metadata"][RECORD]
                total = {**record, "exercises": {**total.get("exercises", {}), **record["exercises"]}}
        except (OSError, ValueError, KeyError):
            return {}
        return total

    def _from_gradebook(self, lesson: str, learner: str, status: str, judged_now: bool = False) -> HandInReport:
        grades = self.course.grades(lesson, learner)
        record = self._record(lesson, learner) if status != NOTHING else {}
        reasons = _reasons(grades, record)
        return HandInReport(learner, lesson, NEEDS_PERSON if reasons else status,
                            sum(grade.points for grade in grades), sum(grade.max_points for grade in grades),
                            reasons, tuple(record.get("remarks", ())), judged_now)

    def _page_key(self, report: HandInReport) -> str:
        with self.course.gradebook() as gradebook:
            handed_in = gradebook.find_submission(report.lesson, report.learner)
            comments = [comment.comment for notebook in handed_in.notebooks for comment in notebook.comments]
        grades = [(grade.name, grade.points) for grade in self.course.grades(report.lesson, report.learner)]
        return json.dumps([self._record(report.lesson, report.learner), grades, comments], sort_keys=True)

    def _page_key_path(self, report: HandInReport) -> Path:
        pages = self.course.directory.feedback_directory
        return self.course.folder(pages, report.learner, report.lesson) / ".made-from"

    def _page_is_current(self, report: HandInReport) -> bool:
        path = self._page_key_path(report)
        pages = [path.with_name(f"{name}.html") for name in self.course.notebooks(report.lesson)]
        return (not report.judged_now and path.is_file() and all(page.is_file() for page in pages)
                and path.read_text(encoding="utf-8") == self._page_key(report))

    def _logged(self, error: Exception) -> str:
        with (self.course.root / LOG).open("a", encoding="utf-8") as log:
            log.write("".join(traceback.format_exception(error)) + "\n")
        return f"{type(error).__name__}; the details stand in {LOG}"

    def _gradebook(self):
        path = self.course.gradebook_path
        return WorkingCopy(path) if path else nullcontext()

    @contextmanager
    def _clean_copies(self) -> Iterator[Path]:
        folder = Path(tempfile.mkdtemp(prefix="judging_", dir=self.course.root))
        try:
            yield folder
        finally:
            shutil.rmtree(folder, ignore_errors=True)


def _reasons(grades: list[CellGrade], record: dict) -> tuple[str, ...]:
    """Why a person must look: what the judge said of each exercise that waits for a mark, each sentence once."""
    exercises = record.get("exercises", {})
    waiting = [grade.name for grade in grades if grade.needs_person]
    reasons = {exercises.get(name, {}).get("needs_person") or f"{name} waits for a look at an earlier mark": None
               for name in waiting}
    if record.get("problem") and waiting:
        reasons = {record["problem"]: None} | {reason: None for reason in reasons if reason != record["problem"]}
    return tuple(reasons)
