"""The sheet for the car: cautions and the way to stop first, then the work in its order with a line for each reading.

`sheet_of` makes the sheet of an engine, `blank_sheet` one on which nothing is filled in; `sheet_page` and `sheet_pdf`
print it. What the maker says is printed as it was typed in. Of everything else a sheet prints no base above
HIGHEST_BASE_DEG and no total above HIGHEST_TOTAL_DEG: `figure_of_practice` refuses both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from engine_sim import TimingCourseError
from engine_sim.owned.starting import HIGHEST_BASE_DEG, HIGHEST_TOTAL_DEG

USUAL_DROP_RPM = 75.0  # common practice, no source
LIGHT_SPEEDS_RPM = (1500, 2500, 3000)  # the idle has lines of its own
NEVER_A_SETTING = "Every simulated figure is a band to compare with, never a setting."


class SheetError(TimingCourseError):
    """A figure that no sheet prints."""


@dataclass(frozen=True)
class SheetLine:
    """A line for a reading: its label, and its value where it is known already; `wide` across the whole page."""

    label: str
    value: str = ""
    wide: bool = False


@dataclass(frozen=True)
class SheetStep:
    """One step of the work, what it is compared with, and the lines that are filled in at it."""

    text: str
    lines: tuple[SheetLine, ...] = ()
    compare: str = ""
    before: bool = False  # the readings before anything is touched
    light: bool = False  # with the table for the timing light


@dataclass(frozen=True)
class Sheet:
    """Everything that is printed, in its order."""

    title: str
    day: tuple[SheetLine, ...]
    makers: tuple[SheetLine, ...]
    engine: tuple[SheetLine, ...]
    start: tuple[str, ...]
    steps: tuple[SheetStep, ...]
    left: tuple[SheetLine, ...]
    light: tuple[tuple[str, str, str], ...] = field(default=())  # speed, hose off, hose on


def figure_of_practice(degrees: float, kind: Literal["base", "total"]) -> str:
    """A figure in crank degrees that the maker did not give, as a sheet prints it. Raises SheetError above the highest
    that a sheet prints."""
    highest = HIGHEST_BASE_DEG if kind == "base" else HIGHEST_TOTAL_DEG
    if not degrees <= highest:
        raise SheetError(
            f"A sheet prints no {kind} above {highest:g} degrees that the maker did not give; {degrees:g} was wanted. "
            "Type in the maker's own figure, where there is one."
        )
    return f"{degrees:.0f}"


HOOK_UP = (
    "Engine and ignition off: vacuum gauge on a manifold port. Tachometer lead on the coil's primary terminal on the "
    "points side (minus on a negative-earth vehicle, the other one on positive earth), second clip to earth, switch on "
    "the number of cylinders. At an electronic module only where its maker allows."
)
TOTAL = (
    "Before the first wide-open pull: total by the light at 3,000 rpm, hose still off and plugged, mark proven with a "
    "piston stop. Light on with the engine off; a second person in the seat holds the speed, park or neutral, "
    "chocked. At most 34 degrees (30 in an unknown chamber) unless the maker says otherwise: a ceiling, not a target. "
    "No light or no proven mark: no wide-open pull."
)
PUT_BACK = (
    "Engine off: tachometer lead and gauge hose off, port closed, tools away, bonnet latched. Under 8 inHg (27 kPa) "
    "at idle: look at the brake booster's hose, and try the brakes before you drive."
)
TO_THE_ROAD = (
    "To the road: engine off, parking brake on, park or first gear; then chocks away, everyone clear. Driver in the "
    "seat, a foot on the brake, a lever in neutral; start. Afterwards engine off, park or first gear, parking brake "
    "on; then chocks."
)
DAY = ("Date", "Height of the day's place (ft or m)", "Air temperature", "Fuel in the tank")
HEARD = "Heard on the road, and where"
DID_NOT_FIT = "What did not fit"
SETTING = "Setting at the end, by the light"
LEFT = (*2 * (DID_NOT_FIT,), HEARD, SETTING)
TURNED_EARLY, TURNED_LATE = (f"Turned towards {way}: vacuum, speed" for way in ("advance", "retard"))
MARK_WANDERS = "The mark wanders by (degrees)"
DWELL_BEFORE, LEADS_OFF = "Dwell, before", "Speed, lead by lead off (rpm)"
HELD, ON_THE_STARTER = "Vacuum at 2,500 rpm, hose off; hose on", "On the starter: vacuum, speed"
MAKERS = (
    "Base timing, and whose degrees",
    "At which speed, hose on or off",
    "Idle speed",
    "Dwell or gap of the points",
    "Weights add at most, all in at",
    "Vacuum unit adds at most, from and full at",
    "Total without vacuum",
    "Speed drop",
)
ENGINE = ("Engine", "Distributor", "The rotor turns, seen from above", "Advance hose")
START_WITHOUT_FIGURE = (
    "The maker's figure comes first. Without one, to start it: static "
    f"{figure_of_practice(6, 'base')} to {figure_of_practice(8, 'base')} crank degrees before top dead centre, "
    f"0 to {figure_of_practice(4, 'base')} where it kicks or drags (common practice).",
)


def blank_sheet() -> Sheet:
    """The sheet on which nothing is filled in."""
    return Sheet(
        title="Sheet for the car",
        day=_empty(DAY),
        makers=_empty(MAKERS),
        engine=_empty(ENGINE),
        start=START_WITHOUT_FIGURE,
        steps=work(),
        left=_empty(LEFT),
        light=tuple((f"{speed:,}", "", "") for speed in LIGHT_SPEEDS_RPM),
    )


def work(turn: str = "towards advance") -> tuple[SheetStep, ...]:
    """The steps with their empty lines; `turn` says which way the body is turned."""
    return (
        SheetStep(
            "Valve clearances to the maker's figure, then the dwell of points: both come before the timing.",
            _empty((DWELL_BEFORE, "Dwell, set")),
        ),
        SheetStep(HOOK_UP, _empty(("Gauge on fitting", "Tachometer on"))),
        SheetStep(
            "Start. Warm, choke off, lamps and blower off. Engine off: advance hose off and plugged. Start again.",
            _empty(("State of the engine", "Hose off, plugged with")),
        ),
        SheetStep(
            "Read before you touch anything else. Engine off. Mark body and block, and write it down: the way back.",
            _empty(
                (
                    "Vacuum at idle, before (inHg or kPa)",
                    "What the needle does",
                    "Idle speed, before (rpm)",
                    "Timing by the light, hose off and plugged",
                    "Timing by the light, hose on",
                    "Mark made, and where",
                )
            ),
            before=True,
        ),
        SheetStep(
            "For an answer from afar: clamp just loose; start. Body only, clear of the fan: 4 of its degrees (8 of the "
            "crank) each way from the mark, read, back. 2,500 rpm: second person. Starter: coil lead earthed. "
            "Each plug lead, engine off: off and earthed; start, read; engine off, back.",
            _empty((TURNED_EARLY, TURNED_LATE, HELD, ON_THE_STARTER, LEADS_OFF, MARK_WANDERS)),
        ),
        SheetStep(
            f"Clamp just loose; start. Turn {turn}, slowly, to the highest steady vacuum.",
            _empty(("Highest steady vacuum", "Speed there (rpm)")),
        ),
        SheetStep(
            "Bring the idle back with the idle screw, and look for the highest vacuum again.",
            _empty(("Highest vacuum again", "Speed at the peak (rpm)")),
        ),
        SheetStep(
            f"Retard the distributor, not the idle screw, until the speed has fallen by about {USUAL_DROP_RPM:.0f} "
            "rpm (¼ to ½ inHg, 1 to 2 kPa, on the gauge ends earlier): practice, where the maker gives no figure.",
            _empty(("Less the drop: stop at (rpm)", "Speed after backing off", "Vacuum after backing off")),
        ),
        SheetStep(
            "Clamp tight. Read again, the hose still off.",
            _empty(("Vacuum, clamp tight", "Timing by the light, clamp tight, hose off", "Mark moved by")),
        ),
        SheetStep(TOTAL, light=True),
        SheetStep(
            "Engine off: light off, hose back on. Start, and set the idle by the label.",
            _empty(("Speed, hose on, idle set",)),
        ),
        SheetStep(PUT_BACK),
        SheetStep(TO_THE_ROAD),
        SheetStep(
            "Road check within the law, a passenger who listens. Pings under load: throttle shut, two degrees back, "
            "drive again; at the end light and idle once more. If it still pings at 6 degrees, look at fuel and "
            "curve, not at the base.",
            _empty(("Pinged at speed, gear, load", "Retarded by (crank degrees)", "Hot restart: how it turned")),
        ),
    )


def filled(lines: Sequence[SheetLine], values: dict[str, str]) -> tuple[SheetLine, ...]:
    """Lines with their values, by label. Raises KeyError where a label has no line."""
    unknown = set(values) - {line.label for line in lines}
    if unknown:
        raise KeyError(f"no line for {', '.join(sorted(unknown))}")
    return tuple(replace(line, value=values.get(line.label, line.value)) for line in lines)


def _empty(labels: Sequence[str]) -> tuple[SheetLine, ...]:
    return tuple(SheetLine(label, wide=label in (DID_NOT_FIT, HEARD, SETTING)) for label in labels)
