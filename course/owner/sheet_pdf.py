"""The sheet for the car as PDF, on A4 or Letter, black on white, with the letters of matplotlib's own typeface."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Literal

import matplotlib
from fpdf import FPDF

from .cautions import CAUTIONS, FIRST, NOT_STARTING, STOP, STOP_FOR
from .sheet import NEVER_A_SETTING, Sheet, SheetLine, SheetStep

Paper = Literal["A4", "Letter"]
PAPERS: tuple[Paper, ...] = ("A4", "Letter")
FONT = "DejaVu"
SIDE_MM = 13.0  # margin on the left and the right
TOP_MM = 11.0  # margin at the top and the foot
TEXT_PT = 8.7  # size of letters
HEADING_PT = 10.5  # size of a heading
TITLE_PT = 14.0  # size of the title
LINE_MM = 3.95  # from one line of text to the next
WRITE_MM = 6.6  # from one line to write on to the next
INDENT_MM = 6.0  # of a paragraph behind its dot or number
GAP_MM = 6.0  # between two lines to write on
CELL_MM = 6.2  # height of a cell of the light's table


def sheet_pdf(sheet: Sheet, paper: Paper = "A4") -> bytes:
    """The whole sheet as the content of a PDF file."""
    page = _Page(paper)
    page.title(sheet.title)
    page.lines(sheet.day)
    page.boxed(STOP, STOP_FOR)
    page.heading("Cautions")
    page.points(CAUTIONS)
    page.heading("The maker's figures")
    page.text(FIRST, bold=True)
    page.lines(sheet.makers)
    page.heading("The engine")
    page.lines(sheet.engine)
    page.heading("If it does not start")
    page.points((*sheet.start, *NOT_STARTING))
    page.heading("The work, in its order")
    for number, step in enumerate(sheet.steps, start=1):
        page.step(number, step, sheet.light if step.light else ())
    page.heading("Written down at the end")
    page.lines(sheet.left)
    page.text(NEVER_A_SETTING)
    return bytes(page.pdf.output())


class _Page:
    """Writes from the top down; whatever belongs together goes to the next page as a whole."""

    def __init__(self, paper: Paper):
        fonts = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
        self.pdf = FPDF(orientation="portrait", unit="mm", format=paper)
        for style, file in (("", "DejaVuSans.ttf"), ("B", "DejaVuSans-Bold.ttf"), ("I", "DejaVuSans-Oblique.ttf")):
            self.pdf.add_font(FONT, style, fonts / file)
        self.pdf.set_margins(SIDE_MM, TOP_MM)
        self.pdf.set_auto_page_break(True, margin=TOP_MM)
        self.pdf.set_line_width(0.25)
        self.pdf.add_page()
        self._font()

    def title(self, text: str) -> None:
        """The title of the sheet."""
        self.pdf.set_title(text)
        self._font("B", TITLE_PT)
        self.pdf.multi_cell(0, 6.5, text, new_x="LMARGIN", new_y="NEXT", align="L")
        self._font()

    def heading(self, text: str) -> None:
        """A heading with a rule below it, never alone at the foot of a page."""
        self._keep(HEADING_PT + 3 * LINE_MM)
        self.pdf.ln(1.8)
        self._font("B", HEADING_PT)
        self.pdf.cell(0, 4.6, text, border="B", new_x="LMARGIN", new_y="NEXT")
        self.pdf.ln(0.8)
        self._font()

    def text(self, text: str, bold: bool = False, indent_mm: float = 0.0, italic: bool = False) -> None:
        """A paragraph."""
        self._font("B" if bold else "I" if italic else "")
        self.pdf.set_x(SIDE_MM + indent_mm)
        self.pdf.multi_cell(0, LINE_MM, text, new_x="LMARGIN", new_y="NEXT", align="L")
        self._font()

    def points(self, texts: Sequence[str]) -> None:
        """Paragraphs with a dot before each."""
        for text in texts:
            self._before(text, "•")
            self.text(text, indent_mm=INDENT_MM)

    def boxed(self, strong: str, text: str) -> None:
        """The way to stop, in a box."""
        self.pdf.ln(1.5)
        self.pdf.set_line_width(0.5)
        self._font("B")
        self.pdf.multi_cell(
            0, LINE_MM + 0.4, strong, border="LTR", padding=(1, 2, 0, 2), new_x="LMARGIN", new_y="NEXT", align="L"
        )
        self._font()
        self.pdf.multi_cell(
            0, LINE_MM + 0.4, text, align="L", border="LBR", padding=(0, 2, 1, 2), new_x="LMARGIN", new_y="NEXT"
        )
        self.pdf.set_line_width(0.25)

    def step(self, number: int, step: SheetStep, light: Sequence[tuple[str, str, str]]) -> None:
        """One step with its lines, together on one page."""
        height = LINE_MM * (2 + len(step.text) // 110 + bool(step.compare)) + WRITE_MM * ((len(step.lines) + 1) // 2)
        self._keep(height + CELL_MM * (len(light) + bool(light)))
        self.pdf.ln(0.9)
        self._before(step.text, f"{number}.")
        self.text(step.text, indent_mm=INDENT_MM)
        if step.compare:
            self.text(step.compare, indent_mm=INDENT_MM, italic=True)
        self.lines(step.lines, INDENT_MM)
        if light:
            self._table(light)

    def lines(self, lines: Sequence[SheetLine], indent_mm: float = 0.0) -> None:
        """Lines to write on, two beside each other, with what is known already."""
        for row in _rows(lines):
            self._keep(WRITE_MM)
            top = self.pdf.get_y()
            whole = ((SIDE_MM + indent_mm, self.pdf.epw - indent_mm),)
            places = whole if row[0].wide else self._columns(indent_mm)
            for (left, width), line in zip(places, row, strict=False):
                self._line(line, left, width, top)
            self.pdf.set_xy(SIDE_MM, top + WRITE_MM)

    def _columns(self, indent_mm: float) -> Iterator[tuple[float, float]]:
        width = (self.pdf.epw - indent_mm - GAP_MM) / 2
        yield SIDE_MM + indent_mm, width
        yield SIDE_MM + indent_mm + width + GAP_MM, width

    def _line(self, line: SheetLine, left: float, width: float, top: float) -> None:
        foot = top + WRITE_MM - 0.8
        self.pdf.set_xy(left, foot - LINE_MM)
        self.pdf.cell(0, LINE_MM, line.label)
        begin = left + self.pdf.get_string_width(line.label) + 2.0
        self.pdf.line(begin, foot, left + width, foot)
        if line.value:
            self._font("B")
            self.pdf.set_xy(begin, foot - LINE_MM)
            with self.pdf.local_context():
                self._fit(line.value, left + width - begin)
                self.pdf.cell(left + width - begin, LINE_MM, line.value)
            self._font()

    def _fit(self, text: str, width: float) -> None:
        """Smaller letters for a value that is too long for its line."""
        share = (width - 2.5) / self.pdf.get_string_width(text)
        if share < 1.0:
            self._font("B", max(TEXT_PT * share, 4.5))

    def _table(self, light: Sequence[tuple[str, str, str]]) -> None:
        widths = (32.0, 50.0, 50.0)
        for number, row in enumerate((("Light at, rpm", "hose off and plugged", "hose on"), *light)):
            self.pdf.set_x(SIDE_MM + INDENT_MM)
            for column, (text, width) in enumerate(zip(row, widths, strict=True)):
                self._font("B" if number and column else "")
                self.pdf.cell(width, CELL_MM, text, border=1)
            self.pdf.ln(CELL_MM)
        self._font()

    def _before(self, text: str, mark: str) -> None:
        """The mark before a paragraph, on the page on which the paragraph begins."""
        self._keep(LINE_MM * (1 + len(text) // 110))
        self.pdf.set_x(SIDE_MM)
        self.pdf.cell(INDENT_MM, LINE_MM, mark, new_x="RIGHT", new_y="TOP")

    def _keep(self, height_mm: float) -> None:
        if self.pdf.will_page_break(height_mm):
            self.pdf.add_page()

    def _font(self, style: Literal["", "B", "I"] = "", size: float = TEXT_PT) -> None:
        self.pdf.set_font(FONT, style, size)


def _rows(lines: Sequence[SheetLine]) -> Iterator[Sequence[SheetLine]]:
    """The lines two by two; a wide one by itself."""
    left = list(lines)
    while left:
        several = 1 if left[0].wide or (left[1:2] and left[1].wide) else 2
        yield left[:several]
        left = left[several:]
