"""One hand-in as it lies in the class folder: looked at without following links or reading what is too big."""

from __future__ import annotations

import hashlib
import os
import re
import stat
from dataclasses import dataclass
from pathlib import Path

from engine_sim import LARGEST_FILE_BYTES

EVIDENCE_NAME = "evidence.jsonl"
_DAMAGED = re.compile(rf"{re.escape(EVIDENCE_NAME)}(?P<line>, line \d+)?: ")
TIMESTAMP_NAME = "timestamp.txt"
SECRET_NAME = "submission_secret.txt"  # nbgrader's exchange writes it, and finds the way back for the feedback by it
LARGEST_NOTEBOOK_BYTES = 10_000_000
LARGEST_TIMESTAMP_BYTES = 200
MOST_FILES = 500
MOST_REMARKS = 10
_NOT_IN_A_NAME = re.compile(
    r"[\[\]*?{}\\/,+<>\"\x00-\x1f\x7f\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)  # the last: bytes of no UTF-8


def for_learners(sentence: str) -> str:
    """A sentence about the evidence in words for learners, who know it as the record of their work."""
    damaged = _DAMAGED.match(sentence)
    if damaged:
        line = f"{damaged['line']}," if damaged["line"] else ""
        return (
            f"The record of your work{line} is not as the lesson wrote it: something else changed or "
            "damaged it. Put it back as it was, or move it out of the folder and open the lesson again to begin afresh."
        )
    record = sentence.replace(f"no {EVIDENCE_NAME}", "no record of your work")
    record = record.replace(EVIDENCE_NAME, "the record of your work")
    return record[:1].upper() + record[1:]


@dataclass(frozen=True)
class Submission:
    """A hand-in folder: the files that may be read (name -> path), and one sentence for each that may not.

    `problem` is not empty where nothing in the folder may be read at all, or the evidence may not be.
    """

    folder: Path
    files: dict[str, Path]
    remarks: tuple[str, ...] = ()
    problem: str = ""

    @property
    def evidence(self) -> Path:
        """Where the evidence stands or would stand."""
        return self.folder / EVIDENCE_NAME

    def digest(self) -> str:
        """A digest of everything that can change the verdict or the page about it."""
        total = hashlib.sha256("\n".join((self.problem, *self.remarks)).encode())
        for name, path in sorted(self.files.items()):
            total.update(f"\n{name}\n".encode())
            total.update(hashlib.sha256(path.read_bytes()).digest())
        return total.hexdigest()[:32]


def printable(text: str) -> str:
    """A text that may quote a hand-in, as a terminal may show it: every sign that does not print is written by its
    number, but for the ends of lines."""
    return "".join(
        sign if sign.isprintable() or sign == "\n" else sign.encode("unicode_escape").decode() for sign in text
    )


def name_problem(learner: str) -> str:
    """One sentence that says why a folder's name cannot be a learner's id in nbgrader, or nothing."""
    if learner != learner.strip() or learner in ("", ".", "..") or _NOT_IN_A_NAME.search(learner):
        return (
            f"The folder {learner!r} was not judged: a learner's id may hold neither the signs [ ] * ? {{ }} \\ / "
            ', + < > " nor line breaks or halves of letters, nor begin or end with a space; rename the folder and '
            "run this again."
        )
    return ""


def look_at(course: Path, submitted: str, learner: str, lesson: str) -> Submission:
    """Look at `course/submitted/learner/lesson`: plain files of ours, of a sane size, directly in it."""
    folder = course / submitted / learner / lesson
    for place in (folder.parent, folder):
        if place.is_symlink():
            return Submission(
                folder,
                {},
                problem=f"The folder {place.name} of this hand-in is a link and was not "
                "followed: hand in the folder itself.",
            )
    if not folder.is_dir():
        return Submission(folder, {}, problem="Nothing was handed in for this lesson.")
    try:
        entries = _entries(folder)
    except OSError as error:
        return Submission(folder, {}, problem=f"The folder of this hand-in cannot be read ({error.strerror}).")
    files, remarks = {}, []
    for entry in entries:
        sentence = _refusal(entry)
        if sentence:
            remarks.append(sentence)
        elif _is_ours(entry.name):
            files[entry.name] = Path(entry.path)
    refused = [remark for remark in remarks if remark.startswith(EVIDENCE_NAME)]
    if len(remarks) > MOST_REMARKS:
        remarks[MOST_REMARKS:] = [f"{len(remarks) - MOST_REMARKS} further files were left alone, too."]
    return Submission(folder, files, tuple(remarks), problem=refused[0] if refused else "")


def unsafe_to_copy(folder: Path) -> str:
    """One sentence where nbgrader itself, which follows links and copies any size, must not be let at a folder."""
    if folder.is_symlink() or folder.parent.is_symlink():
        return f"{folder} is a link and was not followed."
    for parent, folders, files in os.walk(folder):
        for name in (*folders, *files):
            path = Path(parent) / name
            if path.is_symlink():
                return f"{path} is a link and was not followed."
            if name in files and not stat.S_ISREG(path.lstat().st_mode):
                return f"{path} is not a plain file."
            if name in files and path.lstat().st_size > LARGEST_FILE_BYTES:
                return f"{path} is larger than {LARGEST_FILE_BYTES / 1e6:.0f} MB."
    return ""


def _is_ours(name: str) -> bool:
    return name.endswith(".ipynb") or name in (EVIDENCE_NAME, TIMESTAMP_NAME, SECRET_NAME)


def _entries(folder: Path) -> list[os.DirEntry]:
    """What lies in a folder, ours first: in a folder of thousands of files the rest is not looked at."""
    with os.scandir(folder) as found:
        entries = sorted(found, key=lambda entry: (not _is_ours(entry.name), entry.name))
    return entries[:MOST_FILES]


def _refusal(entry: os.DirEntry) -> str:
    name = entry.name
    if entry.is_symlink():
        return f"{name} is a link and was not followed: hand in the file itself."
    if entry.is_dir():
        return f"{name} is a folder where a file was wanted, and was left alone." if _is_ours(name) else ""
    status = entry.stat(follow_symlinks=False)
    if not stat.S_ISREG(status.st_mode):
        return f"{name} is not a plain file and was left alone."
    if not os.access(entry.path, os.R_OK):
        return f"{name} may not be read by the person who runs this: give it the right to be read."
    largest = {
        TIMESTAMP_NAME: LARGEST_TIMESTAMP_BYTES,
        SECRET_NAME: LARGEST_TIMESTAMP_BYTES,
        EVIDENCE_NAME: LARGEST_FILE_BYTES,
    }.get(name, LARGEST_NOTEBOOK_BYTES)
    if status.st_size > largest:
        return (
            f"{name} is {status.st_size / 1e6:.1f} MB long, more than a lesson ever writes, and was not read: "
            "hand in the file as the lesson wrote it."
        )
    return ""
