"""A school's list of learners, with columns of its own, read as a class list: the headings say what each holds."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from graders.submissions.roster import COLUMNS, RosterError, check_rows, folded

WHOLE_NAME = "name"
WANTED = ("id", "first_name", "last_name", WHOLE_NAME, "email")
# Headings by which a column is known, without capitals, spaces and signs; of several the first counts.
HEADINGS = {
    "id": (
        "id", "learnerid", "studentid", "userid", "username", "user", "login", "loginname", "account", "studentnumber",
        "learnernumber", "learnerno", "studentno", "pupilid", "pupilnumber", "pupilno", "idnumber",
        "matriculationnumber", "matrikelnummer", "benutzername", "anmeldename",
        "kennung", "identifiant", "usuario",
    ),
    "first_name": ("firstname", "givenname", "givennames", "forename", "first", "vorname", "prenom", "nombre", "nome"),
    "last_name": ("lastname", "surname", "familyname", "last", "nachname", "familienname", "nom", "apellido",
                  "apellidos", "cognome"),
    WHOLE_NAME: ("name", "fullname", "learner", "learnername", "student", "studentname", "pupil", "participant"),
    "email": ("email", "emailaddress", "mail", "mailaddress", "schoolemail", "adresseemail", "correo"),
}  # fmt: skip
IN_WORDS = {
    "id": "id",
    "first_name": "first name",
    "last_name": "last name",
    WHOLE_NAME: "whole name",
    "email": "e-mail",
}
_BOMS = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)

Ask = Callable[[str, Sequence[str]], str]  # which heading holds this? one of the headings, or nothing


@dataclass(frozen=True)
class SchoolList:
    """A class list made of a school's: its columns and rows as roster.csv has them, and a sentence on what was taken
    for what."""

    columns: list[str]
    rows: list[dict[str, str]]
    taken: str


def read_school_list(path: Path, stated: Mapping[str, str] | None = None, ask: Ask | None = None) -> SchoolList:
    """Read a CSV file with commas, semicolons or tabs, in UTF-8 or UTF-16.

    `stated` says which heading holds what, by the names of WANTED; `ask` is asked where the headings do not say it.
    Raises RosterError with the line that is wrong, or the headings where no learner can be told by them.
    """
    headings, lines = _table(path)
    places = _places(path, headings, dict(stated or {}))
    if ask is not None and not (_can_tell(places) and _has_names(places)):
        for wanted in WANTED:
            if wanted not in places:
                answer = ask(IN_WORDS[wanted], headings)
                places |= {wanted: answer} if answer else {}
    if not _can_tell(places):
        shown = ", ".join(f"'{heading}'" for heading in headings) or "nothing"
        raise RosterError(
            f"The list {path} needs a column with an id, an e-mail address or names, and its first line has {shown}: "
            'say which is which with --columns, as in --columns "id=HEADING,first_name=HEADING,last_name=HEADING".'
        )
    rows = [_row(line, places) for line in lines]
    if "id" not in places:
        _make_ids(path, rows, "email" in places)
    check_rows(path, rows)
    used = set(places.values())
    more = [heading for heading in headings if heading not in used and heading not in COLUMNS]
    rows = [row | {heading: line[heading] for heading in more} for row, line in zip(rows, lines, strict=True)]
    return SchoolList([*COLUMNS, *more], rows, _taken(places, headings))


def _table(path: Path) -> tuple[list[str], list[dict[str, str]]]:
    try:
        content = path.read_bytes()
        text = content.decode("utf-16" if content.startswith(_BOMS) else "utf-8-sig")
        first = next((line for line in text.splitlines() if line.strip()), "")
        table = csv.DictReader(io.StringIO(text, newline=""), delimiter=max(",;\t", key=first.count), restval="")
        headings = [heading.strip() for heading in table.fieldnames or ()]
        table.fieldnames = headings
        lines = [{heading: (line.get(heading) or "").strip() for heading in headings} for line in table]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise RosterError(f"The roster {path} cannot be read ({error}): save it as CSV in UTF-8.") from None
    return headings, lines


def _places(path: Path, headings: list[str], stated: dict[str, str]) -> dict[str, str]:
    """What is wanted -> the heading of its column."""
    for wanted, heading in stated.items():
        if wanted not in WANTED or heading not in headings:
            raise RosterError(
                f"--columns says {wanted}={heading}, and {path} has the columns {', '.join(headings)}: write "
                f"{', '.join(WANTED)}, an equals sign and one of these."
            )
    by_name = {folded(heading): heading for heading in reversed(headings)}
    found = {
        wanted: next((by_name[name] for name in names if by_name.get(name)), "") for wanted, names in HEADINGS.items()
    }
    places = {wanted: heading for wanted, heading in (found | stated).items() if heading}
    if "first_name" in places and "last_name" in places and WHOLE_NAME not in stated:
        places.pop(WHOLE_NAME, None)
    elif "last_name" not in places and "first_name" in places and WHOLE_NAME in places:  # 'Name', 'First name'
        places["last_name"] = places.pop(WHOLE_NAME)
    return places


def _can_tell(places: Mapping[str, str]) -> bool:
    return bool({"id", "email", WHOLE_NAME} & places.keys()) or {"first_name", "last_name"} <= places.keys()


def _has_names(places: Mapping[str, str]) -> bool:
    return bool({"first_name", "last_name", WHOLE_NAME} & places.keys())


def _row(line: Mapping[str, str], places: Mapping[str, str]) -> dict[str, str]:
    row = {name: line[places[name]] if name in places else line.get(name, "") for name in COLUMNS}
    if WHOLE_NAME in places:
        first, last = _split(line[places[WHOLE_NAME]])
        row |= {"first_name": row["first_name"] or first, "last_name": row["last_name"] or last}
    return row


def _split(name: str) -> tuple[str, str]:
    """First and last name, of 'Last, First' or 'First Last'."""
    if "," in name:
        last, first = name.split(",", 1)
        return first.strip(), last.strip()
    words = name.split()
    return (" ".join(words[:-1]), words[-1]) if len(words) > 1 else (name.strip(), "")


def _make_ids(path: Path, rows: list[dict[str, str]], have_email: bool) -> None:
    """Ids where the list has none: of the e-mail address the part before the @, or all of it where that part stands
    twice; without addresses the name, in small letters."""
    if have_email:
        without = [number for number, row in enumerate(rows, start=2) if not row["email"]]
        if without:
            raise RosterError(
                f"The list {path} has no column with an id, and line {without[0]} has no e-mail address to make one "
                'of: say which column has the ids, as in --columns "id=HEADING".'
            )
        parts = [row["email"].split("@")[0].casefold() for row in rows]
        unique = len(set(parts)) == len(parts)
        for row, part in zip(rows, parts, strict=True):
            row["id"] = part if unique else row["email"].casefold()
        return
    for row in rows:
        row["id"] = "-".join(f"{row['first_name']} {row['last_name']}".casefold().split())
    seen: dict[str, int] = {}
    for number, row in enumerate(rows, start=2):
        if row["id"] in seen:
            raise RosterError(
                f"The list {path}, lines {seen[row['id']]} and {number}: two learners have the same name, and there is "
                "no column with an id or an e-mail address. Add one."
            )
        seen[row["id"]] = number


def _taken(places: Mapping[str, str], headings: Sequence[str]) -> str:
    parts = [f"{IN_WORDS[wanted]} from '{places[wanted]}'" for wanted in WANTED if wanted in places]
    if "id" not in places:
        parts.insert(0, f"id made from '{places.get('email') or places.get(WHOLE_NAME) or places['last_name']}'")
    names = "" if _has_names(places) else " No column of names was found: --columns says which it is."
    return f"Read from the list: {', '.join(parts)}.{names}"
