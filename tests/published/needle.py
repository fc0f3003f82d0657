"""The engines on which the needle rule is tried, and how they are watched."""

from __future__ import annotations

import numpy as np

from engine_sim import FAULTS, AsFound, Conditions, Draw, Engine, Session, learners_engine, load_card
from engine_sim.diagnosis.needle import SAMPLE_S, NeedleSeen, read
from tests.scripted_learner import ENGINES, SAFE

__all__ = ["NeedleSeen", "given", "read", "watched"]
IDLE_S, HELD_S, HELD_RPM = 12.0, 18.0, 2500.0
HOME_FT = {"delivery_truck_six": 0.0, "farm_runabout_four": 0.0, "hill_hauler_eight": 5000.0}
WARM_C, WARM_UP_S = 85.0, 14.0
LATE_BY_DISTRIBUTOR_DEG, LATE_SCREW_TURNS = 13.0, 3.9


def given(kind: str, fault: str | None, learner: str) -> tuple[Engine, AsFound]:
    """A learner's engine set by its label, warm, with a fault or `late` ignition or none."""
    card = learners_engine(load_card(ENGINES / f"{kind}.toml"), "needles", learner, "l02").card
    draw = Draw(f"{kind}|{fault}|{learner}")
    found = AsFound(card.setting.label_base_timing_deg, 2.4, 0.0, draw.integer(), coolant_c=WARM_C)
    if fault in (None, "late"):
        return Engine(card), found
    wear, found = FAULTS[fault].on(card, found, draw)
    return Engine(card, wear), found


def watched(kind: str, fault: str | None, learner: str) -> NeedleSeen:
    """Start the engine, let it settle, watch the needle at idle and held at speed."""
    engine, found = given(kind, fault, learner)
    session = Session(engine, conditions=Conditions(HOME_FT[kind]), found=found, tools=("hold_speed",))
    setup = {**SAFE, "gear": "neutral", "tachometer": "on", "gauge_hose": "manifold", "vacuum_hose": "off and plugged"}
    for control, value in setup.items():
        session.act(control, value)
    session.act("throttle", 0.1)
    session.act("starter")
    session.advance(3.0)
    session.act("throttle", 0.0)
    if fault == "late":
        _turn_late(session)
    session.advance(WARM_UP_S - 3.0)
    assert session.running, f"{kind} with {fault} does not run for {learner}"
    idle, speed = _samples(session, IDLE_S)
    session.act("hold_speed", HELD_RPM)
    session.advance(4.0)
    held, _ = _samples(session, HELD_S)
    return NeedleSeen(idle, float(speed.mean()), held, HOME_FT[kind])


def _turn_late(session: Session) -> None:
    """Turn the distributor of the running engine far towards retard, and bring the idle up again."""
    towards_retard = 1.0 if session.engine.card.distributor.rotor_turns == "clockwise" else -1.0
    session.act("clamp", "loose")
    session.act("distributor", towards_retard * LATE_BY_DISTRIBUTOR_DEG)
    session.act("idle_screw", LATE_SCREW_TURNS)


def _samples(session: Session, seconds: float) -> tuple[np.ndarray, np.ndarray]:
    """Vacuum and speed, fifty times a second."""
    seen = []
    for _ in range(round(seconds / SAMPLE_S)):
        session.advance(SAMPLE_S)
        now = session.readings()
        seen.append((now.vacuum_inhg, now.speed_rpm))
    vacuum, speed = np.array(seen).T
    return vacuum, speed
