"""A sheet to print and take to one's own engine: what was entered, what follows, and lines to fill in with a pencil.

One page of HTML that needs nothing from outside.
"""

from __future__ import annotations

import html
import os
import tempfile
from pathlib import Path

from graders.exercises.kinds.own_engine import ENTRIES, GROUPS, READ, Answer
from graders.exercises.kinds.own_engine_advice import FIRST, advice_for
from graders.palette import LIGHT

SHEET_NAME = "your_engine.html"
CAUTIONS = (
    "Exhaust is poison: outdoors, or with extraction that works. A hot exhaust sets dry grass alight: bare ground.",
    "Parking brake on, wheels chocked, neutral or park, nobody in front of the vehicle, nobody under it on its jack.",
    "Nobody touches a chock while the engine runs.",
    "Hands, hair, sleeves and cords clear of fan, belts and pulleys; hot parts and the coil's voltage hurt.",
    "Under a timing light, fan, belts and pulley look as if they stood still. Nobody stands in the plane of the fan.",
    "Eye protection on. No flame and no sparks near fuel or battery.",
    "Air cleaner on before the starter turns; no hand, sleeve or face over an open carburettor.",
    "A reading in gear needs a second person on the brake.",
    "Local law decides what may be changed where there are emission controls; licensed practice comes first.",
)
STEPS = (
    "Engine and ignition off: vacuum gauge on a manifold port. Tachometer lead on the coil's primary terminal on the "
    "points side (minus on a negative-earth vehicle, the other one on positive earth), second clip to earth, switch on "
    "the number of cylinders. At an electronic module only where its maker allows.",
    "Warm engine, choke off. Advance hose off and plugged.",
    "Read before you touch anything: vacuum, idle, timing by the light. Mark body and block, and write it down: the "
    "way back.",
    "Clamp just loose. Turn towards advance, slowly, to the highest steady vacuum.",
    "Bring the idle back with the idle screw, and look for the highest vacuum again.",
    "Retard the distributor, not the idle screw, until the speed has fallen by about 75 rpm, or the vacuum by ¼ to ½ "
    "inHg (1 to 2 kPa): figures of practice, where the maker gives none.",
    "Clamp tight. Read again. Hose back on. Set the idle by the label.",
    "Before the first wide-open pull: total by the light at 3,000 rpm, hose off and plugged, at most 34 degrees (30 in "
    "an unknown chamber) unless the maker says otherwise. No light, no wide-open pull.",
    "Under 8 inHg (27 kPa) at idle: look at the brake booster's hose, and try the brakes before you drive.",
    "Engine off, parking brake on, park or first gear; then chocks away, everyone clear. Driver in the seat, a foot on "
    "the brake, a lever in neutral; start. Afterwards engine off, park or first gear, parking brake on; then chocks.",
    "Road check within the law, a passenger to read gauges. Pings under load: throttle shut, two degrees back, drive "
    "again.",
)
NOT_STARTING = (
    "Starter: after ten seconds, half a minute's rest. No ether, no fuel poured in.",
    "Coil lead out of the cap: clipped to earth, never open. The spanner is off the crank before the starter is used.",
    "Jump leads on negative-earth vehicles, both engines off: red to the flat battery's plus, red to the good one's "
    "plus, black to the good one's minus, last black to bare metal of the engine with the flat battery, away from the "
    "battery. Off in reverse. Positive earth: the maker's book.",
    "Charger: switched off, red to plus, then black to bare metal away from the battery. Off again before the clips "
    "come off, black first.",
)
PENCIL = (
    "Vacuum at idle, before",
    "Idle speed, before",
    "Timing by the light, before",
    "Highest steady vacuum, and the speed there",
    "Backed off by (rpm, inHg)",
    "Total by the light at 3,000 rpm",
    "Vacuum after tightening",
    "Idle speed at the end",
    "Heard on the road",
)
STYLE = f"""
body {{ font: 15px/1.45 system-ui, sans-serif; color: {LIGHT["ink"]}; background: {LIGHT["paper"]};
       max-width: 44em; margin: 2em auto; padding: 0 1em; }}
h1 {{ font-size: 1.5em; }} h2 {{ font-size: 1.1em; margin: 1.2em 0 0.3em; border-bottom: 1px solid {LIGHT["edge"]}; }}
table {{ border-collapse: collapse; width: 100%; }}
th, td {{ text-align: left; padding: 3px 8px 3px 0; vertical-align: top; }}
th {{ font-weight: 400; width: 45%; }} dt {{ font-weight: 650; margin-top: 0.5em; }} dd {{ margin: 0; }}
.basis {{ color: {LIGHT["quiet"]}; font-size: 0.9em; }}
.line td {{ border-bottom: 1px solid {LIGHT["edge"]}; height: 1.9em; }}
.first {{ border: 2px solid {LIGHT["ink"]}; padding: 0.5em 0.8em; }}
@media print {{ body {{ margin: 0; font-size: 12px; }} h2 {{ break-after: avoid; }} tr, dd {{ break-inside: avoid; }} }}
"""


def write_sheet(folder: Path, card: Answer, engines: Path) -> Path:
    """Write the sheet into a folder, whole or not at all, and return its path. Raises OSError."""
    path, text = Path(folder) / SHEET_NAME, sheet_text(card, engines)
    with tempfile.NamedTemporaryFile("w", encoding="utf-8", dir=folder, suffix=".part", delete=False) as part:
        part.write(text)
    os.replace(part.name, path)
    return path


def sheet_text(card: Answer, engines: Path) -> str:
    """The whole page."""
    return f"""<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>Your own engine</title><style>{STYLE}</style></head><body>
<h1>Your own engine</h1>
<p class="first"><strong>{html.escape(FIRST)}</strong></p>
<h2>Before you start it</h2>
<ul>{"".join(f"<li>{html.escape(one)}</li>" for one in CAUTIONS)}</ul>
{"".join(_group(card, group) for group in GROUPS if group != READ)}
<h2>What to expect</h2>
<dl>{"".join(_told(one) for one in advice_for(card, engines))}</dl>
<h2>The work</h2>
<ol>{"".join(f"<li>{html.escape(one)}</li>" for one in STEPS)}</ol>
<h2>If it does not start</h2>
<ul>{"".join(f"<li>{html.escape(one)}</li>" for one in NOT_STARTING)}</ul>
<h2>Written down at the engine</h2>
<table>{_lines(card)}</table>
</body></html>
"""


def _group(card: Answer, group: str) -> str:
    rows = [
        f"<tr><th scope='row'>{html.escape(entry.label)}</th><td>{html.escape(_words(card[name]))}</td></tr>"
        for name, entry in ENTRIES.items()
        if entry.group == group
    ]
    return f"<h2>{html.escape(group)}</h2>\n<table>{''.join(rows)}</table>\n"


def _words(given) -> str:
    """An entry as a person reads it; a line to write on where it is empty."""
    if given is None:
        return "________________"
    return given if isinstance(given, str) else f"{given[0]:g} {given[1]}"


def _told(one) -> str:
    return (
        f"<dt>{html.escape(one.title)}</dt><dd>{html.escape(one.text)} "
        f"<span class='basis'>({html.escape(one.basis)})</span></dd>"
    )


def _lines(card: Answer) -> str:
    read = {name: entry for name, entry in ENTRIES.items() if entry.group == READ and card[name] is not None}
    rows = [
        f"<tr><th scope='row'>{html.escape(entry.label)}</th><td>{html.escape(_words(card[name]))}</td></tr>"
        for name, entry in read.items()
    ]
    rows += [f"<tr class='line'><th scope='row'>{html.escape(label)}</th><td></td></tr>" for label in PENCIL]
    return "".join(rows)
