"""A vacuum gauge as handbooks have it read: watch it at idle, then hold the engine at 2,500 rpm and watch again.

The rule is fixed, and knows only what the needle shows and how high the place lies. Its words and bands are common
practice of the trade (keys idle_vacuum_healthy, idle_vacuum_leak, idle_vacuum_gross_leak); how wide
a flick or a drift must be to be seen is ours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from engine_sim import FAULTS, AsFound, Conditions, Draw, Engine, Session, learners_engine, load_card, published
from tests.scripted_learner import ENGINES, SAFE

SAMPLE_S, IDLE_S, HELD_S, HELD_RPM = 0.02, 12.0, 18.0, 2500.0
HOME_FT = {"delivery_truck_six": 0.0, "farm_runabout_four": 0.0, "hill_hauler_eight": 5000.0}
WARM_C, WARM_UP_S = 85.0, 14.0
FALLS_INHG, FLICK_INHG, DROP_INHG, DRIFT_INHG, UNSURE_INHG = 0.8, 0.15, 0.55, 0.19, 0.5
CLEARLY_INHG = 2.5  # beyond the end of a band, and no longer a matter of the engine's kind
LATE_BY_DISTRIBUTOR_DEG, LATE_SCREW_TURNS = 13.0, 3.9


@dataclass(frozen=True)
class Needle:
    """What was seen: vacuum [inHg] and speed [rpm] at idle, vacuum while the speed was held; and the altitude [ft]."""

    idle_inhg: np.ndarray
    speed_rpm: float
    held_inhg: np.ndarray
    altitude_ft: float

    @property
    def mean_inhg(self) -> float:
        """Mean at idle, as it would be at sea level: the same share of the air outside."""
        outside = Conditions(self.altitude_ft).ambient_pa / Conditions().ambient_pa
        return float(self.idle_inhg.mean()) / outside

    def _slow(self) -> np.ndarray:
        return np.convolve(self.idle_inhg, np.ones(50) / 50, "valid")

    def _quick(self) -> np.ndarray:
        return self.idle_inhg[25:-24] - self._slow()

    @property
    def flick_inhg(self) -> float:
        """Amplitude of the swing that repeats with every turn, or every half turn, of the camshaft."""
        quick, turn_hz = self._quick(), self.speed_rpm / 120.0
        time_s = SAMPLE_S * np.arange(quick.size)
        tried = [turn_hz * whole * np.linspace(0.97, 1.03, 25) for whole in (1, 2)]
        return max(2.0 * abs(np.mean(quick * np.exp(-2j * np.pi * hz * time_s))) for hz in np.concatenate(tried))

    @property
    def drop_inhg(self) -> float:
        """Deepest short drop below the course of the needle."""
        return float(-self._quick().min())

    @property
    def drift_inhg(self) -> float:
        """Standard deviation of the needle's slow course."""
        return float(self._slow().std())

    @property
    def falls_inhg(self) -> float:
        """How far the needle falls while the speed is held."""
        second = round(1.0 / SAMPLE_S)
        return float(self.held_inhg[:second].mean() - self.held_inhg[-2 * second :].mean())


def read(needle: Needle) -> str:
    """The handbook's word for what the needle does."""
    healthy, leak, gross = (published(f"idle_vacuum_{key}") for key in ("healthy", "leak", "gross_leak"))
    if needle.falls_inhg > FALLS_INHG:
        return "falls when held at speed"
    if needle.mean_inhg < gross.high + CLEARLY_INHG:
        return "very low"
    if needle.flick_inhg > FLICK_INHG:
        return "flicks in rhythm"
    if needle.mean_inhg < leak.high + 0.5 * CLEARLY_INHG:
        return "steady and low"
    if needle.drop_inhg > DROP_INHG:
        return "drops now and then"
    if needle.drift_inhg > DRIFT_INHG:
        return "drifts"
    return "steady and low" if needle.mean_inhg < healthy.low - UNSURE_INHG else "steady and normal"


def given(kind: str, fault: str | None, learner: str) -> tuple[Engine, AsFound]:
    """A learner's engine set by its label, warm, with a fault or `late` ignition or none."""
    card = learners_engine(load_card(ENGINES / f"{kind}.toml"), "needles", learner, "l02").card
    draw = Draw(f"{kind}|{fault}|{learner}")
    found = AsFound(card.setting.label_base_timing_deg, 2.4, 0.0, draw.integer(), coolant_c=WARM_C)
    if fault in (None, "late"):
        return Engine(card), found
    wear, found = FAULTS[fault].on(card, found, draw)
    return Engine(card, wear), found


def watched(kind: str, fault: str | None, learner: str) -> Needle:
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
    return Needle(idle, float(speed.mean()), held, HOME_FT[kind])


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
