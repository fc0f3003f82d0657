"""From the letter to the car, in the terminal: an engine's file described, told, compared, and its sheet and answer
written."""

from __future__ import annotations

import sys
from pathlib import Path

from course.owner.empty_file import empty_file
from course.owner.filled_sheet import example_sheet, sheet_of, to_compare
from course.owner.sheet import Sheet, blank_sheet
from course.owner.sheet_page import sheet_page
from course.owner.told import told
from course.owner.work import Worked, work_out
from engine_sim import TimingCourseError
from engine_sim.owned.description import OwnedEngine, load_owned
from graders.submissions.command_name import command_line

PAGES, PDFS = (".html", ".htm"), (".pdf",)
BLANK, EXAMPLE = "blank", "example"
PAPERS = {"a4": "A4", "letter": "Letter"}


class OwnError(TimingCourseError):
    """A sheet or an answer cannot be written as asked."""


def run(file: Path, sheet: Path | None = None, answer: Path | None = None, paper: str = "A4") -> int:
    """Say what an engine's file tells, or write its sheet or the headings of an answer; where there is no such file,
    write an empty one to fill in. `blank` and `example` are the two sheets of no file. Returns the exit status."""
    if paper.lower() not in PAPERS:
        raise OwnError(f"--paper is A4 or Letter, and '{paper}' was given.")
    if sheet is not None and str(file) in (BLANK, EXAMPLE):
        _write_sheet(sheet, blank_sheet() if str(file) == BLANK else example_sheet(), paper)
        return 0
    if not file.exists():
        return _begin(file)
    engine = load_owned(file)
    worked = None if engine.lacking else work_out(engine, _progress)
    if sheet is not None:
        _write_sheet(sheet, sheet_of(engine, to_compare(engine, worked)), paper)
    if answer is not None:
        _write_answer(answer, engine, worked)
    if sheet is None and answer is None:
        print(told(engine, worked))
    return 0


def _begin(file: Path) -> int:
    if file.suffix != ".toml":
        raise OwnError(f"An engine's file ends in .toml, and '{file.name}' does not: give another name.")
    if not file.parent.is_dir():
        raise OwnError(f"There is no folder {file.parent}: make it first, or give another place.")
    file.write_text(empty_file(), encoding="utf-8")
    print(
        f"{file} is new: fill it in with any editor, and run '{command_line(f'own {file}')}' again. On a page, with "
        f"drawings of where to look: '{command_line('own')}'."
    )
    return 0


def _write_sheet(path: Path, sheet: Sheet, paper: str) -> None:
    if path.suffix.lower() in PDFS:
        from course.owner.sheet_pdf import sheet_pdf

        path.write_bytes(sheet_pdf(sheet, "Letter" if paper.lower() == "letter" else "A4"))
    elif path.suffix.lower() in PAGES:
        path.write_text(sheet_page(sheet), encoding="utf-8")
    else:
        raise OwnError(f"A sheet ends in .html or .pdf and '{path.name}' does not: give another name.")
    print(f"The sheet is in {path}.")


def _write_answer(path: Path, engine: OwnedEngine, worked: Worked | None) -> None:
    from course.owner.answer import answer_text, headings

    if path.exists():
        raise OwnError(f"{path} is there already, perhaps with your sentences: give another name.")
    path.write_text(answer_text(headings(engine, worked), {}), encoding="utf-8")
    print(f"The headings of your answer are in {path}, with figures and grounds: the sentences are yours to write.")


def _progress(said: str) -> None:
    if sys.stderr.isatty():
        print(said, file=sys.stderr, flush=True)
