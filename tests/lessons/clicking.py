"""Work at a bench by people who know nothing of timing: they press what comes to hand, go
through the motions, or believe the label.

Each is work for an operator, as a faultless one's in graders/model_answers is.
"""

from __future__ import annotations

import random

from engine_sim import CONTROLS
from graders.bench.label import Label
from graders.model_answers.method import RESTS_S
from graders.model_answers.operator import START_S, Operator, Work

THROWS_THE_TRY_AWAY = ("begin",)
RANDOM_ACTS = 200
NEAR_DEG = 0.5  # crank degrees beside the label's figure
MOST_TURNS = 6  # towards it


def at_random(seed: str) -> Work:
    """Two hundred acts, each with any control of the bench at any of its settings."""

    def work(operator: Operator) -> None:
        dice, session = random.Random(seed), operator.session
        offered = [
            control
            for control in CONTROLS.values()
            if control.name not in THROWS_THE_TRY_AWAY and (not control.tool or control.name in session.tools)
        ]
        for _ in range(RANDOM_ACTS):
            control = dice.choice(offered)
            value = None
            if control.kind == "choice":
                value = dice.choice(session.choices(control.name))
            elif control.kind == "number":
                moved = session.settings[control.name] + dice.choice((-2, -1, 1, 2)) * control.step
                value = min(max(moved, control.low), control.high)
            operator.do(control.name, value, wait_s=1.0)

    return work


def the_motions(operator: Operator) -> None:
    """Everything that the lessons ask for before and after, and nothing in between: the body is moved by a hair."""
    get_ready(operator)
    operator.turn(0.5)
    operator.turn(-0.5)
    put_together(operator)


def get_ready(operator: Operator) -> None:
    """Safe, gauges on, running, warm, hose off and plugged, clamp loose."""
    operator.make_safe()
    operator.do("tachometer", "on")
    operator.do("gauge_hose", "manifold")
    operator.do("starter", wait_s=START_S)
    operator.do("wait_until_warm")
    operator.do("read_gauges")
    operator.do("vacuum_hose", "off and plugged")
    operator.do("clamp", "loose", wait_s=RESTS_S)


def put_together(operator: Operator) -> None:
    """Clamp tight, read, hose on, one drive, and the engine off."""
    operator.do("clamp", "tight")
    operator.do("read_gauges")
    operator.do("vacuum_hose", "on", wait_s=RESTS_S)
    if operator.to_the_road() and operator.do("road_check") == "done":
        while operator.session.on_road:
            operator.session.advance(RESTS_S)
    operator.back_in_the_workshop()


def light_to_the_label(label: Label) -> Work:
    """The motions, with the marks turned to the label's figure by a timing light."""

    def work(operator: Operator) -> None:
        get_ready(operator)
        for _ in range(MOST_TURNS):
            shows = operator.session.base_timing_deg + operator.session.engine.wear.mark_slip_deg
            if label.figure_deg is None or abs(label.figure_deg - shows) < NEAR_DEG:
                break
            operator.turn(label.figure_deg - shows)
        put_together(operator)

    return work
