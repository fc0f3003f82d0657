"""Draws architecture.svg beside this file: the rooms of the three packages, as pyproject.toml orders them.

`python -m tests.repository.architecture` writes the picture. Rows are the layers of the import contracts, the topmost
first: a room may use the rows below it, in its own package and in the packages below. The words are the first
paragraph of each room's docstring.
"""

from __future__ import annotations

import ast
import textwrap
import tomllib
from pathlib import Path
from xml.sax.saxutils import escape

from graders.palette import LIGHT

ROOT = Path(__file__).parents[2]
PICTURE = Path(__file__).with_name("architecture.svg")
PACKAGES = ("course", "graders", "engine_sim")
OLDER_NAMES = {"build", "not_running", "boxed_kernel", "nbgrader_collect"}  # of class folders made before; no rooms
WIDTH, MARGIN, GAP = 1080, 24, 10
NAME_HEIGHT, LINE_HEIGHT, PADDING = 20, 15, 10
LETTER_WIDTH = 6.0  # of the words at 12 px, on average


def layers_of(package: str) -> list[list[str]]:
    """The rows of rooms of a package, from its contract."""
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"][
        "contracts"
    ]
    layers = next(contract["layers"] for contract in contracts if contract["id"] == package)
    rows = [[name.strip() for name in layer.split("|")] for layer in layers]
    rows = [[name for name in row if name not in OLDER_NAMES] for row in rows]
    return [row for row in rows if row]


def words_of(package: str, room: str) -> str:
    """The first paragraph of a room's docstring."""
    path = ROOT / package / room
    path = path / "__init__.py" if path.is_dir() else path.with_suffix(".py")
    docstring = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
    return " ".join(docstring.split("\n\n")[0].split()).replace("`", "")


def _text(x: float, y: float, words: str, style: str) -> str:
    return f'<text x="{x:.0f}" y="{y:.0f}" class="{style}">{escape(words)}</text>'


def _row(package: str, row: list[str], top: float) -> tuple[list[str], float]:
    """The boxes of one row and its height."""
    width = (WIDTH - 4 * MARGIN - GAP * (len(row) - 1)) / len(row)
    letters = int((width - 2 * PADDING) / LETTER_WIDTH)
    lines = {room: textwrap.wrap(words_of(package, room), letters) for room in row}
    height = NAME_HEIGHT + LINE_HEIGHT * max(map(len, lines.values())) + PADDING
    parts = []
    for number, room in enumerate(row):
        x = 2 * MARGIN + number * (width + GAP)
        name = f"{room}/" if (ROOT / package / room).is_dir() else f"{room}.py"
        parts.append(f'<rect x="{x:.0f}" y="{top:.0f}" width="{width:.0f}" height="{height:.0f}" class="room"/>')
        parts.append(_text(x + PADDING, top + NAME_HEIGHT - 3, name, "name"))
        for line, words in enumerate(lines[room], start=1):
            parts.append(_text(x + PADDING, top + NAME_HEIGHT + LINE_HEIGHT * line - 3, words, "words"))
    return parts, height


def picture() -> str:
    """The picture as SVG, with the same in words for those who do not see it."""
    parts, y = [], float(MARGIN)
    for package in PACKAGES:
        top, inside = y, []
        y += 30
        for row in layers_of(package):
            boxes, height = _row(package, row, y)
            inside += boxes
            y += height + GAP
        parts.append(
            f'<rect x="{MARGIN}" y="{top:.0f}" width="{WIDTH - 2 * MARGIN}" height="{y - top:.0f}" class="package"/>'
        )
        parts.append(_text(2 * MARGIN, top + 20, f"{package}/", "title"))
        parts += inside
        if package != PACKAGES[-1]:
            parts.append(f'<path d="M{WIDTH / 2:.0f} {y + 3:.0f} v14 m-5 -6 l5 6 l5 -6" class="arrow"/>')
        y += 22
    told = "; ".join(
        f"{package}: " + ", then ".join(" and ".join(row) for row in layers_of(package)) for package in PACKAGES
    )
    line, ink = LIGHT["line"], LIGHT["ink"]
    style = (
        f".package{{fill:{LIGHT['raised']};stroke:{line}}} .room{{fill:{LIGHT['paper']};stroke:{line}}} "
        f".arrow{{fill:none;stroke:{ink};stroke-width:2}} text{{font-family:sans-serif;fill:{ink}}} "
        f".title{{font-size:16px;font-weight:bold}} .name{{font-size:13px;font-weight:bold}} .words{{font-size:12px}}"
    )
    opening = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {y:.0f}" role="img" '
    return "\n".join((f'{opening}aria-label="{escape(told)}">', f"<style>{style}</style>", *parts, "</svg>\n"))


if __name__ == "__main__":
    PICTURE.write_text(picture(), encoding="utf-8", newline="\n")
    print(f"written: {PICTURE.relative_to(ROOT)}")
