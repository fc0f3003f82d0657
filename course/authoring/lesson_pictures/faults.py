"""Pictures about telling faults apart: what a timing light shows over the speed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from course import ENGINES
from engine_sim import SOUND, Engine, load_card
from graders.palette import LIGHT

from .registry import Drawn, lesson_picture
from .sheet import new_sheet

RUNABOUT = "farm_runabout_four"
STUCK_DEG = 1.0
SPRING_LEFT = 0.36
SLIP_DEG = 12.0
READ_AT_RPM = (800.0, 1500.0, 2500.0, 3500.0)


def _readings(speeds_rpm: np.ndarray) -> dict[str, np.ndarray]:
    """What the light shows, hose off, on the runabout set by its label [crank deg BTDC], by what is wrong with it."""
    card = load_card(ENGINES / f"{RUNABOUT}.toml")
    worn = {
        "sound": SOUND,
        "weights stuck": replace(SOUND, weights_stuck_deg=STUCK_DEG),
        "springs weak": replace(SOUND, spring_left=SPRING_LEFT),
        "mark slipped": replace(SOUND, mark_slip_deg=SLIP_DEG),
    }
    base = card.setting.label_base_timing_deg
    return {
        name: np.asarray(Engine(card, wear).advance_deg(base, speeds_rpm, 0.0)) + wear.mark_slip_deg
        for name, wear in worn.items()
    }


_LOOKS = {
    "sound": ("vacuum", "-"),
    "weights stuck": ("speed", "--"),
    "springs weak": ("ink", ":"),
    "mark slipped": ("edge", "-."),
}


@lesson_picture("What the timing light shows over the speed, hose off, on a sound engine and with three faults")
def advance_sweep_of_faults() -> Drawn:
    """Four sweeps of the farm runabout: sound, weights stuck, springs weak, mark slipped."""
    speeds = np.linspace(600.0, 3600.0, 121)
    figure, axis = new_sheet()
    for name, shown in _readings(speeds).items():
        role, dash = _LOOKS[name]
        axis.plot(speeds, shown, color=LIGHT[role], linestyle=dash, linewidth=2, label=name)
    axis.set(xlim=(600, 3600), ylim=(0, None))
    axis.set(xlabel="crank speed, rpm", ylabel="degrees before top centre, by the marks")
    axis.legend(loc="upper left")
    return Drawn(figure, _words(_readings(np.array(READ_AT_RPM))))


def _words(readings: dict[str, np.ndarray]) -> str:
    at = ", ".join(f"{speed:,.0f}" for speed in READ_AT_RPM)
    told = [
        f"{name.capitalize()}: {', '.join(f'{value:.0f}' for value in shown)} degrees."
        for name, shown in readings.items()
    ]
    return "\n\n".join(
        [
            "The farm runabout, set by its label, vacuum hose off and plugged. Each line is what the light shows by "
            f"the marks as the speed rises; in words, at {at} rpm:",
            *told,
            "Stuck weights draw a flat line. Weak springs draw the sound curve too soon. A slipped mark draws the "
            "sound curve, all of it higher or lower by the same amount.",
        ]
    )
