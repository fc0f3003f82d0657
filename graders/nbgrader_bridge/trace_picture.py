"""The picture of an attempt for the learner's page: vacuum above, speed below, over the turn of the distributor's body
or over time.

It is drawn as SVG by hand, which costs a class run next to nothing and lets the page's own style sheet colour it. All
that goes into it are numbers.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from matplotlib.ticker import MaxNLocator

from engine_sim.physics.units import KPA_PER_INHG
from graders.outcome import Trace

WIDE = 640
PANEL = 150
GAP = 26
LEFT = 62
RIGHT = 58
TOP = 22
FOOT = 48
HATCH_STEP = 11  # between two strokes of the hatched part
WORDS_WIDE = 90  # room for the words beside a mark
MARKS = ("peak", "method", "left_at", "flat_from", "pings_from", "body_per_crank")
THERE_DEG = 1.0  # crank degrees: so near is there
ACROSS = {
    "body": "anticlockwise ← degrees of the body from where you found it → clockwise",
    "timing": "later ← crank degrees from where you found it → earlier",  # records of earlier editions
    "time": "time on the engine's clock, minutes",
}
NOT_DONE = "The engine's own curve is shown beside yours once you close the exercise or earn all of its points."


def trace_picture(told: Mapping | Trace | None, done: bool = True) -> str:
    """The picture with its words as an HTML figure; nothing where there is no trace, or one that holds no numbers.

    `told` is a Trace, or one that went through JSON. What the engine itself does is shown where the try is `done`.
    """
    trace = told if isinstance(told, Trace) else read_trace(told)
    if trace is None:
        return ""
    words = in_words(trace if done else trace.without_the_engine())
    if trace.over == "timing" and not done:
        words = f"{words} {NOT_DONE}"
    picture = _svg(_over_the_body(trace if done else trace.without_the_engine()), words)
    return f'<figure class="trace">{picture}<figcaption>{words}</figcaption></figure>'


def read_trace(told: object) -> Trace | None:
    """A trace from what a notebook's record holds; None where that is none."""
    if not isinstance(told, Mapping):
        return None
    try:
        lines = [tuple(float(value) for value in told[name]) for name in ("along", "vacuum_inhg", "speed_rpm", "acts")]
        marks = [None if told.get(name) is None else float(told[name]) for name in MARKS]
        curve = tuple((float(deg), float(vacuum), float(rpm)) for deg, vacuum, rpm in told.get("own_line") or ())
    except (TypeError, KeyError, ValueError, AttributeError, OverflowError):
        return None
    numbers = [value for line in (*lines, marks, *curve) for value in line if value is not None]
    if (
        told["over"] not in ACROSS
        or not lines[0]
        or len({len(line) for line in lines[:3]}) != 1
        or not all(map(math.isfinite, numbers))
    ):
        return None
    along, vacuum_inhg, speed_rpm, acts = lines
    return Trace(
        over=told["over"],
        along=along,
        vacuum_inhg=vacuum_inhg,
        speed_rpm=speed_rpm,
        acts=acts,
        own_line=curve,
        **dict(zip(MARKS, marks, strict=True)),
    )


def in_words(trace: Trace) -> str:
    """The text alternative of the picture."""
    highest = max(trace.vacuum_inhg)
    read = f"The highest vacuum you had was {highest:.1f} inHg ({highest * KPA_PER_INHG:.0f} kPa)"
    if trace.over == "time":
        seconds = trace.along[-1] - trace.along[0]
        lasted = f"{seconds:.0f} seconds" if seconds < 120.0 else f"{seconds / 60.0:.0f} minutes"
        return (
            f"Vacuum and speed while the engine ran, {lasted} in all; each small stroke is something"
            f" that you did. {read}; speed went from {min(trace.speed_rpm):.0f} to {max(trace.speed_rpm):.0f} rpm."
        )
    peak = "" if trace.peak is None else f"the peak of this engine lies at {_place(trace, trace.peak)}, and "
    return (
        "Your search, from ○ where you began to ● where you ended. You went as far as "
        f"{_place(trace, max(trace.along))}. {read}; {peak}you ended at {_place(trace, trace.along[-1])}."
        f"{_of_the_engine(trace)}"
    )


def _place(trace: Trace, crank_degrees: float) -> str:
    """A timing as the turn of the body from where it was found; in crank degrees where the record does not tell."""
    if trace.body_per_crank is None:
        return f"{crank_degrees:+.0f} crank degrees from where you found it".replace("-", "\u2212")
    halves = round(2.0 * crank_degrees * trace.body_per_crank)
    way = "clockwise" if halves > 0 else "anticlockwise"
    return f"{abs(halves) / 2:g}° {way}" if halves else "where you found it"


def _of_the_engine(trace: Trace) -> str:
    """What the engine's own curve and its marks say, a sentence each."""
    said = []
    if trace.own_line:
        said.append("The broad line is this engine itself, warm, hose plugged, idle screw as you left it.")
    if trace.own_line and trace.body_per_crank is not None:
        said.append(f"{'Clockwise' if trace.body_per_crank > 0.0 else 'Anticlockwise'} is earlier on this engine.")
    if trace.flat_from is not None:
        said.append(
            f"From {_place(trace, trace.flat_from)} on the needle no longer tells the vacuum from its highest: "
            "the flat top."
        )
    if trace.method is not None and trace.left_at is not None:
        off = trace.left_at - trace.method
        far = "a crank degree" if abs(off) < 1.5 else f"{abs(off):.0f} crank degrees"
        where = "there" if abs(off) < THERE_DEG else f"{far} {'earlier' if off > 0 else 'later'}"
        said.append(f"The method ends at {_place(trace, trace.method)}, and you left the timing {where}.")
    if trace.pings_from is not None:
        said.append(f"Earlier than {_place(trace, trace.pings_from)} it pings on its fuel under full load (hatched).")
    return "".join(f" {sentence}" for sentence in said)


def _over_the_body(trace: Trace) -> Trace:
    """The same over the turn of the body [degrees clockwise], where the record tells which way that is."""
    per_crank = trace.body_per_crank
    if trace.over != "timing" or per_crank is None:
        return trace
    marks: dict[str, Any] = {}
    for name in MARKS[:-1]:
        deg = getattr(trace, name)
        marks[name] = None if deg is None else deg * per_crank
    return replace(
        trace,
        along=tuple(deg * per_crank for deg in trace.along),
        own_line=tuple((deg * per_crank, vacuum, rpm) for deg, vacuum, rpm in trace.own_line),
        **marks,
    )


@dataclass(frozen=True)
class _Scale:
    """Where values of a range lie in the picture."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)


def _range(values: Sequence[float], least: float) -> tuple[float, float]:
    """A range with a little room around the values, never narrower than `least`."""
    low, high = min(values), max(values)
    room = max(0.06 * (high - low), 0.5 * (least - (high - low)), 0.03 * least)
    return low - room, high + room


def _ticks(low: float, high: float, most: int = 5) -> list[float]:
    return [value for value in MaxNLocator(most).tick_values(low, high) if low <= value <= high]


def _svg(trace: Trace, words: str) -> str:
    """Both panels; coordinates have one decimal, so that the same trace gives the same text."""
    marks = [*trace.along, *(deg for deg, *_ in trace.own_line)]
    marks += [deg for deg in (trace.peak, trace.method, trace.left_at) if deg is not None]
    across = _Scale(*_range(marks, 2.0 if trace.over == "timing" else 30.0), LEFT, WIDE - RIGHT)
    high = TOP + 2 * PANEL + GAP
    parts = [
        *_panel(trace, trace.vacuum_inhg, "vacuum", TOP, across, 0.6),
        *_panel(trace, trace.speed_rpm, "speed", TOP + PANEL + GAP, across, 40.0),
    ]
    unit = 60.0 if trace.over == "time" else 1.0
    over = "body" if trace.body_per_crank is not None else trace.over
    for value in _ticks(across.low / unit, across.high / unit, 7):
        number = (f"{abs(value):g}°" if value else "found") if over == "body" else f"{value:g}"
        parts.append(f'<text x="{across(value * unit):.1f}" y="{high + 16}" text-anchor="middle">{number}</text>')
    parts += [
        f'<text class="name" x="{(LEFT + WIDE - RIGHT) / 2:.1f}" y="{high + 36}" text-anchor="middle">'
        f"{ACROSS[over]}</text>"
    ]
    return (
        f'<svg viewBox="0 0 {WIDE} {high + FOOT}" role="img" aria-label="{words}" '
        f'xmlns="http://www.w3.org/2000/svg">{"".join(parts)}</svg>'
    )


def _panel(trace: Trace, values: Sequence[float], kind: str, top: float, across: _Scale, least: float):
    curve = [(deg, vacuum if kind == "vacuum" else rpm) for deg, vacuum, rpm in trace.own_line]
    up = _Scale(*_range([*values, *(value for _, value in curve)], least), top + PANEL, top)
    if pings := _pings_between(trace, across):
        yield _hatched(*pings, top)
    yield f'<rect class="frame" x="{LEFT}" y="{top}" width="{WIDE - LEFT - RIGHT}" height="{PANEL}"/>'
    for value in _ticks(up.low, up.high):
        y = f"{up(value):.1f}"
        yield f'<line class="grid" x1="{LEFT}" x2="{WIDE - RIGHT}" y1="{y}" y2="{y}"/>'
        yield f'<text x="{LEFT - 8}" y="{y}" dy=".35em" text-anchor="end">{value:g}</text>'
        if kind == "vacuum":
            yield f'<text x="{WIDE - RIGHT + 8}" y="{y}" dy=".35em">{value * KPA_PER_INHG:.1f}</text>'
    yield f'<text class="name" x="{LEFT}" y="{top - 7}">{"vacuum, inHg" if kind == "vacuum" else "speed, rpm"}</text>'
    if kind == "vacuum":
        yield f'<text class="name" x="{WIDE - RIGHT}" y="{top - 7}" text-anchor="end">kPa</text>'
    for act in trace.acts:
        at = f"{across(act):.1f}"
        yield f'<line class="act" x1="{at}" x2="{at}" y1="{top + PANEL - 8}" y2="{top + PANEL}"/>'
    if trace.peak is not None:
        x = across(trace.peak)
        yield f'<line class="peak" x1="{x:.1f}" x2="{x:.1f}" y1="{top}" y2="{top + PANEL}"/>'
        if kind == "vacuum":
            anchor, step = ("end", -6) if x > WIDE / 2 else ("start", 6)
            yield f'<text x="{x + step:.1f}" y="{top + PANEL - 8}" text-anchor="{anchor}">highest vacuum</text>'
    yield from _settings(trace, kind, top, across)
    if curve:
        line = " ".join(f"{across(x):.1f},{up(y):.1f}" for x, y in curve)
        yield f'<polyline class="own {kind}" points="{line}"/>'
    line = " ".join(f"{across(x):.1f},{up(y):.1f}" for x, y in zip(trace.along, values, strict=True))
    yield f'<polyline class="{kind}" points="{line}"/>'
    for place, name in ((0, "began"), (-1, "ended")):
        if trace.over == "timing":
            yield f'<circle class="{name}" cx="{across(trace.along[place]):.1f}" cy="{up(values[place]):.1f}" r="5"/>'


def _settings(trace: Trace, kind: str, top: float, across: _Scale):
    """Where the method ends and where the timing was left, with words in the lower panel; the hatched part, too."""
    bottom = top + PANEL
    found = ((trace.method, "method", "method"), (trace.left_at, "left", "left by you"))
    marked = [(deg, name, words) for deg, name, words in found if deg is not None]
    for deg, name, words in marked:
        x = across(deg)
        yield f'<line class="{name}" x1="{x:.1f}" x2="{x:.1f}" y1="{top}" y2="{bottom}"/>'
        if kind == "speed":
            later = deg < max(marked)[0]
            to_the_left = x > LEFT + WORDS_WIDE and (later or x > WIDE - RIGHT - WORDS_WIDE)
            y = bottom - (8 if name == "method" else 24)
            anchor, step = ("end", -6) if to_the_left else ("start", 6)
            yield f'<text x="{x + step:.1f}" y="{y}" text-anchor="{anchor}">{words}</text>'
    pings = _pings_between(trace, across)
    if kind == "speed" and pings and pings[1] - pings[0] > WORDS_WIDE:
        at_the_left = pings[0] == LEFT
        x, anchor = (LEFT + 6, "start") if at_the_left else (WIDE - RIGHT - 6, "end")
        yield f'<text x="{x}" y="{bottom - 40}" text-anchor="{anchor}">pings on its fuel</text>'


def _pings_between(trace: Trace, across: _Scale) -> tuple[float, float] | None:
    """From where to where it pings, in the picture; None where no such place is in it."""
    if trace.pings_from is None:
        return None
    clockwise = trace.body_per_crank is None or trace.body_per_crank > 0.0
    begins = min(max(across(trace.pings_from), LEFT), WIDE - RIGHT)
    left, right = (begins, WIDE - RIGHT) if clockwise else (LEFT, begins)
    return (left, right) if right > left else None


def _hatched(left: float, right: float, top: float) -> str:
    """A part of a panel, hatched by one line that goes up and down at 45 degrees."""
    corners = []
    for number, foot in enumerate(range(round(left) - PANEL + HATCH_STEP, round(right), HATCH_STEP)):
        ends = [max(0.0, left - foot), min(PANEL, right - foot)]  # along the stroke, from its foot
        corners += [f"{foot + up:.0f},{top + PANEL - up:.0f}" for up in (ends if number % 2 else reversed(ends))]
    return f'<polyline class="hatch" points="{" ".join(corners)}"/>'
