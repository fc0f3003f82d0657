"""The operator at a bench, who uses the controls and sees what the instruments show, and nothing more."""

from __future__ import annotations

from collections.abc import Callable

from engine_sim import DRIVER_READY, Session, TimingCourseError

SAFE = {"brake": "on", "chocks": "in place", "ventilation": "on", "fan_area": "clear"}
WAIT_S = 0.6  # between two acts, where nothing has to settle
START_S = 8.0  # until a started engine idles evenly
STOP_S = 4.0  # until the crank of an engine that was switched off stands
TURN_S = 2.0  # until speed and gauge have followed a turn of the body
LOOK_S = 3.0  # of watching a needle, to see past its wobble
BLINK_S = 0.2  # between two looks at it
BODY_MOST_DEG = 25.0  # distributor degrees, either way
BODY_STEPS_PER_DEG = 4
CRANK_PER_BODY_DEG = 2.0


class AttemptFailed(TimingCourseError):
    """The work at a bench could not be carried through."""


class Operator:
    """One learner at one bench, who sees what the instruments show."""

    def __init__(self, session: Session):
        self.session, self.card = session, session.engine.card
        # A body that is turned against the rotor advances the spark; seen from above, clockwise counts as positive.
        self.towards_advance = -1.0 if self.card.distributor.rotor_turns == "clockwise" else 1.0

    def do(self, control: str, value: str | float | None = None, wait_s: float = WAIT_S) -> str:
        """Use one control and wait for some seconds. Return the outcome: done, stopped or not possible."""
        kind = self.session.act(control, value).kind
        self.session.advance(wait_s)
        return kind

    def make_safe(self) -> None:
        """Brake, chocks, extraction, fan area, and out of gear."""
        for control, value in SAFE.items():
            self.do(control, value)
        self.do("gear", "neutral")

    def to_the_road(self) -> bool:
        """From the workshop into the driver's seat: engine off, held, chocks away, everyone clear, and start.

        Return whether the engine runs.
        """
        if self.session.running:
            self.do("stop", wait_s=STOP_S)
        self.hold()
        self.do("chocks", "away")
        self.do("driver", DRIVER_READY)
        self.do("gear", "neutral")
        self.do("starter", wait_s=START_S)
        return self.session.running

    def back_in_the_workshop(self) -> None:
        """Engine off, held, out of the seat, and the chocks in place."""
        self.do("stop", wait_s=STOP_S)
        self.hold()
        self.do("driver", "not seated")
        self.do("chocks", "in place")
        self.do("gear", "neutral")

    def hold(self) -> None:
        """Parking brake on, and park or a gear in."""
        self.do("brake", "on")
        self.do("gear", "park" if "park" in self.session.choices("gear") else "in gear")

    def turn(self, crank_degrees: float) -> None:
        """Turn the body so that the spark moves by that many crank degrees towards advance."""
        place = self.session.settings["distributor"] + self.towards_advance * crank_degrees / CRANK_PER_BODY_DEG
        place = round(place * BODY_STEPS_PER_DEG) / BODY_STEPS_PER_DEG
        self.do("distributor", min(max(place, -BODY_MOST_DEG), BODY_MOST_DEG), wait_s=TURN_S)

    def shown(self, name: str, seconds: float = LOOK_S) -> float:
        """Average of what an instrument shows over some seconds; 0 where it is not connected."""
        readings = []
        for _ in range(round(seconds / BLINK_S)):
            self.session.advance(BLINK_S)
            readings.append(getattr(self.session.readings(), name) or 0.0)
        return sum(readings) / len(readings)


Work = Callable[[Operator], None]  # what an operator does at one bench
