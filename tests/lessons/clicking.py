"""Work at a bench by people who know nothing of timing: they press what there is, or believe the label.

Each is work for an operator, as a faultless one's in graders/model_answers is.
"""

from __future__ import annotations

from engine_sim import CONTROLS
from graders.bench.label import Label
from graders.model_answers.method import RESTS_S
from graders.model_answers.operator import START_S, Operator, Work

THROWS_THE_TRY_AWAY = ("begin",)
NEAR_DEG = 0.5  # crank degrees beside the label's figure
MOST_TURNS = 6  # towards it


def every_control_in_turn(operator: Operator) -> None:
    """Each control of the bench once, in the order in which they are listed: every choice, a turn to and fro, a
    press; then the same once more on the engine that perhaps runs by now."""
    for _ in range(2):
        for control in CONTROLS.values():
            if control.name in THROWS_THE_TRY_AWAY or (control.tool and control.name not in operator.session.tools):
                continue
            if control.kind == "choice":
                for value in operator.session.choices(control.name):
                    operator.do(control.name, value)
            elif control.kind == "number":
                stands = operator.session.settings[control.name]
                for value in (min(stands + control.step, control.high), stands):
                    operator.do(control.name, value)
            else:
                operator.do(control.name, wait_s=START_S)


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
