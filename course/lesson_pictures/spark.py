"""Pictures about why the spark leads: pressure over crank angle, and how long a charge burns."""

from __future__ import annotations

import numpy as np

from course import ENGINES
from engine_sim import CycleTrace, Engine, load_card
from graders.palette import LIGHT

from .registry import Drawn, lesson_picture
from .sheet import new_sheet, with_unit_kpa

TRUCK = "delivery_truck_six"
PULL_RPM, PULL_KPA = 2000.0, 97.0
AWAY_DEG = 18.0
SHOWN_DEG = (-60, 90)


def engine_named(name: str) -> Engine:
    """The engine of a card of the workshop, as the card has it."""
    return Engine(load_card(ENGINES / f"{name}.toml"))


def best_timing_deg(engine: Engine, speed_rpm, manifold_kpa) -> np.ndarray:
    """Total advance of the highest torque [crank deg BTDC], to half a degree; speeds and pressures broadcast."""
    timings = np.arange(4.0, 70.5, 0.5)
    speed, pressure = np.broadcast_arrays(np.asarray(speed_rpm, float), np.asarray(manifold_kpa, float))
    points = engine.operating_points(speed[..., None], pressure[..., None], timings)
    return timings[np.argmax(points.torque_nm, axis=-1)]


@lesson_picture("Pressure in the cylinder, with the spark too early, right and too late")
def pressure_over_crank_angle() -> Drawn:
    """Three sparks in the truck's engine at full throttle, and the same without any."""
    engine = engine_named(TRUCK)
    best = float(best_timing_deg(engine, PULL_RPM, PULL_KPA))
    leads = {"too early": best + AWAY_DEG, "right": best, "too late": best - AWAY_DEG}
    trace = CycleTrace()
    engine.run_cycle(PULL_RPM, PULL_KPA * 1e3, np.array([*leads.values(), -80.0]), trace=trace)
    points = engine.operating_points(PULL_RPM, PULL_KPA, np.array([*leads.values()]))
    figure, axis = new_sheet()
    for column, (name, lead) in enumerate(leads.items()):
        _pressure_line(axis, trace, column, name, lead)
    _motored_line(axis, trace)
    axis.axvline(0.0, color=LIGHT["edge"], linewidth=0.8)
    axis.set(xlim=SHOWN_DEG, ylim=(0, None), xlabel="crank degrees; 0 is top centre, before it to the left",
             ylabel="pressure in the cylinder, kPa")
    axis.set_ylim(top=5000)
    axis.legend(loc="upper left")
    return Drawn(figure, _pressure_words(leads, points))


_LOOKS = {"too early": ("speed", "--"), "right": ("vacuum", "-"), "too late": ("ink", ":")}


def _pressure_line(axis, trace, column: int, name: str, lead: float) -> None:
    role, dash = _LOOKS[name]
    pressure = trace.pressure_pa[:, column] / 1e3
    axis.plot(trace.angle_deg, pressure, color=LIGHT[role], linestyle=dash, linewidth=2,
              label=f"{name}: spark at {lead:.0f} before top centre")
    axis.plot(-lead, np.interp(-lead, trace.angle_deg, pressure), "o", color=LIGHT[role])


def _motored_line(axis, trace) -> None:
    """The charge squeezed and let go again without a spark: the mirror image about top centre, nearly."""
    squeezed = trace.pressure_pa[:, -1] / 1e3
    before = trace.angle_deg <= 0
    axis.plot(trace.angle_deg[before], squeezed[before], color=LIGHT["edge"], linewidth=1)
    axis.plot(-trace.angle_deg[before], squeezed[before], color=LIGHT["edge"], linewidth=1, label="no spark")


def _pressure_words(leads: dict[str, float], points) -> str:
    told = [f"Spark {name}, {lead:.0f} degrees before top centre: the highest pressure is {with_unit_kpa(peak)}, "
            f"{angle:.0f} degrees after top centre; {torque:.0f} N m at the crank before friction."
            for (name, lead), peak, angle, torque in zip(
                leads.items(), points.peak_pressure_kpa, points.peak_pressure_deg_atdc, points.torque_nm, strict=True)]
    return "\n\n".join([
        f"The delivery truck's engine at {PULL_RPM:.0f} rpm, throttle wide open. Each line is the pressure in one "
        "cylinder while the crank goes from 60 degrees before top centre to 90 after it; a dot marks the spark.", *told,
        "Too early, the pressure climbs steeply while the piston is still on its way up, and pushes against it. Too "
        "late, it comes when the piston is already running away, and is low. Right, the push is highest a little after "
        "top centre."])
