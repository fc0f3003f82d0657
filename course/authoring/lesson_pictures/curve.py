"""Pictures about the advance curve: what adds up, what springs and stop do, and how a curve is fitted to a fuel."""

from __future__ import annotations

import numpy as np

from engine_sim import SPRING_STIFFNESS, Conditions, Engine
from graders.bench.full_throttle import earliest_silent_deg, pull_of, weights_deg
from graders.palette import DASHES, LIGHT

from .registry import Drawn, lesson_picture
from .sheet import new_sheet
from .spark import engine_named

TRUCK, RUNABOUT = "delivery_truck_six", "farm_runabout_four"
POOR_FUEL = Conditions(octane_ron=85.0, octane_mon=78.0)
SPEED_RPM = np.arange(600.0, 3401.0, 20.0)
TOLD_RPM = (1400.0, 2000.0, 2800.0)
COLOURS = ("vacuum", "speed", "ink", "edge")


@lesson_picture("What adds up: base, weights and vacuum unit")
def what_adds_up() -> Drawn:
    """The three parts of the truck's advance over speed, one on top of the other, at full throttle and at a cruise."""
    engine = engine_named(TRUCK)
    base, weights = engine.card.setting.label_base_timing_deg, engine.centrifugal_deg(SPEED_RPM)
    canister = engine.card.vacuum_advance.degrees
    figure, axis = new_sheet()
    axis.plot(SPEED_RPM, np.full_like(SPEED_RPM, base), DASHES[2], color=LIGHT["ink"], linewidth=2, label="base timing")
    axis.plot(
        SPEED_RPM,
        base + weights,
        DASHES[0],
        color=LIGHT["speed"],
        linewidth=2,
        label="and the weights: the total with the throttle wide open",
    )
    axis.plot(
        SPEED_RPM,
        base + weights + canister,
        DASHES[1],
        color=LIGHT["vacuum"],
        linewidth=2,
        label="and the vacuum unit: the advance at a light cruise, with strong vacuum",
    )
    axis.set(xlabel="engine speed, rpm", ylabel="crank degrees before top centre", ylim=(0, 60))
    axis.legend(loc="upper left")
    told = [
        f"At {rpm:.0f} rpm: base {base:.0f}, weights {engine.centrifugal_deg(rpm):.0f}, so "
        f"{base + engine.centrifugal_deg(rpm):.0f} with the throttle wide open, and "
        f"{base + engine.centrifugal_deg(rpm) + canister:.0f} at a light cruise."
        for rpm in TOLD_RPM
    ]
    return Drawn(
        figure,
        "\n\n".join(
            [
                "The delivery truck's advance in crank degrees over engine speed, as three lines. The lowest is "
                "level: the base timing. The middle one adds what the weights give. The top one adds the vacuum unit, "
                "which is all in at strong vacuum.",
                *told,
            ]
        ),
    )


@lesson_picture("Four sets of springs, and the stop")
def springs_and_stop() -> Drawn:
    """What the truck's weights add over speed with every set of springs on the shelf."""
    card = engine_named(TRUCK).card
    stop = card.distributor.stop_deg
    figure, axis = new_sheet()
    told = []
    for (springs, dash), role in zip(zip(SPRING_STIFFNESS, DASHES, strict=True), COLOURS, strict=True):
        added = weights_deg(card, {"springs": springs, "weights_stop": stop}, SPEED_RPM)
        axis.plot(SPEED_RPM, added, dash, color=LIGHT[role], linewidth=2, label=springs)
        begins, ends = SPEED_RPM[added > 0][0], SPEED_RPM[added < stop][-1]
        told.append(
            f"Springs '{springs}': the advance begins near {begins:.0f} rpm, is "
            f"{np.interp(2000.0, SPEED_RPM, added):.0f} degrees at 2,000 rpm, and "
            + (f"is all in near {ends:.0f} rpm." if ends < SPEED_RPM[-2] else "is not all in at 3,400 rpm.")
        )
    axis.axhline(stop, color=LIGHT["edge"], linewidth=1)
    axis.annotate("the stop", (700.0, stop), xytext=(0, 4), textcoords="offset points")
    axis.set(xlabel="engine speed, rpm", ylabel="what the weights add, crank degrees", ylim=(0, stop + 6))
    axis.legend(loc="center left")
    return Drawn(
        figure,
        "\n\n".join(
            [
                "What the weights of the truck's distributor add over engine speed, with four sets of springs. All "
                f"four end at the same height, the stop at {stop:.0f} degrees.",
                *told,
            ]
        ),
    )


@lesson_picture("The advance that the runabout stands on poor fuel, and three sets of springs")
def curve_and_fuel() -> Drawn:
    """Limit of ping and best advance over speed, with three sets of springs, each as early as the limit allows."""
    engine, day = engine_named(RUNABOUT), POOR_FUEL
    pull = pull_of(engine.card, day)
    best = pull.total_deg[pull.torque_nm.argmax(axis=1)]
    figure, axis = new_sheet()
    axis.fill_between(pull.speed_rpm, pull.latest_ping_deg, 60.0, color=LIGHT["speed-soft"], linewidth=0)
    axis.plot(pull.speed_rpm, pull.latest_ping_deg, color=LIGHT["speed"], linewidth=2, label="above this it pings")
    axis.plot(pull.speed_rpm, best, DASHES[2], color=LIGHT["ink"], linewidth=2, label="most torque, were there no ping")
    told = [
        _fitted(axis, engine, day, pull, springs, dash, role)
        for springs, dash, role in (
            ("stiffer pair", "-.", "edge"),
            ("maker's pair", "--", "vacuum"),
            ("softer pair", ":", "ink"),
        )
    ]
    axis.set(
        xlabel="engine speed, rpm",
        ylabel="total advance, crank degrees",
        ylim=(0, 50),
        xlim=(pull.speed_rpm[0], pull.speed_rpm[-1]),
    )
    axis.legend(loc="upper left")
    return Drawn(
        figure,
        "\n\n".join(
            [
                f"The farm runabout on {day.octane_ron:.0f} RON, throttle wide open, from 1,100 to 2,800 rpm. The "
                f"shaded part above the first line is where it pings: at 1,100 rpm from {pull.latest_ping_deg[0]:.0f} "
                "degrees of total advance on, at 2,000 rpm from "
                f"{np.interp(2000.0, pull.speed_rpm, pull.latest_ping_deg):.0f}.",
                f"Without ping it would pull best with {best[0]:.0f} degrees at 1,100 rpm and {best[-1]:.0f} at 2,800.",
                *told,
                "The stiffer pair touches the limit at the low end and falls behind in the middle. The maker's pair "
                "keeps close to it. The softer pair touches it higher up, and needs so late a base timing for that, "
                "that it stays far below at the low end.",
            ]
        ),
    )


def _fitted(axis, engine: Engine, day: Conditions, pull, springs: str, dash: str, role: str) -> str:
    settings = {"springs": springs, "weights_stop": engine.card.distributor.stop_deg}
    base = earliest_silent_deg(engine.card, day, settings)
    total = base + weights_deg(engine.card, settings, pull.speed_rpm)
    axis.plot(
        pull.speed_rpm,
        total,
        dash,
        color=LIGHT[role],
        linewidth=2,
        label=f"springs '{springs}' on a base of {base:.1f}",
    )
    return (
        f"With the springs '{springs}' the base timing may be {base:.1f} degrees, and the total is "
        f"{np.interp(2000.0, pull.speed_rpm, total):.0f} at 2,000 rpm."
    )
