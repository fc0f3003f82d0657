"""Pictures about the road check: where on a pull an engine asks for more octane than its fuel has."""

from __future__ import annotations

import numpy as np

from engine_sim import FUELS, Conditions
from engine_sim.workshop.road_check import pulls_rpm
from graders.palette import LIGHT

from .registry import Drawn, lesson_picture
from .sheet import is_narrow, new_sheet
from .spark import engine_named

TRUCK = "delivery_truck_six"
PULL_RPM = np.arange(1100.0, 3401.0, 50.0)
SETTINGS_DEG = {18.0: ("speed", "-"), 9.0: ("vacuum", "--"), 2.0: ("ink", ":")}
SHOWN_FUELS = ("95 RON", "87 RON")


@lesson_picture("What the truck asks for on the full pull, and what two fuels have")
def octane_over_the_pull() -> Drawn:
    """Octane requirement of the truck over speed at three base timings, throttle wide open, beside two fuels."""
    engine = engine_named(TRUCK)
    figure, axis = new_sheet()
    needs = {base: engine.full_throttle(PULL_RPM, base).octane_required_ron for base in SETTINGS_DEG}
    for base, (role, dash) in SETTINGS_DEG.items():
        axis.plot(
            PULL_RPM,
            needs[base],
            dash,
            color=LIGHT[role],
            linewidth=2,
            label=f"asked for at {base:.0f} degrees of base timing",
        )
    has = {
        fuel: engine.fuel_octane(Conditions(octane_ron=FUELS[fuel][0], octane_mon=FUELS[fuel][1]), PULL_RPM)
        for fuel in SHOWN_FUELS
    }
    for fuel, octane in has.items():
        axis.plot(PULL_RPM, octane, color=LIGHT["edge"], linewidth=1.5)
        axis.annotate(
            f"fuel of {fuel}" if is_narrow() else f"what a fuel of {fuel} has",
            (PULL_RPM[3], octane[3]),
            xytext=(0, -14),
            textcoords="offset points",
            ha="left",
        )
    begins_rpm = pulls_rpm(engine, Conditions())[0]
    axis.axvspan(PULL_RPM[0], begins_rpm, color=LIGHT["edge"], alpha=0.15, linewidth=0)
    axis.annotate(
        "only on a test stand",
        (0.5 * (PULL_RPM[0] + begins_rpm), 0.03),
        xycoords=("data", "axes fraction"),
        ha="center",
        va="bottom",
    )
    axis.set(xlabel="engine speed, rpm", ylabel="octane number", xlim=(PULL_RPM[0], PULL_RPM[-1]))
    axis.legend(loc="upper right")
    return Drawn(figure, _words(needs, has, begins_rpm))


def _words(needs: dict, has: dict, begins_rpm: float) -> str:
    told = []
    pulled = begins_rpm <= PULL_RPM
    for base, need in needs.items():
        pings = [
            f"on {fuel} it pings up to {PULL_RPM[need > octane][-1]:,.0f} rpm"
            if (need > octane)[pulled].any()
            else f"on {fuel} it is silent"
            for fuel, octane in has.items()
        ]
        told.append(
            f"At {base:.0f} degrees of base timing it asks for {need[0]:.0f} at {PULL_RPM[0]:,.0f} rpm, "
            f"{need[pulled][0]:.0f} where the pull begins and {need[-1]:.0f} at {PULL_RPM[-1]:,.0f} rpm: on the road, "
            f"{' and '.join(pings)}."
        )
    return "\n\n".join(
        [
            "The delivery truck's engine with the throttle wide open, at sea level. Each falling line is the octane "
            "number that it asks for at one base timing; the two nearly level lines are what two fuels have. Where a "
            "falling line lies above a fuel's, the engine pings on that fuel. Behind its converter the truck's pull "
            f"begins at about {round(begins_rpm, -1):,.0f} rpm; slower, in the shaded part, only on a test stand.",
            *told,
            "The engine asks for most where it turns slowly, so on the road listen as the pull begins. Every step of "
            "retard lowers the whole line.",
        ]
    )
