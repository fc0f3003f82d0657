"""The method to watch: going right, and going wrong in two ways, as a model learner does it, with what is being done.

A demonstration is recorded when it is asked for, by the engine model of today; nothing of it is written down.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from engine_sim import Session, learners_engine, load_card
from graders.bench.engine_cache import engine_for

from .method import MethodAttempt
from .operator import BLINK_S, STOP_S

CARD = "delivery_truck_six"  # its vacuum unit works at idle, so that a hose left on is seen
LEARNER, LESSON = "a demonstration", "l04_base_timing"
RIGHT, HOSE_LEFT_ON, WOBBLE = "right", "hose_left_on", "wobble"
BLINK_STEP_DEG = 2.0  # crank degrees, between two hasty looks
MOST_BLINKS = 30


@dataclass(frozen=True)
class RecordedAct:
    """One act, when it was done [s], and what is being done while it is (empty: still the same)."""

    time_s: float
    control: str
    value: str | float | None
    caption: str = ""


@dataclass(frozen=True)
class Recording:
    """A demonstration as it was recorded, on the engine on which it is played again; `ends_deg` is the base timing
    that it leaves [crank deg BTDC]."""

    title: str
    acts: tuple[RecordedAct, ...]
    ends: str
    ends_deg: float


class Demonstrator(MethodAttempt):
    """The method, done right and told step by step."""

    def __init__(self, session: Session):
        super().__init__(session)
        self.told: dict[int, str] = {}

    def tell(self, caption: str) -> None:
        """Say what the next acts are for."""
        self.told[len(self.session.trajectories[-1].actions)] = caption

    def prepare(self) -> None:
        """Safe, hooked up, warm, hose off and plugged."""
        self.tell("Make it safe, hook up both gauges, start, and wait until the engine is warm.")
        super().prepare()

    def take_hose_off(self) -> None:
        """Take it off, told."""
        self.tell("Engine off: pull the hose off at the vacuum unit, and plug its other end.")
        super().take_hose_off()

    def ready_the_body(self) -> None:
        """Mark and loosen it, told."""
        self.tell("Mark body and block, loosen the clamp just enough, start, and write down both readings.")
        super().ready_the_body()

    def put_hose_back(self) -> None:
        """Put it back, told."""
        self.tell("Engine off: put the hose back on, and start.")
        super().put_hose_back()

    def search(self) -> None:
        """Look for the peak, told."""
        self.tell("Advance a little, let the needle settle, read; until the vacuum clearly no longer rises.")
        super().search()

    def trim(self, wanted_rpm: float) -> None:
        """Bring the idle back, told."""
        tight = self.session.settings["clamp"] == "tight"
        self.tell(
            "Set the idle speed by the label."
            if tight
            else "Bring the idle back with its screw: the peak is to be compared at one speed."
        )
        super().trim(wanted_rpm)

    def back_off(self) -> None:
        """Back off, told."""
        drop = f"{self.drop_rpm:.0f} rpm"
        self.tell(f"Back off: retard in small steps until the idle has fallen by {drop}, as the label says.")
        super().back_off()

    def tighten(self) -> None:
        """Tighten, told."""
        self.tell("Tighten the clamp, and read again: tightening can move the body.")
        super().tighten()

    def drive(self) -> None:
        """Drive, told."""
        self.tell("Now the road check: under load, listen for ping.")
        super().drive()


class WithHoseLeftOn(Demonstrator):
    """Everything right, but the hose of the vacuum unit stays on while the peak is looked for."""

    def take_hose_off(self) -> None:
        """Leave it alone."""
        self.tell("Engine off. Here the hose of the vacuum unit should come off and be plugged. It is left on.")
        self.do("stop", wait_s=STOP_S)

    def put_hose_back(self) -> None:
        """It never came off."""


class TakesAWobbleForThePeak(Demonstrator):
    """Everything right, but a single glance at a needle that wobbles decides where the peak is."""

    def search(self) -> None:
        """Go on while a glance shows more; the first that shows less ends the search."""
        self.tell("Advance and glance once at the needle. It wobbles: a glance that shows less is taken for the peak.")
        best = self.shown("vacuum_inhg", BLINK_S)
        for _ in range(MOST_BLINKS):
            self.turn(BLINK_STEP_DEG)
            found = self.shown("vacuum_inhg", BLINK_S)
            if found <= best:
                break
            best = found
        self.trim(self.wanted_rpm)


@dataclass(frozen=True)
class _Way:
    title: str
    learner: Callable[[Session], Demonstrator]
    why: str


_WAYS = {
    RIGHT: _Way("The method, going right", Demonstrator, ""),
    HOSE_LEFT_ON: _Way(
        "Going wrong: the hose left on",
        WithHoseLeftOn,
        "With the hose on, the vacuum unit's degrees were counted in while the peak was looked for",
    ),
    WOBBLE: _Way(
        "Going wrong: a wobble taken for the peak",
        TakesAWobbleForThePeak,
        "The needle wobbled below its highest reading, and the search ended before the peak",
    ),
}
DEMONSTRATIONS = {name: way.title for name, way in _WAYS.items()}


def session_for(engines: Path) -> Session:
    """The engine of every demonstration, as it is found; nothing is written down."""
    given = learners_engine(load_card(engines / f"{CARD}.toml"), "", LEARNER, LESSON)
    return Session(engine_for(given.card), found=given.found)


@functools.cache
def recording_of(name: str, engines: Path) -> Recording:
    """The demonstration of that name, recorded. Raises KeyError for any other name."""
    way = _WAYS[name]
    demonstrator = way.learner(session_for(engines))
    demonstrator.work()
    actions = demonstrator.session.trajectories[-1].actions
    acts = tuple(
        RecordedAct(act.time_s, act.control, act.value, demonstrator.told.get(number, ""))
        for number, act in enumerate(actions)
    )
    ends_deg = actions[-1].base_timing_deg
    return Recording(way.title, acts, _ends(way.why, ends_deg, engines), ends_deg)


def _ends(why: str, ends_deg: float, engines: Path) -> str:
    if not why:
        return "Done. What the road check found silent stays; the clamp is tight and the hose is on."
    apart = ends_deg - recording_of(RIGHT, engines).ends_deg
    way = "earlier" if apart > 0 else "later"
    return f"{why}: it ends {abs(apart):.0f} crank degrees {way} than by the right way."
