"""Who is at work and where: the folder of one lesson, its learner and class, and the evidence file beside the
notebook."""

from __future__ import annotations

import getpass
import os
import threading
import time
import tomllib
from datetime import UTC, datetime
from pathlib import Path

from engine_sim import Event, EvidenceError, EvidenceWriter, Header, TimingCourseError, read_evidence
from graders.submissions.folder import EVIDENCE_NAME, for_learners

LATEST_TIME_S = 9_999_999.0  # the evidence format takes times below 1e7 s


class LessonFolderError(TimingCourseError):
    """The folder of the lesson holds a file about learner or class that cannot be read."""


class LessonFolder:
    """One lesson's folder: `learner`, `class_id`, `lesson` and the writer of its evidence.

    The lesson's id is the folder's name. `class.toml` in the folder names the class (`class = "..."`);
    `learner.toml` in the folder or the one above it names the learner (`name = "..."`), else the hub's user
    or the login name does. Raises LessonFolderError where one of the two files cannot be read.
    """

    _writers: dict[Path, EvidenceWriter] = {}  # noqa: RUF012 - shared on purpose: one writer a file and process
    _lock = threading.RLock()

    def __init__(self, folder: Path):
        self.path = Path(folder).resolve()
        self.lesson = self.path.name
        self.class_id = _text_in(self.path / "class.toml", "class") or ""
        self.learner = learner_of(self.path)

    @classmethod
    def here(cls, folder: Path | None = None) -> LessonFolder:
        """The lesson in `folder`, or in the folder in which the notebook runs."""
        return cls(folder or Path.cwd())

    @property
    def evidence_path(self) -> Path:
        """Where the evidence of this lesson lies."""
        return self.path / EVIDENCE_NAME

    def writer(self, engine_digest: str) -> EvidenceWriter:
        """The one writer of this lesson's evidence in this process; the file is verified before it is
        continued.

        Raises EvidenceError where the file is not sound or belongs to another learner, lesson, class or
        engine.
        """
        header = Header(
            learner=self.learner, lesson=self.lesson, class_id=self.class_id, engine=engine_digest, created=_now_iso()
        )
        with self._lock:
            writer = self._writers.get(self.evidence_path)
            if writer is None or not _in_step(writer) or not _same_owner(writer.header, header):
                try:
                    writer = self._writers[self.evidence_path] = EvidenceWriter(self.evidence_path, header)
                except EvidenceError as error:
                    raise EvidenceError(error.kind, for_learners(str(error))) from None
            return writer

    def record_answer(self, writer: EvidenceWriter, exercise: str, value: str | float, unit: str | None) -> None:
        """Write one answer as an event of `exercise`, on the clock that began with the file."""
        self.record_event(writer, exercise, "answer", value, unit)

    def record_event(
        self, writer: EvidenceWriter, exercise: str, control: str, value: str | float | None, unit: str | None = None
    ) -> None:
        """Write one event of `exercise` that is no act at a bench, on the clock that began with the file."""
        with self._lock:
            latest = max((event.time_s for event in writer.events if event.exercise == exercise), default=0.0)
            time_s = min(max(_seconds_since(writer.header.created), latest), LATEST_TIME_S)
            writer.append(Event(round(time_s, 2), exercise, control, value, unit))


def learner_of(folder: Path) -> str:
    """The learner's name for a lesson folder: learner.toml here or one above, the hub's user, the login name."""
    for place in (folder, folder.parent):
        name = _text_in(place / "learner.toml", "name")
        if name:
            return name
    return os.environ.get("JUPYTERHUB_USER") or getpass.getuser()


def _text_in(path: Path, key: str) -> str | None:
    if not path.is_file():
        return None
    try:
        value = tomllib.loads(path.read_text(encoding="utf-8-sig")).get(key)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as error:
        raise LessonFolderError(
            f'{path.name} must hold one line such as {key} = "..." and cannot be read '
            f"({error}): correct that line and run this cell again."
        ) from None
    if not isinstance(value, str) or not value.strip():
        raise LessonFolderError(
            f'{path.name} must hold one line such as {key} = "..." and has no such text: '
            "write that line and run this cell again."
        )
    return value.strip()


def _in_step(writer: EvidenceWriter) -> bool:
    """Whether the file still holds what this writer wrote: it may have been moved away or continued
    elsewhere."""
    try:
        return list(read_evidence(writer.path).events) == writer.events
    except EvidenceError:
        return False


def _same_owner(one: Header, other: Header) -> bool:
    names = ("learner", "lesson", "class_id", "engine", "model")
    return all(getattr(one, name) == getattr(other, name) for name in names)


def _now_iso() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


def _seconds_since(created: str) -> float:
    try:
        return time.time() - datetime.fromisoformat(created).timestamp()
    except ValueError:
        return 0.0
