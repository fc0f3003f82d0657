"""A class run: everything that was handed in is judged by nbgrader with our judge; one bad hand-in stops nobody else.

What nbgrader gets to see is a clean copy of each hand-in in a folder of its own, so that links and huge files are never
followed nor copied; its grades go into a copy of the gradebook that takes the gradebook's place learner by learner. A
hand-in whose verdict is already in the gradebook is not judged again, so that a person's marks stay as they are; nor is
it after an update of the course.
"""

from __future__ import annotations

import json
import shutil
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path

from engine_sim import TimingCourseError
from engine_sim.version import Edition
from graders.exercises.loader import rubric_for
from graders.judge import needs_other_model
from graders.judge.worker_pool import LOG, JudgePool, Task, logged_to
from graders.nbgrader_bridge.course_config import CellGrade, CourseFolderError, NbgraderCourse, sound_time
from graders.nbgrader_bridge.judge_step import RECORD, judging_by
from graders.nbgrader_bridge.lateness import IN_TIME, Lateness
from graders.nbgrader_bridge.marks import as_shown, marks_that_count
from graders.outcome import BROKE, COURSE_FAULT, FAULTS_OF_OURS
from graders.schema import RubricError
from graders.submissions.command_name import command_line
from graders.submissions.folder import SECRET_NAME, TIMESTAMP_NAME, look_at, name_problem, printable
from graders.submissions.roster import Filed, Roster, about_stranger, class_handed_out, filed_hand_ins
from graders.submissions.verdict_key import ToJudge, own_rubrics

from .class_list import bring_names, ghosts
from .gradebook_copy import GradebookError, OneAtATime, WorkingCopy
from .nbgrader_cache import kept_engines

JUDGED, NEEDS_PERSON, NOTHING, NOT_JUDGED = "judged", "needs a person", "nothing handed in", "not judged"
WAITING = "not judged yet"
ANOTHER_LEARNER = "another learner"
_IN_HAND, _SETTLED = "judging_", ".settled.json"
_TRIES = 5

Progress = Callable[[str, int, int], None]  # what is being done, how many are done, how many there are


@dataclass(frozen=True)
class HandInReport:
    """One learner's line of the summary. `reasons` says why a person must look, `remarks` what else was noticed, and
    `kept_from` names another edition of the course whose verdict stands. `failed` says what of ours kept it from being
    judged in this run. No sign of a hand-in in these sentences moves a terminal.

    Of the reasons, `questions` are those that are more than an answer waiting for its mark, and `to_mark` has the
    exercises of the others. `marked_unasked` has a sentence for each mark by hand where nothing waited for one.
    """

    learner: str
    lesson: str
    status: str
    points: float = 0.0
    max_points: float = 0.0
    reasons: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    judged_now: bool = False
    kept_from: str = ""
    failed: str = ""
    questions: tuple[str, ...] = ()
    to_mark: tuple[str, ...] = ()
    marked_unasked: tuple[str, ...] = ()
    late: Lateness = IN_TIME

    def __post_init__(self):
        for name in ("reasons", "remarks", "questions", "marked_unasked"):
            object.__setattr__(self, name, tuple(map(printable, getattr(self, name))))

    @property
    def counted(self) -> float:
        """The points that count: those that were earned, less those that are taken off for a late hand-in."""
        return max(self.points - self.late.penalty, 0.0)


class Classroom:
    """The class in `root`. Raises CourseFolderError, RosterError, RubricError or GradebookError, whose text is fit for
    the instructor."""

    def __init__(self, root: Path, again: bool = False, workers: int | None = None):
        self.course = NbgraderCourse(root)
        self.again, self.workers = again, workers
        self.made_with = Edition.of(self.course.config.Judge.get("made_with"))
        self.engines = Path(self.course.config.Judge.get("engines", ""))
        self.submitted = self.course.directory.submitted_directory
        self.rubrics = own_rubrics(self.course.root)
        self.unusable = self._unusable_rubrics()
        self.pages_made: set[tuple[str, str]] = set()
        self.roster = self._roster()
        self._filed: dict[tuple[str, str], Filed] = {}
        self._left: dict[tuple[str, str], dict] = {}

    def judge(
        self,
        lesson: str | None = None,
        progress: Progress = lambda *_: None,
        then: Callable[[HandInReport], None] = lambda _: None,
    ) -> list[HandInReport]:
        """Judge all hand-ins of one lesson, or of every lesson, and return a line for each learner and lesson.

        `then` is called with each line as soon as its verdict is in the gradebook, while further verdicts are still
        being worked out: the time to make its page.
        """
        lessons = [name for name in self.lessons(lesson) if name not in self.unusable]
        if lesson in self.unusable:
            raise RubricError(self.unusable[lesson])
        reports = []
        with (
            OneAtATime(self.course.root),
            self._named_gradebook() as copy,
            kept_engines(),
            self._clean_copies() as clean,
        ):
            self._left = self._left_in_hand()
            work = [
                (filed, name, self._is_wanted(name, filed) or (filed.learner, name) in self._left)
                for name in lessons
                for filed in self._file(name)
            ]
            tasks = [self._task(name, filed.learner) for filed, name, wanted in work if wanted]
            log = self.course.root / LOG
            with (
                logged_to(log),
                JudgePool([task for task in tasks if task], self.workers, log=log) as ahead,
                judging_by(ahead.verdict, self.to_judge),
            ):
                for done, (filed, name, wanted) in enumerate(work):
                    progress(f"{name}: {filed.learner}", done, len(work))
                    reports.append(self._report(name, filed, wanted, copy, clean))
                    then(reports[-1])
            self._clear_hands(lesson)
        progress("done", len(work), len(work))
        return reports

    def standing(self, lesson: str | None = None) -> list[HandInReport]:
        """Where everybody stands, by the gradebook alone: nothing is judged."""
        with kept_engines():
            return [self._stands(name, filed) for name in self.lessons(lesson) for filed in self._file(name)]

    def feedback(self, reports: list[HandInReport]) -> list[str]:
        """Make the feedback pages of all that were judged; return one sentence for each page that could not be made."""
        with kept_engines():
            return [sentence for sentence in map(self.page, reports) if sentence]

    def page(self, report: HandInReport) -> str:
        """Make one learner's feedback page where it is not up to date; return a sentence where it could not be made."""
        if report.status not in (JUDGED, NEEDS_PERSON) or not self.record(report.lesson, report.learner):
            return ""
        if self._page_is_current(report):
            return ""
        try:
            self.course.feedback(report.lesson, report.learner)
            self.pages_made.add((report.lesson, report.learner))
            self._page_key_path(report).write_text(self._page_key(report), encoding="utf-8")
        except Exception as error:  # one page that cannot be made must not keep the others from their pages
            return f"{printable(report.learner)}: no feedback page could be made ({self._logged(error)})."
        return ""

    def lessons(self, lesson: str | None = None) -> list[str]:
        """The lessons of the class, or the one that is named. Raises CourseFolderError where there is none of it."""
        released = self.course.lessons()
        if lesson is None:
            return released
        if lesson not in released:
            raise CourseFolderError(
                f"There is no lesson '{lesson}' in this class; there are {', '.join(released) or 'none yet'}."
            )
        return [lesson]

    def _roster(self) -> Roster:
        """The class list; where there is none, whoever the gradebook knows or has a folder in submitted/."""
        known = self.course.learners()
        merged = {ghost.name for ghost in ghosts(self.course) if len(ghost.ids) == 1}  # their work is somebody's listed
        roster = Roster.of(self.course.root, [name for name in known if name not in merged])
        if roster.listed:
            return roster
        folders = (self.course.root / self.submitted).glob("*/")
        return Roster.of(
            self.course.root, {*roster.entries, *(path.name for path in folders if not name_problem(path.name))}
        )

    def _unusable_rubrics(self) -> dict[str, str]:
        """Lesson -> a sentence, for each rubric of the class's own that cannot be used: nobody is judged by it, and the
        other lessons are judged."""
        found: dict[str, str] = {}
        if self.rubrics is None:
            return found
        for lesson in self.course.lessons():
            if (self.rubrics / f"{lesson}.toml").is_file():
                try:
                    rubric_for(lesson, self.rubrics)
                except TimingCourseError as error:
                    found[lesson] = str(error)
        return found

    def _file(self, lesson: str) -> list[Filed]:
        """Everyone on the class list and everyone with a hand-in of this lesson, sorted."""
        handed_out = class_handed_out(self.course.folder(self.course.directory.source_directory, ".", lesson))
        filed = filed_hand_ins(self.roster, self.course.root / self.submitted, lesson, self.course.typed, handed_out)
        self._filed |= {(lesson, one.learner): one for one in filed}
        return filed

    def _is_wanted(self, lesson: str, filed: Filed) -> bool:
        """Whether there is a hand-in whose verdict the gradebook does not hold yet, or is wanted again."""
        if filed.question or not filed.folder:
            return False
        record = self.record(lesson, filed.learner)
        if self._is_judged(record, lesson, filed.learner):
            return self.again
        return not self._kept_from(record, lesson, filed.learner)

    def to_judge(self, learner: str, lesson: str) -> ToJudge:
        """The hand-in of a learner whose folder was looked up by `judge` or `standing`."""
        filed = self._filed[lesson, learner]
        found = look_at(self.course.root, self.submitted, filed.folder, lesson)
        return ToJudge(learner, lesson, found, filed.name, self.engines, self.rubrics)

    def _task(self, lesson: str, learner: str) -> Task | None:
        wanted = self.to_judge(learner, lesson)
        return Task(*wanted.arguments) if wanted.has_rubric and not wanted.found.problem else None

    def _stands(self, lesson: str, filed: Filed) -> HandInReport:
        if filed.question or not filed.folder:
            return self._from_gradebook(lesson, filed, NOT_JUDGED if filed.question else NOTHING)
        record = self.record(lesson, filed.learner)
        digest = self.to_judge(filed.learner, lesson).found.digest()
        judged = record.get("hand_in") == digest and self._is_in_gradebook(record, lesson, filed.learner)
        return self._from_gradebook(lesson, filed, JUDGED if judged else WAITING)

    def _report(self, lesson: str, filed: Filed, wanted: bool, copy: WorkingCopy | None, clean: Path) -> HandInReport:
        try:
            if filed.question or not filed.folder:
                return self._from_gradebook(lesson, filed, NOT_JUDGED if filed.question else NOTHING)
            if wanted:
                self._judge_one(lesson, filed.learner, copy, clean)
            return self._from_gradebook(lesson, filed, JUDGED, judged_now=wanted)
        except GradebookError:
            raise
        except Exception as error:  # one hand-in may fail in any way: the others are judged
            if copy is not None:
                copy.begin_again()
            shutil.rmtree(clean / filed.learner, ignore_errors=True)
            sentence = f"It could not be judged ({self._logged(error)}); the gradebook was left as it was."
            return HandInReport(filed.learner, lesson, NEEDS_PERSON, reasons=(sentence,), failed=sentence)

    def _judge_one(self, lesson: str, learner: str, copy: WorkingCopy | None, clean: Path) -> None:
        """Judge one hand-in into the gradebook. Its clean copy lies there for as long as that is not finished, so that
        a run which was ended in the middle is put right by the next one."""
        settled = self._settled_marks(lesson, learner)
        (clean / learner).mkdir(exist_ok=True)
        (clean / learner / f"{lesson}{_SETTLED}").write_text(json.dumps(settled), encoding="utf-8")
        self._copy_cleanly(lesson, learner, clean)
        for _ in range(_TRIES):
            with self.course.writing_into(copy.url) if copy else nullcontext():
                self.course.autograde(lesson, learner, clean.name)
                self.course.settle(lesson, learner, settled["cells"])
            if copy is None or copy.take_over():
                shutil.rmtree(clean / learner)
                return
        raise GradebookError(
            "Another program keeps writing to the gradebook: close the marking screen and run this again."
        )

    def _settled_marks(self, lesson: str, learner: str) -> dict:
        """Cells whose marks by a person need no second look, with the automatic points that were seen: those of a
        hand-in that is only judged again, by another rubric or edition of the course.

        Where a run was ended over this hand-in, what it had found before it began counts: the judged notebook may be
        ahead of the gradebook.
        """
        digest = self.to_judge(learner, lesson).found.digest()
        before = self._left.get((learner, lesson))
        if before is not None:
            return before if before["hand_in"] == digest else {"hand_in": digest, "cells": {}}
        seen = self.course.grades(lesson, learner) if self.record(lesson, learner).get("hand_in") == digest else []
        return {
            "hand_in": digest,
            "cells": {
                grade.name: grade.auto_points for grade in seen if grade.marked_by_person and not grade.needs_person
            },
        }

    def _copy_cleanly(self, lesson: str, learner: str, clean: Path) -> None:
        """Lay out what nbgrader may see of a hand-in: its notebooks, an empty one where there is none, its time."""
        found = self.to_judge(learner, lesson).found
        target = clean / learner / lesson
        shutil.rmtree(target, ignore_errors=True)
        target.mkdir(parents=True)
        for name in (f"{notebook}.ipynb" for notebook in self.course.notebooks(lesson)):
            (target / name).write_bytes(found.files[name].read_bytes() if name in found.files else b"")
        time = sound_time(found.files.get(TIMESTAMP_NAME))
        if time:
            (target / TIMESTAMP_NAME).write_text(time, encoding="utf-8")
        if SECRET_NAME in found.files:
            shutil.copyfile(found.files[SECRET_NAME], target / SECRET_NAME)

    def _is_judged(self, record: dict, lesson: str, learner: str) -> bool:
        """Whether the gradebook already holds the verdict on exactly this hand-in by exactly this rubric."""
        return (
            bool(record)
            and record["key"] == self._key(lesson, learner)
            and self._is_in_gradebook(record, lesson, learner)
        )

    def _kept_from(self, record: dict, lesson: str, learner: str) -> str:
        """Another edition of the course, in words, whose verdict on exactly this hand-in stands; else nothing.

        A verdict that was reached stands until it is wanted again. One on work at an engine of another model stands
        even then, since this edition cannot judge that.
        """
        edition = Edition.of(record.get("edition"))
        if not record or edition == Edition.here() or record.get("problem"):
            return ""
        wanted = self.to_judge(learner, lesson)
        if record.get("hand_in") != wanted.found.digest() or not self._is_in_gradebook(record, lesson, learner):
            return ""
        found = record["exercises"].values()
        if (
            wanted.has_rubric
            and lesson not in self.unusable
            and needs_other_model(lesson, wanted.found.evidence, self.rubrics)
        ):
            stands = not any(one.get("other_models") for one in found)
        else:
            is_reached = not any(one["needs_person"] and not one.get("answered") for one in found)
            stands = is_reached and not self.again and record["key"].startswith(f"{wanted.given()}.")
        return str(edition or "an earlier edition of the course") if stands else ""

    def is_by_present_rules(self, lesson: str, learner: str) -> bool:
        """Whether what stands in the gradebook was judged by the rubric and the edition of the course of today."""
        return self.record(lesson, learner).get("key") == self._key(lesson, learner)

    def _is_in_gradebook(self, record: dict, lesson: str, learner: str) -> bool:
        grades = {grade.name: grade for grade in self.course.grades(lesson, learner)}
        return all(
            name in grades
            and grades[name].auto_points in (found["points"], None)
            and grades[name].max_points == found["max_points"]
            for name, found in record["exercises"].items()
        )

    def _key(self, lesson: str, learner: str) -> str:
        return self.to_judge(learner, lesson).key()

    def record(self, lesson: str, learner: str) -> dict:
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

    def _from_gradebook(self, lesson: str, filed: Filed, status: str, judged_now: bool = False) -> HandInReport:
        grades = self.course.grades(lesson, filed.learner)
        record = self.record(lesson, filed.learner) if status != NOTHING else {}
        to_mark = _to_mark(grades, record)
        named = [*filter(None, (filed.question, filed.doubt))]
        reasons, questions = [*named, *_reasons(grades, record)], [*named, *_reasons(grades, record, to_mark)]
        if filed.stranger and record.get("problem_kind") == ANOTHER_LEARNER:
            about = about_stranger(self.roster, filed, self.course.typed)
            reasons.append(about)
            questions.append(about)
        remarks = [*record.get("remarks", ()), *filed.remarks]
        if filed.folder not in ("", filed.learner):
            remarks.append(
                f"It lies in {self.submitted}/{filed.folder} and was taken for {filed.learner}'s, by the class list."
            )
        status = NEEDS_PERSON if reasons and status == JUDGED else status
        return HandInReport(
            learner=filed.learner,
            lesson=lesson,
            status=status,
            points=sum(grade.points for grade in grades),
            max_points=sum(grade.max_points for grade in grades),
            reasons=tuple(reasons),
            remarks=tuple(remarks),
            judged_now=judged_now,
            failed=record["problem"] if judged_now and record.get("problem_kind") in (*FAULTS_OF_OURS, BROKE) else "",
            kept_from="" if judged_now else self._kept_from(record, lesson, filed.learner),
            questions=tuple(questions),
            to_mark=tuple(to_mark),
            marked_unasked=_marked_unasked(grades, record),
            late=self.course.lateness(lesson, filed.learner) if status not in (NOTHING, WAITING) else IN_TIME,
        )

    def _page_key(self, report: HandInReport) -> str:
        comments = self.course.comments(report.lesson, report.learner)
        grades = [(grade.name, grade.points) for grade in self.course.grades(report.lesson, report.learner)]
        record = self.record(report.lesson, report.learner)
        with self.course.gradebook() as gradebook:
            marks = marks_that_count(gradebook, report.lesson, report.learner)
        by_criterion = {name: as_shown(kept) for name, kept in marks.items()}
        made_from = [record, grades, comments, str(report.late), *([by_criterion] if by_criterion else [])]
        return json.dumps(made_from, sort_keys=True)

    def _page_key_path(self, report: HandInReport) -> Path:
        pages = self.course.directory.feedback_directory
        return self.course.folder(pages, report.learner, report.lesson) / ".made-from"

    def _page_is_current(self, report: HandInReport) -> bool:
        path = self._page_key_path(report)
        pages = [path.with_name(f"{name}.html") for name in self.course.notebooks(report.lesson)]
        return (
            not report.judged_now
            and path.is_file()
            and all(page.is_file() for page in pages)
            and path.read_text(encoding="utf-8") == self._page_key(report)
        )

    def _logged(self, error: Exception) -> str:
        with (self.course.root / LOG).open("a", encoding="utf-8") as log:
            log.write("".join(traceback.format_exception(error)) + "\n")
        return f"{type(error).__name__}; the details stand in {LOG}"

    def _named_gradebook(self):
        """The gradebook to work on, with everybody's name in it."""
        bring_names(self.course, self.roster.entries.values())
        return self._gradebook()

    def _gradebook(self):
        path = self.course.gradebook_path
        return WorkingCopy(path) if path else nullcontext()

    @contextmanager
    def _clean_copies(self) -> Iterator[Path]:
        folder = Path(tempfile.mkdtemp(prefix=_IN_HAND, dir=self.course.root))
        try:
            yield folder
        finally:
            _remove_where_empty(folder)

    def _left_in_hand(self) -> dict[tuple[str, str], dict]:
        """Learner and lesson of each hand-in that an earlier run was ended over, with the marks that were settled."""
        left = {}
        for path in self.course.root.glob(f"{_IN_HAND}*/*/*"):
            if path.is_dir():
                settled = path.with_name(f"{path.name}{_SETTLED}")
                try:
                    left[path.parent.name, path.name] = json.loads(settled.read_text(encoding="utf-8"))
                except (OSError, ValueError):  # not even that was written whole
                    left[path.parent.name, path.name] = {"hand_in": "", "cells": {}}
        return left

    def _clear_hands(self, lesson: str | None) -> None:
        """Remove what ended runs left, now that it was judged."""
        for path in [
            *self.course.root.glob(f"{_IN_HAND}*/*/{lesson or '*'}"),
            *self.course.root.glob(f"{_IN_HAND}*/*/{lesson or '*'}{_SETTLED}"),
        ]:
            shutil.rmtree(path) if path.is_dir() else path.unlink(missing_ok=True)
        for pattern in (f"{_IN_HAND}*/*", f"{_IN_HAND}*"):
            for folder in list(self.course.root.glob(pattern)):
                _remove_where_empty(folder)


def faults_of_ours(reports: Iterable[HandInReport]) -> list[str]:
    """A sentence for each lesson of which every hand-in that was to be judged in this run met the same fault of ours:
    that is for the instructor to put right, and not for each learner to read."""
    tried: dict[str, list[HandInReport]] = {}
    for report in reports:
        if report.judged_now or report.failed:
            tried.setdefault(report.lesson, []).append(report)
    found = {lesson: _common_fault(those) for lesson, those in tried.items()}
    return [
        f"{lesson}: all {len(tried[lesson])} hand-in(s) of this run met the same fault, which is the course's or this "
        f"computer's and nobody's work: {fault} Put it right and judge them again with "
        f"'{command_line('grade --again')}'."
        for lesson, fault in found.items()
        if fault
    ]


def _common_fault(tried: list[HandInReport]) -> str:
    if all(report.failed for report in tried):
        return tried[0].failed
    common = set(tried[0].reasons).intersection(*(report.reasons for report in tried))
    ours = sorted(reason for reason in common if reason.startswith(COURSE_FAULT))
    return ours[0] if ours and len(tried) > 1 else ""


def kept_in_words(editions: Iterable[str]) -> list[str]:
    """A sentence for each edition of the course whose verdicts stand; `editions` has one word for each hand-in."""
    counted = Counter(filter(None, editions))
    return [
        f"{number} hand-in(s) keep the points that {edition} gave them." for edition, number in sorted(counted.items())
    ]


def _remove_where_empty(folder: Path) -> None:
    if folder.is_dir() and not any(folder.iterdir()):
        folder.rmdir()


def _to_mark(grades: list[CellGrade], record: dict) -> list[str]:
    """Exercises that wait for nothing but a mark: an answer was given, or an earlier mark is to be looked at again."""
    exercises = record.get("exercises", {})
    return [
        grade.name
        for grade in grades
        if grade.needs_person
        and (exercises.get(grade.name, {}).get("answered") or not exercises.get(grade.name, {}).get("needs_person"))
        and not record.get("problem")
    ]


def _marked_unasked(grades: list[CellGrade], record: dict) -> tuple[str, ...]:
    """A sentence for each mark by hand in an exercise that the judge had settled."""
    exercises = record.get("exercises", {})
    return tuple(
        f"{grade.name} has a mark by hand ({grade.points:g} points) where nothing waited for one: the judge gave "
        f"{grade.auto_points or 0.0:g}."
        for grade in grades
        if grade.marked_by_person and grade.name in exercises and not exercises[grade.name].get("needs_person")
    )


def _reasons(grades: list[CellGrade], record: dict, left_out: Iterable[str] = ()) -> tuple[str, ...]:
    """Why a person must look: what the judge said of each exercise that waits for a mark, each sentence once."""
    exercises = record.get("exercises", {})
    waiting = [grade.name for grade in grades if grade.needs_person and grade.name not in left_out]
    reasons = {
        exercises.get(name, {}).get("needs_person") or f"{name} waits for a look at an earlier mark": None
        for name in waiting
    }
    if record.get("problem") and waiting:
        reasons = {record["problem"]: None} | {reason: None for reason in reasons if reason != record["problem"]}
    if any(reason.startswith(COURSE_FAULT) for reason in reasons):
        reasons[f"The details are in {LOG}."] = None
    return tuple(reasons)
