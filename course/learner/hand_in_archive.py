"""Handing in without a server: one archive with a lesson's notebook and evidence, named so that it can be collected.

The name is LEARNER--LESSON--TIME.zip; the class's nbgrader_config.py reads learner, lesson and time from it.
"""

from __future__ import annotations

import os
import re
import tempfile
import unicodedata
import zipfile
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from engine_sim import LARGEST_FILE_BYTES, Evidence, EvidenceError, TimingCourseError, read_evidence, version
from graders.exercises.kinds.exercise import Exercise
from graders.exercises.loader import rubric_for
from graders.judge import other_models
from graders.submissions.command_name import command_line

from .lesson_folder import EVIDENCE_NAME, for_learners, learner_of

FOLDER = "hand-in"
LONGEST_NAME_BYTES = 120
_NOT_IN_A_NAME = re.compile(r'[\[\]*?{}\\/,+<>|:"\x00-\x1f\x7f]')


class HandInError(TimingCourseError):
    """There is nothing that could be handed in."""


@dataclass(frozen=True)
class Ready:
    """What is there to hand in of one lesson: the files by their name in the archive, and a sentence for each thing
    that is missing."""

    lesson: str
    learner: str
    files: dict[str, Path]
    missing: tuple[str, ...]


def lesson_in(folder: Path, lesson: str = "") -> Path:
    """The folder of the lesson to hand in: `folder` itself, the one that was named or whose folder was given, or the
    only one there is."""
    if lesson and Path(lesson).is_dir() and _is_lesson(Path(lesson).resolve()):
        return Path(lesson).resolve()
    if _is_lesson(folder.resolve()) and not lesson:
        return folder.resolve()
    found = sorted(path.name for path in folder.glob("*/") if _is_lesson(path))
    if lesson and lesson not in found:
        raise HandInError(
            f"There is no lesson '{lesson}' in {folder}; there is {', '.join(found) or 'none'}: "
            "name one of them, or say which folder your lessons are in with --folder."
        )
    if not lesson and len(found) != 1:
        raise HandInError(
            f"Which lesson is to be handed in? In {folder} there is {', '.join(found) or 'none'}: name "
            f"it, as in '{command_line('hand-in l04_base_timing')}'."
        )
    return (folder / (lesson or found[0])).resolve()


def _is_lesson(folder: Path) -> bool:
    return (folder / f"{folder.name}.ipynb").is_file() or (folder / EVIDENCE_NAME).is_file()


def look_through(folder: Path) -> Ready:
    """See what there is to hand in of the lesson in `folder`. Raises HandInError where there is nothing at all."""
    folder = Path(folder).resolve()
    notebook = f"{folder.name}.ipynb"
    wanted = {name: folder / name for name in (notebook, EVIDENCE_NAME, "class.toml")}
    files = {
        name: path
        for name, path in wanted.items()
        if path.is_file() and not path.is_symlink() and path.stat().st_size <= LARGEST_FILE_BYTES
    }
    if notebook not in files and EVIDENCE_NAME not in files:
        raise HandInError(f"There is nothing to hand in in {folder}: open the lesson and do its exercises first.")
    missing = [] if notebook in files else [f"The notebook {notebook} is not there; your work is judged without it."]
    return Ready(folder.name, learner_of(folder), files, (*missing, *_missing_work(folder)))


def _missing_work(folder: Path) -> list[str]:
    """A sentence for everything that was not begun, or why the evidence cannot be read."""
    try:
        evidence = read_evidence(folder / EVIDENCE_NAME)
        rubric = rubric_for(folder.name, folder)
    except EvidenceError as error:
        return [for_learners(str(error))]
    except TimingCourseError:
        return []  # a lesson of the instructor's own, of which nothing more is known here
    return [sentence for exercise in rubric.exercises.values() if (sentence := _missing_in(exercise, evidence))]


def _missing_in(exercise: Exercise, evidence: Evidence) -> str:
    """What is missing in one exercise, or nothing."""
    if not evidence.of_exercise(exercise.id):
        return f"'{exercise.title}' was not begun."
    others = other_models(exercise, evidence)
    if not others or version.MODEL_VERSION in evidence.models_of(exercise.id):
        return ""
    return (
        f"'{exercise.title}' was done on engine model {' and '.join(others)}, before the course was updated to model "
        f"{version.MODEL_VERSION}: do it once more, or your instructor looks at it."
    )


def make_archive(ready: Ready, target: Path, now: datetime | None = None) -> Path:
    """Make the archive in the folder `target`, in one step, and return its path. Nothing is overwritten or removed."""
    time = (now or datetime.now(UTC)).strftime("%Y%m%dT%H%M%SZ")
    path = target / f"{name_for_a_file(ready.learner)}--{ready.lesson}--{time}.zip"
    target.mkdir(parents=True, exist_ok=True)
    handle, unfinished = tempfile.mkstemp(dir=target, prefix=".unfinished-")
    try:
        with os.fdopen(handle, "wb") as file, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, content in ready.files.items():
                archive.writestr(name, content.read_bytes())
        os.chmod(unfinished, 0o644)
        os.replace(unfinished, path)
    except BaseException:
        os.unlink(unfinished)
        raise
    return path


def name_for_a_file(learner: str) -> str:
    """A learner's name as a part of a file's name on any system; no two hyphens together, which part the name."""
    name = _NOT_IN_A_NAME.sub("_", unicodedata.normalize("NFC", learner))
    name = re.sub(r"-{2,}", "-", name).strip(" .-")
    while len(name.encode("utf-8", "replace")) > LONGEST_NAME_BYTES:
        name = name[:-1]
    return name.strip(" .-") or "learner"
