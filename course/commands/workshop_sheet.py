"""The check sheet for a session at a real vehicle, as a page to print: its lines stand in the instructor's guide."""

from __future__ import annotations

import html
import re
from pathlib import Path

from course import HERE
from graders.palette import LIGHT, css_variables

GUIDE, SHEET = HERE / "instructors.md", "workshop_sheet.html"
HEADING = "## A session at a real vehicle"
READINGS = (
    "as found",
    "warm, vacuum hose off and plugged",
    "at the highest vacuum",
    "there, idle brought back",
    "backed off",
    "clamp tight, hose on, idle set",
)
_LINE = re.compile(r"^- \[ \] (.+?)(?=^- \[ \] |^\n|\Z)", re.MULTILINE | re.DOTALL)
_PAGE = """<!doctype html>
<html lang="en-GB">
<meta charset="utf-8">
<title>Before the starter is touched</title>
<style>
:root {{
{palette}
}}
@page {{ size: A4; margin: 12mm; }}
body {{ font: 11pt/1.3 sans-serif; color: var(--eb-ink); max-width: 46rem; margin: 1rem auto; padding: 0 1rem; }}
h1 {{ font-size: 15pt; margin: 0 0 2mm; }}
p {{ margin: 1mm 0 2mm; }}
ul {{ list-style: none; margin: 0; padding: 0; }}
li {{ padding: 1.1mm 0 1.1mm 8mm; text-indent: -8mm; break-inside: avoid; border-bottom: 0.2mm solid var(--eb-line); }}
li::before {{ content: ""; display: inline-block; box-sizing: border-box; width: 4.2mm; height: 4.2mm;
  margin-right: 3.8mm; border: 0.4mm solid; vertical-align: -0.6mm; }}
table {{ border-collapse: collapse; width: 100%; margin-top: 5mm; }}
th, td {{ border: 0.2mm solid var(--eb-ink); padding: 1.6mm; text-align: left; }}
.filled {{ display: flex; gap: 6mm; margin: 2mm 0; }}
.filled span {{ flex: 1; border-bottom: 0.2mm solid; padding-top: 4mm; }}
</style>
<h1>Before the starter is touched</h1>
<p>To be read aloud and ticked, line by line. The maker's figures and the label come first, then the law of the place,
then licensed practice. Stop at the first thing that does not fit.</p>
<div class="filled"><span>Vehicle</span><span>Label: timing, idle</span><span>Date, instructor</span></div>
<ul>
{lines}
</ul>
<table>
<tr><th>Reading</th><th>vacuum</th><th>speed</th><th>timing light</th></tr>
{rows}
</table>
</html>
"""


def lines(guide: str) -> list[str]:
    """The lines of the check sheet in the text of the guide, each on one line."""
    section = guide.partition(f"{HEADING}\n")[2].partition("\n## ")[0]
    return [" ".join(line.split()) for line in _LINE.findall(section)]


def write(folder: Path) -> Path:
    """Write the page into a folder; return its path."""
    items = "\n".join(f"<li>{html.escape(line)}</li>" for line in lines(GUIDE.read_text(encoding="utf-8")))
    rows = "\n".join(f"<tr><td>{html.escape(one)}</td>{3 * '<td></td>'}</tr>" for one in READINGS)
    path = folder / SHEET
    path.write_text(_PAGE.format(palette=css_variables(LIGHT), lines=items, rows=rows), encoding="utf-8", newline="\n")
    return path
