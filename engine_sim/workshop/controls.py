"""What hands can do at the engine: every control, what it can be set to, and the words for it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from engine_sim.errors import ControlError
from engine_sim.physics.distributor import HOSE_STATES


@dataclass(frozen=True)
class Control:
    """One control. `kind` is choice (one of `choices`), number (`low` to `high` in `unit`) or press (no value).

    `turns` are the fine and the coarse step by which a number is turned, each with its words; the fine one is `step`.
    `shows` is what its readings are called where it is a tool that shows something.
    """

    name: str
    label: str
    kind: str
    choices: tuple[str, ...] = ()
    low: float = 0.0
    high: float = 0.0
    step: float = 0.0
    unit: str = ""
    turns: tuple[tuple[float, str], ...] = ()
    tool: bool = False  # belongs to some exercises only, which name it
    shows: str = ""

    def checked(self, value: object, unit: str | None = None) -> str | float | None:
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


def _choice(name: str, label: str, *choices: str, tool: bool = False, shows: str = "") -> Control:
    return Control(name=name, label=label, kind="choice", choices=choices, tool=tool, shows=shows)


def _press(name: str, label: str, tool: bool = False) -> Control:
    return Control(name=name, label=label, kind="press", tool=tool)


def _slide(name: str, label: str, low: float, high: float, step: float, unit: str) -> Control:
    return Control(name=name, label=label, kind="number", low=low, high=high, step=step, unit=unit)


def _turned(name: str, label: str, *turns: tuple[float, str], **more) -> Control:
    return Control(name=name, label=label, kind="number", step=turns[0][0], turns=turns, **more)


SNUG = "snug"  # of the clamp: the body turns with effort, and stays where it is let go
SWITCH_SIDE = "on the switch side"  # of the coil, where no pulse comes to a tachometer
DRIVER_READY = "everyone clear, foot on the brake"
LEAD_EARTHED = "out and earthed"
STOP_IN = "in cylinder one"
NEEDED_WITH = {  # a tool that would be dangerous without other ones brings them along
    "test_lamp": ("coil_lead", "ignition_switch"),
    "crank_mark": ("spanner", "coil_lead", "ignition_switch"),
    "piston_stop": ("spanner", "turn_to_stop", "turn_back_to_stop", "centre_mark"),
}
CONTROLS: dict[str, Control] = {
    control.name: control
    for control in (
        _choice("brake", "Parking brake", "off", "on"),
        _choice("chocks", "Wheel chocks", "away", "in place"),
        _choice("ventilation", "Exhaust extraction", "off", "on"),
        _choice("fan_area", "Fan and belts", "not checked", "clear"),
        _choice("gear", "Gear selector", "park", "reverse", "neutral", "drive", "in gear"),
        _choice("helper", "Second person", "nobody", "at the brake", tool=True),
        _choice("driver", "Driver", "not seated", DRIVER_READY),
        _choice("tachometer", "Tachometer lead", "off", "on", SWITCH_SIDE),
        _choice("gauge_hose", "Vacuum gauge hose", "none", "manifold", "ported"),
        _choice("vacuum_hose", "Vacuum advance hose", *HOSE_STATES),
        _choice("clamp", "Distributor clamp", "tight", SNUG, "loose"),
        _turned(
            "distributor",
            "Distributor body",
            (0.25, "¼°"),
            (2.0, "2°"),
            low=-25.0,
            high=25.0,
            unit="distributor degrees clockwise",
        ),
        _turned(
            "idle_screw",
            "Idle speed screw",
            (0.05, "1/20 turn"),
            (0.25, "1/4 turn"),
            low=0.0,
            high=6.0,
            unit="turns in",
        ),
        _slide("throttle", "Throttle", low=0.0, high=1.0, step=0.05, unit="of full travel"),
        _turned(
            "mixture_screw",
            "Idle mixture screw",
            (0.125, "1/8 turn"),
            (0.5, "1/2 turn"),
            low=0.0,
            high=4.0,
            unit="turns out",
            tool=True,
        ),
        _turned(
            "hold_speed",
            "Hold a speed by the throttle",
            (100.0, "100 rpm"),
            (500.0, "500 rpm"),
            low=0.0,
            high=3500.0,
            unit="rpm, 0 to let go",
            tool=True,
        ),
        _turned(
            "load_brake",
            "Brake of the test stand holds",
            (100.0, "100 rpm"),
            (500.0, "500 rpm"),
            low=0.0,
            high=3500.0,
            unit="rpm, 0 for off",
            tool=True,
            shows="brake of the test stand",
        ),
        _choice("timing_light", "Timing light", "off", "on", tool=True, shows="timing light"),
        _choice("dwell_meter", "Dwell meter", "off", "on", tool=True, shows="dwell meter"),
        _choice("test_lamp", "Test lamp at the points", "off", "on", tool=True, shows="test lamp"),
        _choice("fuel_meter", "Fuel meter", "off", "on", tool=True, shows="fuel meter"),
        _choice("exhaust_probe", "Probe at the exhaust", "off", "on", tool=True, shows="exhaust manifold"),
        _choice("coil_lead", "Coil lead", "in the cap", "out and open", LEAD_EARTHED, tool=True),
        _choice("spanner", "Spanner on the crank", "off", "on", tool=True),
        _choice("ignition_switch", "Ignition, engine at rest", "off", "on", tool=True),
        _turned(
            "crank_mark",
            "Crank set by hand to",
            (1.0, "1°"),
            (5.0, "5°"),
            low=-10.0,
            high=30.0,
            unit="degrees before top centre by the marks",
            tool=True,
            shows="crank",
        ),
        _choice("piston_stop", "Piston stop, all plugs out", "out", STOP_IN, tool=True, shows="piston stop"),
        _turned(
            "centre_mark",
            "New mark painted on the damper at",
            (0.5, "1/2°"),
            (5.0, "5°"),
            low=-60.0,
            high=60.0,
            unit="degrees before top centre by the old mark",
            tool=True,
        ),
        _choice(
            "refit",
            "Lift the distributor and set it in",
            "as found",
            "one tooth with the rotor",
            "one tooth against the rotor",
            "half a turn round",
            tool=True,
        ),
        _turned(
            "point_gap",
            "Gap of the breaker points",
            (0.01, "0.01 mm"),
            (0.05, "0.05 mm"),
            low=0.2,
            high=0.8,
            unit="mm",
            tool=True,
        ),
        _choice(
            "springs",
            "Springs of the weights",
            "maker's pair",
            "softer pair",
            "stiffer pair",
            "soft and stiff",
            tool=True,
        ),
        _turned(
            "weights_stop",
            "Stop of the weights",
            (1.0, "1°"),
            (4.0, "4°"),
            low=10.0,
            high=32.0,
            unit="crank degrees",
            tool=True,
        ),
        _turned(
            "canister_screw",
            "Screw in the vacuum unit",
            (0.5, "1/2 turn"),
            (2.0, "2 turns"),
            low=-4.0,
            high=4.0,
            unit="turns stiffer",
            tool=True,
        ),
        _choice("fuel", "Fuel in the tank", "as found", "87 RON", "91 RON", "95 RON", "98 RON", tool=True),
        _choice("route", "Road", "full pull", "level cruise", "up the hill", tool=True),
        _press("mark_body", "Mark body and block"),
        _press("back_to_mark", "Back to the mark"),
        _press("starter", "Starter"),
        _press("stop", "Switch off"),
        _press("snap", "Snap the throttle"),
        _press("wait_until_warm", "Wait until warm"),
        _press("wait", "Wait ten seconds"),
        _press("read_gauges", "Read the gauges"),
        _press("look_under_cap", "Look under the cap", tool=True),
        _press("turn_to_stop", "Turn the crank forwards to the stop", tool=True),
        _press("turn_back_to_stop", "Turn the crank backwards to the stop", tool=True),
        _press("road_check", "Road check"),
        _press("begin", "Begin a new try"),
    )
}


def with_needed(tools: Iterable[str]) -> frozenset[str]:
    """These tools and those that they bring along, so that each can be used safely."""
    named = frozenset(tools)
    return named.union(*(NEEDED_WITH.get(name, ()) for name in named))


def control_named(name: str) -> Control:
    """The control of that name. Raises ControlError that lists the names there are."""
    if name not in CONTROLS:
        raise ControlError(f"There is no control '{name}'; there are {', '.join(CONTROLS)}.")
    return CONTROLS[name]
