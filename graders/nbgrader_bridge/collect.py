"""What nbgrader's zip_collect may unpack and take in: archives are looked through before a byte of them is written.

nbgrader itself unpacks everything it finds, to any size, archives in archives too, with the rights that the archive
asks for, and the first file that it cannot use ends the collection for everybody. Here such an archive is left alone,
and what was left alone, and why, stands in the log and in NOT_TAKEN_IN beside the archives, where the class run reads
it.
"""

from __future__ import annotations

import os
import re
import shutil
import stat
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from nbgrader.plugins import ExtractorPlugin, FileNameCollectorPlugin
from nbgrader.utils import parse_utc

from engine_sim import LARGEST_FILE_BYTES
from graders.submissions.folder import EVIDENCE_NAME, LARGEST_NOTEBOOK_BYTES, MOST_FILES, name_problem, printable
from graders.submissions.roster import folded, name_in_evidence

NOT_TAKEN_IN = "not_taken_in.txt"
LARGEST_UNPACKED_BYTES = LARGEST_FILE_BYTES + 2 * LARGEST_NOTEBOOK_BYTES
LOOSE_ENDINGS = (".ipynb", ".jsonl", ".toml")
ASK_AGAIN = "ask for the archive as the command hand-in or the lesson's button makes it"
CLOCK_MAY_BE_WRONG = timedelta(days=1)  # that of a learner's computer, with its time zone
_ENCRYPTED = 0x1


class ArchiveExtractor(ExtractorPlugin):
    """Unpacks every archive that is one of a hand-in, each into a folder of its own name, and says of each other why
    not. Stands in `c.ZipCollectApp.extractor_plugin`."""

    def extract(self, archive_path: str, extracted_path: str) -> None:
        """Unpack the archives below `archive_path` into `extracted_path`. Raises nothing for what they hold."""
        source, target = Path(archive_path), Path(extracted_path)
        (source.parent / NOT_TAKEN_IN).unlink(missing_ok=True)
        for path in sorted(found for found in source.rglob("*") if not found.is_dir() or found.is_symlink()):
            sentence = self._taken_in(path, target / path.parent.relative_to(source))
            if sentence:
                _note(self, source.parent, sentence)

    def _taken_in(self, path: Path, target: Path) -> str:
        """Unpack or copy one file; else a sentence."""
        if path.is_symlink() or not path.is_file():
            return f"{path.name} is a link or no plain file and was not followed: {ASK_AGAIN}."
        if path.suffix in LOOSE_ENDINGS and path.stat().st_size <= LARGEST_FILE_BYTES:
            target.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, target / path.name)
            return ""
        return archive_problem(path) or _unpacked(path, target / path.stem)


class ArchiveCollector(FileNameCollectorPlugin):
    """Reads learner, lesson and time from an archive's name as nbgrader does, and leaves alone what would end the
    collection for everybody or land in another place. Stands in `c.ZipCollectApp.collector_plugin`."""

    def collect(self, submitted_file: str) -> dict | None:
        """What the name says of one file, or None where it is not taken in."""
        found = super().collect(submitted_file)
        sentence = self._problem(found, Path(submitted_file)) if found else self._unnamed(Path(submitted_file))
        if sentence:
            _note(self, _beside_the_archives(Path(submitted_file)), sentence)
        return None if sentence else found

    def _problem(self, found: dict, path: Path) -> str:
        archive, wanted = path.parent.name, self.parent.coursedir.assignment_id if self.parent else ""
        if name_problem(found["student_id"]):
            return f"{archive}: '{found['student_id']}' cannot be a learner's id: rename the archive."
        if wanted and found.get("lesson", wanted) != wanted:
            return f"{archive} is of lesson {found['lesson']} and lies among those of {wanted}: move it."
        if not _is_time(found.get("timestamp")):
            return f"{archive}: '{found['timestamp']}' in its name is no time: rename the archive."
        if _is_to_come(found.get("timestamp"), self._now()):
            return (
                f"{archive} has a time to come in its name, {found['timestamp']}, and would count before everything "
                "that is handed in until then: ask its learner, and rename it with the time at which you have it."
            )
        inner = found.get("lesson")
        if path.parent.name == inner and (path.parent.parent / path.name).is_file():
            return f"{path.parent.parent.name} holds {path.name} twice; the one in its folder {inner} was left alone."
        return self._other_work(found, path)

    def _other_work(self, found: dict, path: Path) -> str:
        """A sentence where an archive would take the place of work that bears another name."""
        folder, learner = path.parent, found["student_id"]
        top = folder.parent if folder.name == found.get("lesson") else folder
        name = _name_in(top, found)
        if not name or folded(name) == folded(learner):
            return ""
        same = [one for one in top.parent.glob("*--*--*") if one != top and one.name.split("--")[0] == learner]
        others = {_name_in(one, found) for one in same}
        if self.parent:
            directory = self.parent.coursedir
            others.add(
                name_in_evidence(
                    Path(directory.format_path(directory.submitted_directory, learner, directory.assignment_id))
                )
            )
        strange = sorted(one for one in others if one and folded(one) != folded(name))
        if not strange:
            return ""
        return (
            f"{top.name} holds work of '{name[:80]}' and would take the place of that of '{strange[0][:80]}', handed "
            f"in as '{learner}' too: look whose it is, and rename or remove the archive that is not {learner}'s."
        )

    @staticmethod
    def _now() -> datetime:
        return datetime.now(UTC)

    def _unnamed(self, path: Path) -> str:
        """A sentence about evidence whose archive is not named as hand-ins are; other files need none."""
        if path.name != EVIDENCE_NAME:
            return ""
        return (
            f"{path.parent.name} holds {EVIDENCE_NAME} and is not named LEARNER--LESSON--TIME.zip, with that file "
            "directly in it or in the lesson's folder: rename or pack it so."
        )


def _is_time(text: str | None) -> bool:
    try:
        return text is None or parse_utc(text) is not None
    except Exception:  # the reader of dates raises many kinds, and nbgrader would end the collection
        return False


def _name_in(top: Path, found: dict) -> str:
    """The learner's name in the evidence of an unpacked archive, directly in it or in the lesson's folder."""
    return name_in_evidence(top) or name_in_evidence(top / found.get("lesson", ""))


def _is_to_come(text: str | None, now: datetime) -> bool:
    """Whether a time lies further ahead than a learner's clock may be wrong."""
    return text is not None and parse_utc(text).replace(tzinfo=UTC) > now + CLOCK_MAY_BE_WRONG


def archive_problem(path: Path) -> str:
    """One sentence that says why an archive is not unpacked, or nothing. Only its table of contents is read."""
    try:
        with zipfile.ZipFile(path) as archive:
            return next(_problems(path.name, archive.infolist()), "")
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        return f"{path.name} is not a whole zip archive ({error}): {ASK_AGAIN}."


def _problems(name: str, members: list[zipfile.ZipInfo]) -> Iterator[str]:
    if not members:
        yield f"{name} is empty: {ASK_AGAIN}."
    if len(members) > MOST_FILES:
        yield f"{name} holds {len(members)} files, more than a hand-in ever does, and was not unpacked: {ASK_AGAIN}."
    size = sum(member.file_size for member in members)
    if size > LARGEST_UNPACKED_BYTES:
        yield (
            f"{name} is {_megabytes(sum(member.compress_size for member in members))} long and would unpack to "
            f"{_megabytes(size)}, more than a hand-in ever holds: {ASK_AGAIN}."
        )
    seen: set[str] = set()
    for member in members:
        inner = member.filename
        if inner.startswith(("/", "\\")) or ".." in re.split(r"[/\\]", inner) or ":" in inner:
            yield f"{name} holds a file {inner[:80]!r} that would lie outside its folder: {ASK_AGAIN}."
        if stat.S_ISLNK(member.external_attr >> 16):
            yield f"{name} holds the link {inner[:80]!r}, and links are not followed: {ASK_AGAIN}."
        if member.flag_bits & _ENCRYPTED:
            yield f"{name} is locked with a password: {ASK_AGAIN}."
        if inner in seen:
            yield f"{name} holds {inner[:80]!r} twice: {ASK_AGAIN}."
        seen.add(inner)


def _megabytes(size: int) -> str:
    return f"{size / 1e6:.1f} MB"


def _unpacked(path: Path, target: Path) -> str:
    """Unpack an archive that was looked through; the rights that it asks for are not given."""
    try:
        target.mkdir(parents=True)
        with zipfile.ZipFile(path) as archive:
            archive.extractall(target)
        return ""
    except Exception as error:  # a damaged stream raises what its method of packing raises
        shutil.rmtree(target, ignore_errors=True)
        return f"{path.name} cannot be unpacked ({str(error) or type(error).__name__}): {ASK_AGAIN}."


def not_taken_in(root: Path, downloaded: str = "downloaded") -> list[str]:
    """What the last collections of a class left alone, as sentences with their lesson."""
    return [
        f"{path.parent.name}, not taken in: {line}"
        for path in sorted((Path(root) / downloaded).glob(f"*/{NOT_TAKEN_IN}"))
        for line in path.read_text(encoding="utf-8").splitlines()
    ]


def _beside_the_archives(path: Path) -> Path:
    """The folder in which archive/ and extracted/ stand."""
    return next((place.parent for place in path.parents if place.name == "extracted"), path.parent)


def _note(plugin: ExtractorPlugin | FileNameCollectorPlugin, folder: Path, sentence: str) -> None:
    """Say one thing once, in the log and beside the archives."""
    sentence = printable(os.fsencode(sentence).decode("utf-8", "backslashreplace").replace("\n", " "))
    path = folder / NOT_TAKEN_IN
    known = path.read_text(encoding="utf-8").splitlines() if path.is_file() else []
    if folder.is_dir() and sentence not in known:
        plugin.log.error("Not taken in: %s", sentence)
        path.write_text("\n".join([*known, sentence]) + "\n", encoding="utf-8")
