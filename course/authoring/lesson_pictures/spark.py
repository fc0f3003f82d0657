"""Pictures about why the spark comes early: pressure over crank angle, how long a charge burns, and what adds up."""

from __future__ import annotations

from typing import Any

import numpy as np

from engine_sim import CycleTrace, Engine
from graders.palette import DASHES, LIGHT

from .engines import RUNABOUT, engine_named
from .registry import Drawn, lesson_picture
from .sheet import is_narrow, new_sheet, with_unit_kpa

PULL_RPM = 2000.0
PULL_KPA = 97.0
AWAY_DEG = 18.0
LIGHT_THROTTLE = 0.3
SHOWN_DEG = (-60, 90)


def best_timing_deg(engine: Engine, speed_rpm: Any, manifold_kpa: Any) -> np.ndarray:
    """Total advance of the highest torque [crank deg BTDC], to half a degree; speeds and pressures broadcast."""
    timings = np.arange(4.0, 70.5, 0.5)
    speed, pressure = np.broadcast_arrays(np.asarray(speed_rpm, float), np.asarray(manifold_kpa, float))
    points = engine.operating_points(speed[..., None], pressure[..., None], timings)
    return timings[np.argmax(points.torque_nm, axis=-1)]


@lesson_picture("Pressure in the cylinder, with the spark too early, right and too late")
def pressure_over_crank_angle() -> Drawn:
    """Three sparks in the runabout's engine at full throttle, and the same without any."""
    engine = engine_named(RUNABOUT)
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
    axis.set(
        xlim=SHOWN_DEG,
        ylim=(0, None),
        xlabel="crank degrees; 0 is top centre, before it to the left",
        ylabel="pressure in the cylinder, kPa",
    )
    axis.set_ylim(top=5000)
    axis.legend(loc="upper left")
    return Drawn(figure, _pressure_words(leads, points))


_LOOKS = {"too early": ("speed", "--"), "right": ("vacuum", "-"), "too late": ("ink", ":")}


def _pressure_line(axis, trace, column: int, name: str, lead: float) -> None:
    role, dash = _LOOKS[name]
    pressure = trace.pressure_pa[:, column] / 1e3
    axis.plot(
        trace.angle_deg,
        pressure,
        color=LIGHT[role],
        linestyle=dash,
        linewidth=2,
        label=f"{name}: spark at {lead:.0f} before top centre",
    )
    axis.plot(-lead, np.interp(-lead, trace.angle_deg, pressure), "o", color=LIGHT[role])


def _motored_line(axis, trace) -> None:
    """The charge squeezed and let go again without a spark: the mirror image about top centre, nearly."""
    squeezed = trace.pressure_pa[:, -1] / 1e3
    before = trace.angle_deg <= 0
    axis.plot(trace.angle_deg[before], squeezed[before], color=LIGHT["edge"], linewidth=1)
    axis.plot(-trace.angle_deg[before], squeezed[before], color=LIGHT["edge"], linewidth=1, label="no spark")


def _pressure_words(leads: dict[str, float], points) -> str:
    told = [
        f"Spark {name}, {lead:.0f} degrees before top centre: the highest pressure is {with_unit_kpa(peak)}, "
        f"{angle:.0f} degrees after top centre; {torque:.0f} N m at the crank before friction."
        for (name, lead), peak, angle, torque in zip(
            leads.items(), points.peak_pressure_kpa, points.peak_pressure_deg_atdc, points.torque_nm, strict=True
        )
    ]
    return "\n\n".join(
        [
            f"The farm runabout's engine at {PULL_RPM:.0f} rpm, throttle wide open. Each line is the pressure in one "
            "cylinder while the crank goes from 60 degrees before top centre to 90 after it; a dot marks the spark.",
            *told,
            "Too early, the pressure climbs steeply while the piston is still on its way up, and pushes against it. "
            "Too late, it comes when the piston is already running away, and is low. Right, the push is highest a "
            "little after top centre.",
        ]
    )


LOADS_KPA = {  # pressure in the manifold
    "throttle wide open, pressure 97 kPa": 97.0,
    "half open, pressure 70 kPa": 70.0,
    "light throttle, pressure 45 kPa": 45.0,
}


@lesson_picture("The advance that a charge needs, over speed and load")
def best_timing_over_speed_and_load() -> Drawn:
    """Best total advance of the runabout's engine at three loads, from its own cycle."""
    engine, speeds = engine_named(RUNABOUT), np.arange(800.0, 2801.0, 200.0)
    best = best_timing_deg(engine, speeds[:, None], np.array([*LOADS_KPA.values()]))
    figure, axis = new_sheet()
    for name, column, role, dash in zip(LOADS_KPA, best.T, ("speed", "vacuum", "ink"), DASHES, strict=False):
        axis.plot(speeds, column, color=LIGHT[role], linestyle=dash, linewidth=2, marker="o", markersize=4, label=name)
    axis.set(xlabel="engine speed, rpm", ylabel="best advance, crank degrees", ylim=(0, None))
    axis.legend(loc="upper left")
    rows = [
        f"{name}: "
        + ", ".join(
            f"{lead:.0f} at {rpm:.0f} rpm" for rpm, lead in zip(speeds[[1, 6, 10]], column[[1, 6, 10]], strict=True)
        )
        + "."
        for name, column in zip(LOADS_KPA, best.T, strict=True)
    ]
    return Drawn(
        figure,
        "\n\n".join(
            [
                "The advance at which the farm runabout's engine pulls hardest, in crank degrees before top centre, "
                "against speed; one line for each of three pressures in the manifold.",
                *rows,
                "Every line climbs with speed. At every speed the line of the lighter load lies above that of the "
                "heavier.",
            ]
        ),
    )


CHARGES = {  # speed [rpm], manifold [kPa]; the mixture is what the carburettor meters there
    "idle, 800 rpm": (800.0, 35.0),
    "light cruise, 1,800 rpm": (1800.0, 50.0),
    "full throttle, 1,000 rpm": (1000.0, 97.0),
    "full throttle, 2,000 rpm": (2000.0, 97.0),
}


@lesson_picture("How far the crank turns while a charge burns")
def how_long_a_charge_burns() -> Drawn:
    """Development and burning of four charges of the runabout's engine, each at its best timing."""
    engine = engine_named(RUNABOUT)
    speed, pressure = np.array([*CHARGES.values()]).T
    points = engine.operating_points(speed, pressure, best_timing_deg(engine, speed, pressure))
    figure, axis = new_sheet(2.7)
    names = [name.replace(", ", ",\n") if is_narrow() else name for name in CHARGES]
    axis.barh(names, points.development_deg, color=LIGHT["vacuum"], label="the flame gets going")
    axis.barh(
        names,
        points.rapid_deg,
        left=points.development_deg,
        color=LIGHT["speed-soft"],
        edgecolor=LIGHT["speed"],
        hatch="//",
        label="most of the charge burns",
    )
    axis.invert_yaxis()
    axis.set(title="Crank degrees from the spark", xlim=(0, 95))
    axis.legend(loc="lower right")
    axis.grid(axis="y", visible=False)
    rows = [
        f"{name}: {start:.0f} crank degrees until the flame has got going, then {rapid:.0f} more until most is "
        f"burned; {100 * old:.0f} percent of the charge is burned gas that was left behind."
        for name, start, rapid, old in zip(
            CHARGES, points.development_deg, points.rapid_deg, points.residual_fraction, strict=True
        )
    ]
    return Drawn(
        figure, "\n\n".join(["Four charges of the farm runabout's engine, each with the spark at its best.", *rows])
    )


@lesson_picture("What adds up: base, weights and vacuum unit")
def three_parts_of_the_lead() -> Drawn:
    """Base timing, centrifugal and vacuum advance of the runabout over speed, at light and at full throttle."""
    engine, speeds = engine_named(RUNABOUT), np.arange(800.0, 3601.0, 50.0)
    card = engine.card
    base = np.full_like(speeds, card.setting.label_base_timing_deg)
    full = engine.advance_deg(base, speeds, 0.0)
    light = engine.advance_deg(base, speeds, card.vacuum_advance.full_inhg, LIGHT_THROTTLE, "on")
    figure, axis = new_sheet()
    axis.plot(speeds, light, color=LIGHT["speed"], linestyle="--", linewidth=2, label="light throttle: all three")
    axis.plot(speeds, full, color=LIGHT["vacuum"], linewidth=2, label="full throttle: base and weights")
    axis.plot(speeds, base, color=LIGHT["ink"], linestyle=":", linewidth=2, label="base timing alone")
    for low, high, text in ((base, full, "weights"), (full, light, "vacuum unit")):
        axis.annotate(text, (speeds[-6], (low[-6] + high[-6]) / 2), ha="center", va="center")
    axis.set(xlabel="engine speed, rpm", ylabel="advance, crank degrees before top centre", ylim=(0, 60))
    axis.legend(loc="upper left")
    rows = [
        f"At {rpm:.0f} rpm: base {base[at]:.0f}, weights {full[at] - base[at]:.0f}, together {full[at]:.0f} at "
        f"full throttle; with the vacuum unit's {light[at] - full[at]:.0f}, {light[at]:.0f} at light throttle."
        for at, rpm in enumerate(speeds)
        if rpm in (800, 2000, 3200)
    ]
    return Drawn(
        figure,
        "\n\n".join(
            [
                "The advance of the farm runabout's spark against speed, with its label's base timing: a level line "
                "for the base, a climbing line above it with the weights, and one above that with the vacuum unit as "
                "well. All in crank degrees.",
                *rows,
            ]
        ),
    )
