"""What hands can do at the engine: every control, what it can be set to, and the words for it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from .errors import ControlError


@dataclass(frozen=True)
class Control:
    """One control. `kind` is choice (one of `choices`), number (`low` to `high` in `unit`) or press (no value)."""

    name: str
    label: str
    kind: str
    choices: tuple[str, ...] = ()
    low: float = 0.0
    high: float = 0.0
    step: float = 0.0
    unit: str = ""

    def checked(self, value, unit: str | None = None) -> str | float | None:
        """Return the value as the session keeps it. Raises ControlError with what was wanted and what was found."""
        if self.kind == "press":
            return None
        if self.kind == "choice":
            if value not in self.choices:
                raise ControlError(f"{self.label} can be {', '.join(self.choices)}; '{value}' was asked for.")
            return value
        return self._checked_number(value, unit)

    def _checked_number(self, value, unit: str | None) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise ControlError(f"{self.label} takes a number of {self.unit}; '{value}' was given.")
        if unit not in (None, self.unit):
            raise ControlError(f"{self.label} is set in {self.unit}; a value in '{unit}' was given.")
        if not self.low <= value <= self.high:
            raise ControlError(
                f"{self.label} goes from {self.low:g} to {self.high:g} {self.unit}; {value:g} was asked for."
            )
        return float(value)


def _choice(name: str, label: str, *choices: str) -> Control:
    return Control(name, label, "choice", choices)


def _press(name: str, label: str) -> Control:
    return Control(name, label, "press")


CONTROLS: dict[str, Control] = {
    control.name: control
    for control in (
        _choice("brake", "Parking brake", "off", "on"),
        _choice("chocks", "Wheel chocks", "away", "in place"),
        _choice("ventilation", "Exhaust extraction", "off", "on"),
        _choice("fan_area", "Fan and belts", "not checked", "clear"),
        _choice("gear", "Gear selector", "park", "reverse", "neutral", "drive"),
        _choice("tachometer", "Tachometer lead", "off", "on"),
        _choice("gauge_hose", "Vacuum gauge hose", "none", "manifold", "ported"),
        _choice("vacuum_hose", "Vacuum advance hose", "on", "off and open", "off and plugged"),
        _choice("clamp", "Distributor clamp", "tight", "loose"),
        Control("distributor", "Distributor body", "number", (), -25.0, 25.0, 0.25, "distributor degrees clockwise"),
        Control("idle_screw", "Idle speed screw", "number", (), 0.0, 6.0, 0.05, "turns in"),
        Control("throttle", "Throttle", "number", (), 0.0, 1.0, 0.05, "of full travel"),
        _press("starter", "Starter"),
        _press("stop", "Switch off"),
        _press("snap", "Snap the throttle"),
        _press("wait_until_warm", "Wait until warm"),
        _press("wait", "Wait ten seconds"),
        _press("read_gauges", "Read the gauges"),
        _press("road_check", "Road check"),
        _press("begin", "Begin a new try"),
    )
}


def control_named(name: str) -> Control:
    """The control of that name. Raises ControlError that lists the names there are."""
    if name not in CONTROLS:
        raise ControlError(f"There is no control '{name}'; there are {', '.join(CONTROLS)}.")
    return CONTROLS[name]
