"""Who is who: the class list with every spelling of a name, and whose a hand-in is.

The class list is `roster.csv` in the class folder: `id`, `first_name`, `last_name`, `email`, and `also_known_as`, in
which further names stand with semicolons between them. Names are compared without regard to capitals, spaces, dots and
accents. A class without that file takes the names of the folders in submitted/ as the learners' ids.
"""

from __future__ import annotations

import csv
import io
import json
import os
import shlex
import tempfile
import tomllib
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path

from engine_sim import TimingCourseError, encoding_of, first_line, folded_name

from .command_name import command_line
from .folder import EVIDENCE_NAME, name_problem
from .resemblance import remarks_on

ROSTER = "roster.csv"
COLUMNS = ("id", "first_name", "last_name", "email", "also_known_as")
LONGEST_HEADER_BYTES = 20_000
LONGEST_NAME = 100


class RosterError(TimingCourseError):
    """The class list cannot be read or changed."""


@dataclass(frozen=True)
class Listed:
    """One line of the class list."""

    id: str
    first_name: str = ""
    last_name: str = ""
    email: str = ""
    also_known_as: tuple[str, ...] = ()

    @property
    def shown(self) -> str:
        """The name as people say it, or the id where the list has none."""
        return " ".join(filter(None, (self.first_name, self.last_name))) or self.id


def folded(name: str) -> str:
    """A name as it is compared: small letters and digits alone, without accents; empty where nothing is left."""
    found = folded_name(name)
    return found if any(map(str.isalnum, found)) else ""


class Roster:
    """The class list. `listed` says whether there is one, so that a name which is not on it is a question."""

    def __init__(self, entries: Iterable[Listed], listed: bool = True):
        self.entries = {entry.id: entry for entry in entries}
        self.listed = listed
        self._levels = [self._level(names) for names in (_exact, _stated, _nearly, _full, _single)]

    @classmethod
    def of(cls, root: Path, known: Iterable[str] = ()) -> Roster:
        """The list of the class in `root`, with the ids that the gradebook knows besides. Raises RosterError."""
        path = Path(root) / ROSTER
        entries = {entry.id: entry for entry in read_list(path)} if path.is_file() else {}
        return cls([*entries.values(), *(Listed(name) for name in known if name not in entries)], path.is_file())

    def ids_for(self, name: str) -> tuple[str, ...]:
        """The learners who bear this name, by the surest way in which there are any: as it is written; stated; but for
        capitals, spaces and accents; as first and last name; as one of the two."""
        for fold, level in self._levels:
            found = level.get(fold(name)) if fold(name) else None
            if found:
                return tuple(sorted(found))
        return ()

    def is_stated(self, name: str, learner: str) -> bool:
        """Whether the instructor has said that this name is this learner's."""
        entry = self.entries.get(learner)
        return entry is not None and folded(name) in map(folded, entry.also_known_as)

    def nearest(self, name: str) -> tuple[str, ...]:
        """Up to three ids whose names look like this one."""
        names = {folded(one): entry.id for entry in self.entries.values() for one in (*_exact(entry), *_full(entry))}
        return tuple(dict.fromkeys(names[one] for one in get_close_matches(folded(name), names, 3, 0.6)))

    def _level(self, names_of):
        fold = _as_written if names_of in (_exact,) else folded
        level: dict[str, set[str]] = {}
        for entry in self.entries.values():
            for name in filter(None, map(fold, names_of(entry))):
                level.setdefault(name, set()).add(entry.id)
        return fold, level


def _as_written(name: str) -> str:
    return unicodedata.normalize("NFC", name)


def _exact(entry: Listed) -> tuple[str, ...]:
    return (entry.id,)


def _stated(entry: Listed) -> tuple[str, ...]:
    return entry.also_known_as


def _nearly(entry: Listed) -> tuple[str, ...]:
    return (entry.id,)


def _full(entry: Listed) -> tuple[str, ...]:
    names = (entry.first_name, entry.last_name)
    return (" ".join(names), " ".join(reversed(names)), entry.email) if all(names) else (entry.email,)


def _single(entry: Listed) -> tuple[str, ...]:
    return (entry.first_name, entry.last_name)


# ---- the file --------------------------------------------------------------------------------------------------------


def read_list(path: Path) -> list[Listed]:
    """The learners in a CSV file with the column `id`. Raises RosterError with the line that is wrong."""
    return [
        Listed(**{name: row[name] for name in COLUMNS[:4]}, also_known_as=_names_in(row["also_known_as"]))
        for row in read_rows(path)[1]
    ]


def _names_in(text: str) -> tuple[str, ...]:
    return tuple(filter(None, map(str.strip, text.split(";"))))


def read_rows(path: Path) -> tuple[list[str], list[dict[str, str]]]:
    """The columns of the file, ours first where they are missing, and its rows, every cell a text."""
    try:
        encoding = encoding_of(path.read_bytes()[:4]) or "utf-8"
        with path.open(encoding=encoding, newline="") as file:
            table = csv.DictReader(file)
            found = list(table.fieldnames or [])
            rows = [{name: (row.get(name) or "").strip() for name in (*COLUMNS, *found)} for row in table]
    except (OSError, UnicodeError, csv.Error) as error:
        raise RosterError(f"The roster {path} cannot be read ({error}): save it as CSV in UTF-8.") from None
    if "id" not in found:
        raise RosterError(
            f"The roster {path} wants a column 'id' in its first line and has {', '.join(found) or 'nothing'}."
        )
    check_rows(path, rows)
    return [*found, *(name for name in COLUMNS if name not in found)], rows


def check_rows(path: Path, rows: Iterable[dict[str, str]]) -> None:
    """Raise RosterError with the line of the file in which an id cannot be one, or stands a second time."""
    seen: set[str] = set()
    for number, row in enumerate(rows, start=2):
        if name_problem(row["id"]) or row["id"] in seen:
            raise RosterError(
                f"The roster {path}, line {number}: the id {row['id']!r} is empty, stands there twice, "
                "or holds one of the signs [ ] * ? { } \\ / , + : give every learner an id of their own."
            )
        seen.add(row["id"])


def write_list(path: Path, rows: Iterable[dict[str, str]], columns: Iterable[str] = COLUMNS) -> None:
    """Write a class list in one step: the old file stays whole until the new one is."""
    text = io.StringIO(newline="")
    table = csv.DictWriter(text, list(columns), restval="", extrasaction="ignore", lineterminator="\n")
    table.writeheader()
    table.writerows(rows)
    write_whole(path, text.getvalue().encode())


def write_whole(path: Path, content: bytes) -> None:
    """Put a file in its place in one step, so that nobody ever sees half of it."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
        os.chmod(name, 0o666 & ~_umask())
        os.replace(name, path)
    except BaseException:
        os.unlink(name)
        raise


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def state_same(root: Path, name: str, learner: str, known: Iterable[str], folder: str = "FOLDER") -> str:
    """Write into the class list that `name` is `learner`; return a sentence. Raises RosterError.

    `known` are the ids to begin a list with, where the class has none yet; `folder` is the class as it was typed.
    """
    path = Path(root) / ROSTER
    name = name.strip()
    columns, rows = read_rows(path) if path.is_file() else (list(COLUMNS), [{"id": one} for one in sorted(known)])
    row = next((row for row in rows if row["id"] == learner), None)
    if row is None:
        near = Roster([Listed(row["id"]) for row in rows]).nearest(learner)
        raise RosterError(
            f"There is no learner '{learner}' in the class{f' (is it {near[0]}?)' if near else ''}: give "
            f"an id of {ROSTER}, or add a line for them there first."
        )
    if not folded(name) or ";" in name or not name.isprintable():
        raise RosterError(f"A name of one line, with letters and without semicolons, is wanted; {name!r} was found.")
    stated = _names_in(row.get("also_known_as", ""))
    if folded(name) not in map(folded, stated):
        row["also_known_as"] = "; ".join((*stated, name))
        write_list(path, rows, columns)
    return f"'{name}' is {learner} from now on; it stands in {ROSTER}. Run '{command_line(f'grade {folder}')}' again."


# ---- whose a hand-in is ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Filed:
    """One learner's hand-in of a lesson: `folder` is its folder's name in submitted/, empty where there is none, and
    `name` the name in its evidence where that is this learner's, else the id.

    `question` is for the instructor: nothing is judged before it is answered. `doubt` is one, too, but the work is
    judged. `stranger` is the name in the evidence where it is not known to be this learner's. `remarks` are for the
    instructor to know, and change nothing.
    """

    learner: str
    folder: str = ""
    name: str = ""
    question: str = ""
    doubt: str = ""
    stranger: str = ""
    remarks: tuple[str, ...] = ()


def name_in_evidence(folder: Path) -> str:
    """The learner's name in the evidence of a hand-in, or nothing where it cannot be read; links are not followed."""
    return _in_header(folder, "learner") or ""


def _in_header(folder: Path, field: str) -> str | None:
    """A text in the first line of the evidence of a hand-in; None where there is none or it cannot be read."""
    path = folder / EVIDENCE_NAME
    try:
        if path.is_symlink() or folder.is_symlink() or folder.parent.is_symlink() or not path.is_file():
            return None
        with path.open("rb") as file:
            header = json.loads(first_line(file, LONGEST_HEADER_BYTES))
        found = header.get(field) if isinstance(header, dict) else None
        return found if isinstance(found, str) else None
    except (OSError, ValueError, RecursionError):
        return None


def whose(roster: Roster, learner: str, folder: Path) -> Filed:
    """The hand-in in `folder`, which is known to be this learner's: under which name was it made?"""
    found = name_in_evidence(folder)
    ids = roster.ids_for(found)
    if not found or found == learner or learner in ids or (not ids and folded(found) == folded(learner)):
        return Filed(learner, folder.parent.name, found or learner)
    return Filed(learner, folder.parent.name, learner, stranger=found[:LONGEST_NAME])


def class_handed_out(lesson: Path) -> str | None:
    """The name of the class that a lesson was handed out under, from `class.toml` in the lesson's folder; None where
    there is none."""
    try:
        found = tomllib.loads((lesson / "class.toml").read_text(encoding="utf-8-sig")).get("class")
    except (OSError, ValueError, RecursionError):
        return None
    return found if isinstance(found, str) else None


def filed_hand_ins(
    roster: Roster, submitted: Path, lesson: str, command: str, class_id: str | None = None
) -> list[Filed]:
    """Everyone on the list and everyone who handed in this lesson, sorted by id, each once.

    `command` is how the class is named on the command line, for the sentence that says how to answer a question;
    `class_id` the class that the lesson was handed out under, where that is known.
    """
    found = (
        [entry.name for entry in os.scandir(submitted) if os.path.lexists(Path(entry.path) / lesson)]
        if submitted.is_dir()
        else []
    )
    filed: dict[str, list[Filed]] = {learner: [] for learner in roster.entries}
    for name in sorted(found):
        one = _filed(roster, submitted / name / lesson, command)
        filed.setdefault(one.learner, []).append(one)
    learners = [_one_of(learner, hand_ins, command) for learner, hand_ins in sorted(filed.items())]
    told = remarks_on({one.learner: submitted / one.folder / lesson / EVIDENCE_NAME for one in learners if one.folder})
    return [
        replace(
            _of_this_class(_with_doubt(roster, one, learners, command), submitted / one.folder / lesson, class_id),
            remarks=told.get(one.learner, ()),
        )
        for one in learners
    ]


def _of_this_class(one: Filed, folder: Path, class_id: str | None) -> Filed:
    """Add a question where the evidence was made for another class, under whose name it has other engines."""
    found = _in_header(folder, "class_id") if one.folder and class_id is not None and not one.question else None
    if found is None or found == class_id:
        return one
    which = f"for class '{found[:LONGEST_NAME]}'" if found else "outside a class"
    doubt = (
        f"Its evidence was made {which}, and this lesson was handed out for '{class_id}': engines and numbers are not "
        "those of this class. It was judged on its own; look whether that is right."
    )
    return replace(one, doubt=" ".join(filter(None, (one.doubt, doubt))))


def _filed(roster: Roster, folder: Path, command: str) -> Filed:
    name = folder.parent.name
    if name_problem(name):
        return Filed(name, name, name, question=name_problem(name))
    if not roster.listed:
        return whose(roster, name, folder)
    # A school's system may have changed the folder's name beyond recognition: then the evidence says who it is.
    ids = roster.ids_for(name) or roster.ids_for(name_in_evidence(folder))
    return (
        whose(roster, ids[0], folder)
        if len(ids) == 1
        else Filed(name, name, name, question=_who_is(roster, name, ids, command))
    )


def _who_is(roster: Roster, name: str, ids: tuple[str, ...], command: str) -> str:
    near = ids or roster.nearest(name)
    which = (
        f"could be {' or '.join(ids)}"
        if ids
        else "is not on the class list" + (f" (is it {' or '.join(near)}?)" if near else "")
    )
    return f"'{name}' {which}, so nothing was judged: say who it is with\n{same_command(command, name, near)}"


def same_command(folder: str, name: str, near: tuple[str, ...] = ()) -> str:
    """The command that says whose a name is."""
    return command_line(f"class {folder} --same {quoted(name)} {near[0] if len(near) == 1 else 'ID'}")


def quoted(text: str) -> str:
    """A text as one word of a command line, in the quotes that every system takes where they will do."""
    return shlex.quote(text) if set(text) & set('"$`\\!%') or not text.isprintable() else f'"{text}"'


def _one_of(learner: str, hand_ins: list[Filed], command: str) -> Filed:
    """The hand-in of this learner; where there are several, which one counts is a question."""
    if len(hand_ins) < 2:
        return hand_ins[0] if hand_ins else Filed(learner, name=learner)
    folders = [one.folder for one in hand_ins]
    return Filed(
        learner,
        learner if learner in folders else folders[0],
        learner,
        question=(
            f"{len(folders)} hand-ins claim to be {learner}'s, so none was judged: {', '.join(map(repr, folders))} in "
            "submitted/. Leave the one that counts and move the others away; or, where one of them is somebody else's, "
            f"say so with\n{same_command(command, next(name for name in folders if name != learner))}"
        ),
    )


def _with_doubt(roster: Roster, one: Filed, others: list[Filed], command: str) -> Filed:
    """Add a question where another learner's hand-in bears the same name, and nobody has said that it is theirs."""
    if not one.folder or one.question or one.stranger or roster.is_stated(one.name, one.learner):
        return one
    same = [
        other.learner
        for other in others
        if other.learner != one.learner
        and other.folder
        and not other.question
        and not other.stranger
        and folded(other.name) == folded(one.name)
    ]
    if not same or one.name == one.learner:
        return one
    return Filed(
        one.learner,
        one.folder,
        one.name,
        doubt=(
            f"Its evidence bears the name '{one.name}', and so does that of {' and '.join(same)}: look whether one is "
            f"a copy of the other; where it is {one.learner}'s own, "
            f"say\n{same_command(command, one.name, (one.learner,))}"
        ),
    )


def about_stranger(roster: Roster, one: Filed, command: str) -> str:
    """What an instructor can do about evidence that bears a name which is not known to be the learner's."""
    ids = roster.ids_for(one.stranger)
    if ids:
        return f"'{one.stranger}' is {' or '.join(ids)} on the class list."
    return (
        f"Nobody in the class is called '{one.stranger}'; where it is {one.learner}, say\n"
        f"{same_command(command, one.stranger, (one.learner,))}"
    )
