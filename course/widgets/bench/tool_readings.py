"""What the tools of an exercise show: in words, for everybody, and as numbers for their drawings."""

from __future__ import annotations

from collections import deque
from collections.abc import Collection, Iterable, Mapping
from typing import TYPE_CHECKING

from engine_sim import CONTROLS
from engine_sim.physics import units

if TYPE_CHECKING:
    from engine_sim import Readings

TOLD_EVERY_S = 0.5  # of engine time: nobody reads, or hears, a number that changes faster
WATCHED_S = 2.0
WANDERS_DEG = 2.0  # calibration: the scatter of light and meter on a sound distributor stays within it
STATE = (  # settings that are seen at once
    "timing_light",
    "dwell_meter",
    "test_lamp",
    "ignition_switch",
    "load_brake",
    "crank_mark",
    "piston_stop",
    "touches",
    "fuel_meter",
    "exhaust_probe",
)


class ToolReadings:
    """Follows the readings of one bench and tells, at most once in `TOLD_EVERY_S`, what its tools show.

    Only tools that the exercise offers are told. A value that moved to and fro by more than `WANDERS_DEG` degrees
    within the last `WATCHED_S` seconds is said to wander, with its range; one that goes steadily up or down does not.
    """

    def __init__(self, tools: Iterable[str]):
        offered = frozenset(tools)
        self._offered = [name for name in _TOLD if name in offered]
        self._watched: dict[str, deque] = {  # of time [s] and value [deg]
            name: deque() for name in ("timing_light", "dwell_meter")
        }
        self._told: dict[str, dict] = {}
        self._told_s = float("-inf")
        self._state: tuple | None = None
        self._settings: dict = {}

    def tell(self, readings: Readings, settings: Mapping) -> dict[str, dict]:
        """For each tool its `words`; where it shows something, `short` words and `value` [deg or N m] as well, and
        where it wanders `low` and `high` [deg].

        A tool that was put on or off, a crank that was turned, a start or a stop is told at once.
        """
        if not self._offered:
            return self._told
        if settings != self._settings:  # what hands moved does not wander
            self._settings = dict(settings)
            for seen in self._watched.values():
                seen.clear()
        self._watch("timing_light", readings.time_s, readings.timing_light_deg)
        self._watch("dwell_meter", readings.time_s, readings.dwell_deg)
        state = (readings.firing_hz > 0.0, readings.running, *(settings.get(name) for name in STATE))
        passed_s = readings.time_s - self._told_s
        if state == self._state and 0.0 <= passed_s < TOLD_EVERY_S:
            return self._told
        self._told_s, self._state = readings.time_s, state
        self._told = {name: _TOLD[name](self, readings, settings) for name in self._offered}
        return self._told

    def _watch(self, name: str, now_s: float, value: float | None) -> None:
        seen = self._watched[name]
        if value is None or (seen and now_s < seen[-1][0]):
            seen.clear()
        if value is None or (seen and now_s == seen[-1][0]):
            return
        seen.append((now_s, float(value)))
        while seen[0][0] < now_s - WATCHED_S:
            seen.popleft()

    def _with_range(self, name: str, value: float) -> dict:
        """The value, with its range where it wanders."""
        seen = self._watched[name]
        if to_and_fro(seen) <= WANDERS_DEG:
            return {"value": value}
        values = [one for _, one in seen]
        return {"value": value, "low": min(values), "high": max(values)}

    def _light(self, readings: Readings, settings: Mapping) -> dict:
        if settings["timing_light"] != "on":
            return {"words": "not clamped on"}
        if readings.timing_light_deg is None:
            return {"words": "dark: it flashes only when the plug fires"}
        shown = self._with_range("timing_light", float(readings.timing_light_deg))
        if "low" in shown:
            words = f"wanders from {range_in_words(round(shown['low']), round(shown['high']))}"
        else:
            words = marks_in_words(shown["value"])
        return {**shown, "words": f"{words} by the marks", "short": f"light {marks_in_short(shown['value'])}"}

    def _dwell(self, readings: Readings, settings: Mapping) -> dict:
        if settings["dwell_meter"] != "on":
            return {"words": "not connected"}
        if readings.dwell_deg is None:
            return {"words": "shows nothing: the engine does not turn"}
        shown = self._with_range("dwell_meter", float(readings.dwell_deg))
        number = f"{shown['value']:g}"
        if "low" in shown:
            number = f"wanders from {shown['low']:.0f} to {shown['high']:.0f}"
        return {**shown, "words": f"{number} distributor degrees", "short": f"dwell {shown['value']:g}°"}

    def _lamp(self, readings: Readings, settings: Mapping) -> dict:
        if settings["test_lamp"] != "on":
            return {"words": "not connected"}
        if readings.lamp_lit is None:
            return {"words": "tells nothing while the engine turns"}
        if settings["ignition_switch"] != "on":
            return {"value": 0.0, "words": "dark: the ignition is off", "short": "lamp dark"}
        words = "lit: the points are open" if readings.lamp_lit else "dark: the points are closed"
        return {"value": float(readings.lamp_lit), "words": words, "short": f"lamp {words.split(':')[0]}"}

    def _brake(self, readings: Readings, settings: Mapping) -> dict:
        if not settings["load_brake"]:
            return {"words": "brake off"}
        if readings.torque_nm is None:
            return {"words": "no pull: the engine does not turn"}
        torque = float(readings.torque_nm)
        pounds_foot = torque / units.NEWTON_METRES_PER_POUND_FOOT
        return {"value": torque, "words": f"{torque:.1f} N m ({pounds_foot:.1f} lbf ft)", "short": f"{torque:.1f} N m"}

    def _fuel(self, readings: Readings, settings: Mapping) -> dict:
        if settings["fuel_meter"] != "on" or readings.fuel_l_h is None:
            return {"words": "not connected"}
        return {
            "value": float(readings.fuel_l_h),
            "words": readings.fuel_words,
            "short": f"fuel {readings.fuel_l_h:.1f} l/h",
        }

    def _exhaust(self, readings: Readings, settings: Mapping) -> dict:
        if settings["exhaust_probe"] != "on" or readings.exhaust_c is None:
            return {"words": "not connected"}
        return {
            "value": float(readings.exhaust_c),
            "words": readings.exhaust_words,
            "short": f"exhaust {readings.exhaust_c:.0f} °C",
        }

    def _crank(self, readings: Readings, settings: Mapping) -> dict:
        if readings.firing_hz > 0.0:
            return {"words": "turns with the engine"}
        stands = float(settings["crank_mark"])
        return {
            "value": stands,
            "words": f"stands at {marks_in_words(stands)} by the marks",
            "short": f"crank {marks_in_short(stands)}",
        }

    def _stop(self, _readings: Readings, settings: Mapping) -> dict:
        touched = [f"{way}, {marks_in_words(deg)}" for way, deg in settings["touches"].items()]
        words = "; ".join(touched) + " by the old mark" if touched else "no touch yet"
        return {"words": words if settings["piston_stop"] != "out" or touched else "not in"}


_TOLD = {
    "timing_light": ToolReadings._light,
    "dwell_meter": ToolReadings._dwell,
    "test_lamp": ToolReadings._lamp,
    "load_brake": ToolReadings._brake,
    "crank_mark": ToolReadings._crank,
    "piston_stop": ToolReadings._stop,
    "fuel_meter": ToolReadings._fuel,
    "exhaust_probe": ToolReadings._exhaust,
}


def to_and_fro(seen: Collection[tuple[float, float]]) -> float:
    """How far values left the straight line through them, from the lowest to the highest; 0 for fewer than three.
    `seen` holds times [s], each another, and values; the answer has the values' unit."""
    if len(seen) < 3:
        return 0.0
    mean_s, mean = (sum(column) / len(seen) for column in zip(*seen, strict=True))
    along = sum((time_s - mean_s) * (value - mean) for time_s, value in seen)
    slope = along / sum((time_s - mean_s) ** 2 for time_s, _ in seen)
    left = [value - mean - slope * (time_s - mean_s) for time_s, value in seen]
    return max(left) - min(left)


def said_of(tools: Mapping[str, dict]) -> str:
    """What connected tools show, as one sentence to add where the gauges are read; empty where none shows anything."""
    shown = [f"{CONTROLS[name].shows} {tool['words']}" for name, tool in tools.items() if "value" in tool]
    return f" Tools: {'; '.join(shown)}." if shown else ""


def marks_in_words(deg: float) -> str:
    """A place of the crank [deg before top centre] as it is spoken."""
    if not deg:
        return "top centre"
    unit = "degree" if abs(deg) == 1.0 else "degrees"
    return f"{abs(deg):g} {unit} {'before' if deg > 0 else 'after'} top centre"


def marks_in_short(deg: float) -> str:
    """A place of the crank [deg before top centre] where there is little room."""
    return f"{deg:g}°" if deg >= 0 else f"{-deg:g}° after"


def range_in_words(low: float, high: float) -> str:
    """A range of places of the crank [deg before top centre] as it is spoken."""
    if low >= 0 or high <= 0:
        near, far = sorted((abs(low), abs(high)))
        return f"{near:g} to {far:g} degrees {'after' if high <= 0 else 'before'} top centre"
    return f"{marks_in_words(low)} to {marks_in_words(high)}"
