"""A class folder as an instructor who knows nbgrader expects it: source, release, configuration, gradebook, roster."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import dataclass
from pathlib import Path

from course import HERE, SOURCE
from course.build import copy_source, lessons
from engine_sim import TimingCourseError
from graders.hand_in import name_problem
from graders.nbgrader_course import CONFIGURATION, NbgraderCourse

ROSTER_COLUMNS = ("id", "first_name", "last_name", "email")


class ClassFolderError(TimingCourseError):
    """A class folder cannot be made."""


@dataclass(frozen=True)
class MadeClass:
    """What was made."""

    lessons: list[str]
    learners: int


def make(folder: Path, roster: Path | None = None, source: Path = SOURCE) -> MadeClass:
    """Make a class in a new or empty folder. Raises ClassFolderError; nothing that exists is overwritten."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ClassFolderError(f"{folder} exists and is not an empty folder: a class wants a new folder, and nothing "
                               "was changed.")
    wanted, learners = lessons(source), read_roster(roster) if roster else []
    folder.mkdir(parents=True, exist_ok=True)
    class_id = re.sub(r"[^\w-]+", "-", folder.resolve().name).strip("-") or "class"
    configuration = (HERE / "nbgrader_config.py").read_text(encoding="utf-8")
    configuration = configuration.replace('course_id = "timing"', f"course_id = {json.dumps(class_id)}")
    (folder / CONFIGURATION).write_text(configuration, encoding="utf-8")
    (folder / "README.md").write_text(README.format(name=class_id, first=wanted[0]), encoding="utf-8")
    (folder / "submitted").mkdir()
    course = NbgraderCourse(folder)
    for lesson in wanted:
        copy_source(lesson, folder / "source", source)
        (folder / "source" / lesson / "class.toml").write_text(f"class = {json.dumps(class_id)}\n", encoding="utf-8")
        course.release(lesson)
    for row in learners:
        course.add_learner(row["id"], row["first_name"], row["last_name"], row["email"])
    return MadeClass(wanted, len(learners))


def read_roster(path: Path) -> list[dict[str, str]]:
    """The learners in a CSV file with the column `id`. Raises ClassFolderError with the line that is wrong."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            table = csv.DictReader(file)
            rows = [{column: (row.get(column) or "").strip() for column in ROSTER_COLUMNS} for row in table]
            columns = table.fieldnames or []
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise ClassFolderError(f"The roster {path} cannot be read ({error}): save it as CSV in UTF-8.") from None
    if "id" not in columns:
        raise ClassFolderError(f"The roster {path} wants a column 'id' in its first line and has "
                               f"{', '.join(columns) or 'nothing'}.")
    seen: set[str] = set()
    for number, row in enumerate(rows, start=2):
        if name_problem(row["id"]) or row["id"] in seen:
            raise ClassFolderError(f"The roster {path}, line {number}: the id {row['id']!r} is empty, stands there "
                                   "twice, or holds one of the signs [ ] * ? { } \\ / , + : give every learner an id "
                                   "of their own.")
        seen.add(row["id"])
    return rows


README = """# Class {name}

This folder is an nbgrader course. Every step can be done with nbgrader's own tools or with the commands below.

1. **Hand out.** Give each learner a copy of the folder `release/` (or use `nbgrader release_assignment`). A learner
   opens it with `timing-course start FOLDER --name ID --lessons RELEASE`. ID is the learner's id in your roster: it is
   written into the evidence, and the learner's own engine is drawn from it and from the name of this class.
2. **Hand in.** A hand-in is the whole lesson folder, with its `evidence.jsonl`. It belongs in
   `submitted/ID/LESSON/`, for example `submitted/ada/{first}/` (copy, or `nbgrader collect`).
3. **Judge.** `timing-course grade .` judges all that was handed in, shows who has what, names the hand-ins that need
   a person and why, and makes the pages in `feedback/`. Run it as often as you like: what was judged is not judged
   again, a new hand-in is, and marks given by hand are kept (and put before you again after a new hand-in).
4. **Mark by hand.** Written answers are marked on nbgrader's marking screen: run `jupyter lab` in this folder and open
   Nbgrader, Formgrader. Then run `timing-course grade .` once more for the pages.
5. **Give back.** `feedback/ID/LESSON/` holds the learner's page (copy, or `nbgrader release_feedback`).
6. **Keep.** `nbgrader export` writes the gradebook as a table. A hand-in that could not be judged stands there as 0.0,
   like a real zero: the summary of `timing-course grade` tells them apart.

No code of a learner's is run to judge it. Keep `nbgrader_config.py` as it is in that respect: it names the judge where
nbgrader would run notebooks. nbgrader's own `autograde` command works too, and leaves out hand-ins that hold links or
huge files; `timing-course grade` judges those without following the links.
"""
