"""An engine's portrait, drawn or as a table: idle, pull, advance, the octane it needs, and how long it is cranked."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from course import ENGINES
from engine_sim import (
    SOUND,
    Conditions,
    Engine,
    EngineCard,
    IdleTable,
    MethodResult,
    TimingCourseError,
    engine_that_idles,
    load_card,
    peak_and_back_off,
    start_trial,
)
from engine_sim.physics.units import KPA_PER_INHG, PA_PER_ATMOSPHERE
from graders.palette import DASHES, LIGHT, chart_style

if TYPE_CHECKING:
    from matplotlib.figure import Figure

BLUE, ORANGE, INK = LIGHT["vacuum"], LIGHT["speed"], LIGHT["ink"]
PULL_RPM = (1200.0, 2000.0, 3000.0)
LOADS_KPA = (50.0, 70.0, 90.0)
SCREW_LIMITS = (0.3, 5.5)
START_TIMING_DEG = (12.0, 8.0, 4.0, 0.0, -4.0)
STARTS = (  # words, coolant [°C], and whether the choke is stuck open
    ("cold, 20 °C", 20.0, False),
    ("warm, 50 °C", 50.0, False),
    ("hot, 85 °C", 85.0, False),
    ("20 °C, choke stuck open", 20.0, True),
)


class PortraitError(TimingCourseError):
    """A portrait cannot be shown or written as asked."""


@dataclass(frozen=True)
class Portrait:
    """Everything that the portrait shows; arrays along timing [crank deg BTDC] or speed [rpm]."""

    card: EngineCard
    conditions: Conditions
    octane_ron: float
    method: MethodResult
    idle_timing_deg: np.ndarray
    idle_vacuum_inhg: np.ndarray
    idle_speed_rpm: np.ndarray
    total_timing_deg: np.ndarray
    torque_nm: np.ndarray  # one row for each speed of PULL_RPM
    ping_from_deg: np.ndarray  # total advance at which ping begins, for each speed of PULL_RPM
    speed_rpm: np.ndarray
    mechanical_deg: np.ndarray
    cruise_deg: np.ndarray
    octane_required_ron: np.ndarray  # rows: LOADS_KPA, then full throttle
    start_s: np.ndarray  # rows: STARTS, columns: START_TIMING_DEG; NaN where it does not start


def portrait_of(path: Path, altitude_ft: float = 0.0) -> Portrait:
    """Work out the portrait of the engine whose card stands at `path`. Raises CardError or OutsideValidity."""
    card = load_card(path)
    engine, conditions = engine_that_idles(card, Path(path).name), Conditions(altitude_ft)
    setting = card.setting
    method = peak_and_back_off(
        IdleTable(engine, SCREW_LIMITS, conditions), 14.0, 2.3, setting.idle_rpm, setting.speed_drop_rpm, SCREW_LIMITS
    )
    timing = np.arange(-8.0, 55.0, 1.0)
    idle = engine.idle(timing, method.idle_setting, altitude_ft)
    total, speeds = np.arange(0.0, 56.0, 1.0), np.arange(800.0, 4001.0, 200.0)
    base = total - engine.advance_deg(0.0, np.array(PULL_RPM), 0.0)[:, None]
    pulls = engine.full_throttle(np.array(PULL_RPM)[:, None], base, altitude_ft=altitude_ft)
    at_method = engine.full_throttle(np.array(PULL_RPM), method.timing_deg, altitude_ft=altitude_ft)
    mechanical = engine.advance_deg(method.timing_deg, speeds, 0.0)
    cruise = engine.advance_deg(method.timing_deg, speeds, card.vacuum_advance.full_inhg, 1.0, "on")
    return Portrait(
        card=card,
        conditions=conditions,
        octane_ron=engine.fuel_octane(conditions),
        method=method,
        idle_timing_deg=timing,
        idle_vacuum_inhg=idle.manifold_vacuum_inhg,
        idle_speed_rpm=idle.speed_rpm,
        total_timing_deg=total,
        torque_nm=pulls.torque_nm,
        ping_from_deg=at_method.total_advance_deg + at_method.knock_margin_deg,
        speed_rpm=speeds,
        mechanical_deg=mechanical,
        cruise_deg=cruise,
        octane_required_ron=_octane_required(engine, conditions, speeds, mechanical, method.timing_deg),
        start_s=_start_times(card, conditions),
    )


def _start_times(card: EngineCard, conditions: Conditions) -> np.ndarray:
    rows = []
    for _, coolant_c, choke_stuck_open in STARTS:
        engine = Engine(card, replace(SOUND, choke_stuck_open=choke_stuck_open))
        trials = [start_trial(engine, timing, coolant_c, conditions=conditions) for timing in START_TIMING_DEG]
        rows.append([np.nan if trial.runs_s is None else trial.runs_s for trial in trials])
    return np.array(rows)


def _octane_required(engine: Engine, conditions: Conditions, speeds, mechanical, base_deg) -> np.ndarray:
    part = engine.operating_points(
        speeds,
        np.array(LOADS_KPA)[:, None] * conditions.ambient_pa / PA_PER_ATMOSPHERE,
        mechanical,
        conditions=conditions,
    ).octane_required_ron
    full = engine.full_throttle(speeds, base_deg, altitude_ft=conditions.altitude_ft).octane_required_ron
    return np.vstack([part, full])


def draw(portrait: Portrait, figure: Figure | None = None) -> Figure:
    """Draw the portrait into a matplotlib Figure, a new one where none is given; return it."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    with rc_context(chart_style(LIGHT)):
        figure = figure or Figure()
        figure.set(size_inches=(11.0, 11.5), layout_engine="constrained", facecolor=LIGHT["paper"])
        axes = figure.subplot_mosaic([["idle", "pull"], ["advance", "octane"], ["start", "start"]])
        _draw_idle(axes["idle"], portrait)
        _draw_pull(axes["pull"], portrait)
        _draw_advance(axes["advance"], portrait)
        _draw_octane(axes["octane"], portrait)
        _draw_starts(axes["start"], portrait)
        figure.suptitle(
            f"{portrait.card.title} at {portrait.conditions.altitude_ft:g} ft, {portrait.octane_ron:g} RON."
            " A simulated engine: never set a real one from it.",
            fontsize=11,
        )
    return figure


def _draw_idle(axis, portrait: Portrait) -> None:
    method, speed = portrait.method, axis.twinx()
    axis.plot(portrait.idle_timing_deg, portrait.idle_vacuum_inhg, color=BLUE)
    speed.plot(portrait.idle_timing_deg, portrait.idle_speed_rpm, color=ORANGE, linestyle="--")
    axis.plot(method.peak_timing_deg, method.peak_vacuum_inhg, "o", color=INK)
    axis.plot(method.timing_deg, method.vacuum_inhg, "o", color=INK)
    axis.annotate(
        "highest vacuum",
        (method.peak_timing_deg, method.peak_vacuum_inhg),
        (0, -16),
        ha="center",
        textcoords="offset points",
        color=INK,
    )
    axis.annotate(
        "the method ends here", (method.timing_deg, method.vacuum_inhg), (8, -10), textcoords="offset points", color=INK
    )
    axis.set(title="Idle, hose off and plugged", xlabel="base timing, crank degrees before top centre")
    axis.set_ylabel("vacuum, inHg (full line)", color=BLUE)
    speed.set_ylabel("speed, rpm (dashed)", color=ORANGE)
    speed.spines["right"].set_visible(True)
    speed.grid(False)


def _draw_pull(axis, portrait: Portrait) -> None:
    for rpm, torque, ping, dash in zip(PULL_RPM, portrait.torque_nm, portrait.ping_from_deg, DASHES[:3], strict=True):
        axis.plot(portrait.total_timing_deg, torque, color=BLUE, linestyle=dash, label=f"{rpm:.0f} rpm")
        if ping <= portrait.total_timing_deg[-1]:
            axis.plot(ping, np.interp(ping, portrait.total_timing_deg, torque), "v", color=ORANGE, markersize=9)
    axis.plot([], [], "v", color=ORANGE, label="ping begins")
    axis.set(title="Full throttle", xlabel="total advance, crank degrees", ylabel="torque, N m")
    axis.legend(frameon=False)


def _draw_advance(axis, portrait: Portrait) -> None:
    axis.plot(portrait.speed_rpm, portrait.cruise_deg, "--", color=ORANGE, label="light throttle, with vacuum")
    axis.plot(portrait.speed_rpm, portrait.mechanical_deg, color=BLUE, label="full throttle: base and weights")
    axis.set(title="Advance from the method's base", xlabel="speed, rpm", ylim=(0, None))
    axis.set_ylabel("total advance, crank degrees")
    axis.legend(frameon=False)


def _draw_octane(axis, portrait: Portrait) -> None:
    labels = [f"{kpa:g} kPa in the manifold, sea level" for kpa in LOADS_KPA] + ["throttle wide open"]
    for required, label, dash in zip(portrait.octane_required_ron, labels, (":", "-.", "--", "-"), strict=True):
        axis.plot(portrait.speed_rpm, required, color=BLUE, linestyle=dash, label=label)
    axis.axhline(portrait.octane_ron, color=ORANGE)
    axis.annotate(
        "the fuel",
        (portrait.speed_rpm[-1], portrait.octane_ron),
        (0, 4),
        ha="right",
        textcoords="offset points",
        color=ORANGE,
    )
    axis.set(title="Octane required, without vacuum advance", xlabel="speed, rpm", ylabel="RON", ylim=(10, None))
    axis.legend(frameon=False, loc="lower left")


def _draw_starts(axis, portrait: Portrait) -> None:
    for (words, _, _), seconds, dash, marker in zip(STARTS, portrait.start_s, DASHES, "osd^", strict=False):
        axis.plot(START_TIMING_DEG, seconds, color=BLUE, linestyle=dash, marker=marker, label=words)
    axis.set(
        title="Starting: how long the key is held",
        xlabel="base timing, crank degrees before top centre (a missing mark: it does not start in ten seconds)",
        ylabel="seconds",
        ylim=(0, None),
    )
    axis.invert_xaxis()
    axis.legend(frameon=False)


def table_text(portrait: Portrait) -> str:
    """The portrait in numbers."""
    method = portrait.method
    lines = [
        f"{portrait.card.title} at {portrait.conditions.altitude_ft:g} ft, {portrait.octane_ron:g} RON",
        f"highest vacuum {method.peak_vacuum_inhg:.1f} inHg ({method.peak_vacuum_inhg * KPA_PER_INHG:.0f} kPa) at "
        f"{method.peak_timing_deg:.0f} degrees; the method ends at {method.timing_deg:.1f} degrees with "
        f"{method.vacuum_inhg:.1f} inHg and {method.speed_rpm:.0f} rpm",
        "",
        "Idle, hose off and plugged",
        "  base timing   speed    vacuum",
        *(
            f"  {timing:6.0f} deg  {speed:5.0f} rpm  {vacuum:5.1f} inHg"
            for timing, speed, vacuum in zip(
                portrait.idle_timing_deg[::6], portrait.idle_speed_rpm[::6], portrait.idle_vacuum_inhg[::6], strict=True
            )
        ),
        "",
        "Full throttle",
        "  speed      best total advance   torque    ping from",
    ]
    for rpm, torque, ping in zip(PULL_RPM, portrait.torque_nm, portrait.ping_from_deg, strict=True):
        best = int(np.argmax(torque))
        ping_text = f"{ping:6.0f} deg" if ping <= portrait.total_timing_deg[-1] else "  does not ping"
        lines.append(
            f"  {rpm:.0f} rpm   {portrait.total_timing_deg[best]:8.0f} deg        {torque[best]:5.0f} N m  {ping_text}"
        )
    lines += [
        "",
        "Advance from the method's base, and octane required with the throttle wide open",
        "  speed      full throttle   light throttle   required",
    ]
    rows = (portrait.speed_rpm, portrait.mechanical_deg, portrait.cruise_deg, portrait.octane_required_ron[-1])
    lines += [
        f"  {rpm:.0f} rpm   {full:8.1f} deg    {cruise:8.1f} deg   {octane:8.1f} RON"
        for rpm, full, cruise, octane in zip(*(row[::2] for row in rows), strict=True)
    ]
    lines += ["", "Starting: seconds for which the key is held", "  " + " " * 24 + _start_row(START_TIMING_DEG, "deg")]
    for (words, _, _), seconds in zip(STARTS, portrait.start_s, strict=True):
        lines.append(f"  {words:24s}{_start_row(seconds, 's')}")
    return "\n".join(lines)


def _start_row(values, unit: str) -> str:
    digits = 0 if unit == "deg" else 1
    cells = ("   never  " if np.isnan(value) else f"{value:6.{digits}f} {unit:3s}" for value in values)
    return "".join(cells).rstrip()


def show(card: Path, file: Path | None, as_table: bool, altitude_ft: float) -> None:
    """Print or draw the portrait; without a file the picture is shown where there is a screen.

    Raises PortraitError where the picture cannot be shown or written as asked.
    """
    named = ENGINES / f"{card}.toml"
    portrait = portrait_of(named if named.is_file() else card, altitude_ft)
    if as_table:
        print(table_text(portrait))
    elif file is not None:
        _write(portrait, file)
    else:
        _on_the_screen(portrait)


def _write(portrait: Portrait, file: Path) -> None:
    if file.suffix not in (".png", ".svg", ".pdf"):
        raise PortraitError(f"A picture ends in .png, .svg or .pdf and '{file.name}' does not: give another name.")
    draw(portrait).savefig(file, dpi=110)
    print(f"The portrait is in {file}.")


def _on_the_screen(portrait: Portrait) -> None:
    import matplotlib
    from matplotlib import pyplot

    if matplotlib.get_backend().lower() == "agg":
        raise PortraitError("There is no screen to draw on here: add --file PORTRAIT.png, or --table for numbers.")
    draw(portrait, pyplot.figure())
    pyplot.show()
