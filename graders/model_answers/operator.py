"""The operator at a bench, who uses the controls and sees what the instruments show, and nothing more."""

from __future__ import annotations

from collections.abc import Callable

from engine_sim import DRIVER_READY, Session, TimingCourseError

SAFE = {"brake": "on", "chocks": "in place", "ventilation": "on", "fan_area": "clear"}


class AttemptFailed(TimingCourseError):
    """The work at a bench could not be carried through."""


class Operator:
    """One learner at one bench, who sees what the instruments show."""

    def __init__(self, session: Session):
        self.session, self.card = session, session.engine.card
        # A body that is turned against the rotor advances the spark; seen from above, clockwise counts as positive.
        self.towards_advance = -1.0 if self.card.distributor.rotor_turns == "clockwise" else 1.0

    def do(self, control: str, value: str | float | None = None, wait_s: float = 0.6) -> str:
        """Use one control and wait a little; what came of it: done, stopped or not possible."""
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

        Return whether it runs.
        """
        if self.session.running:
            self.do("stop", wait_s=4.0)
        self.hold()
        self.do("chocks", "away")
        self.do("driver", DRIVER_READY)
        self.do("gear", "neutral")
        self.do("starter", wait_s=8.0)
        return self.session.running

    def back_in_the_workshop(self) -> None:
        """Engine off, held, out of the seat, and the chocks in place."""
        self.do("stop", wait_s=4.0)
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
        place = self.session.settings["distributor"] + self.towards_advance * crank_degrees / 2.0
        self.do("distributor", min(max(round(place * 4) / 4, -25.0), 25.0), wait_s=2.0)

    def shown(self, name: str, seconds: float = 3.0) -> float:
        """Average of what an instrument shows over some seconds; 0 where it is not connected."""
        readings = []
        for _ in range(round(seconds / 0.2)):
            self.session.advance(0.2)
            readings.append(getattr(self.session.readings(), name) or 0.0)
        return sum(readings) / len(readings)


Work = Callable[[Operator], None]  # what an operator does at one bench
