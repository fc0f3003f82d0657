"""A stand-in for an owner's engine on the bench: drawn from its description. Nothing of it is written down."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import ipywidgets

from course.owner.kept_engines import FIRST, KeptEngines
from engine_sim import FAULTS, SOUND, Conditions, Draw, Session
from engine_sim.owned.unknowns import DrawnEngine, drawn
from graders.bench.engine_cache import engine_for
from graders.bench.label import AS_MADE, BASE, Label

from .desk import DAYS, NOTHING_WRONG, ShowDesk

DRAWS = {"1": "first draw", "2": "second draw", "3": "third draw"}  # engines that fit the same description
DESCRIBED = "as described"
TOOLS = ("timing_light", "hold_speed", "route")
NONE_TO_DRAW = (
    "No engine of My engine can be drawn yet: enter its cylinders, and its displacement or bore and stroke, and open "
    "this page again."
)


class StandInDesk(ShowDesk):
    """Which engine of the owner's, which draw of it, which day, and what is wrong."""

    task = "A stand-in, not your engine"

    def __init__(self, root: Path) -> None:
        self._kept = KeptEngines(root)
        self._drawn: dict[str, DrawnEngine] = {}
        super().__init__(first=self._first())
        self.heading = "A stand-in for your engine"
        self.about = "Choose an engine, one of its draws, a day, and what is wrong with it"
        if not self.engines:
            self.said = NONE_TO_DRAW

    def _first(self) -> str:
        path = self._kept.folder / FIRST
        return f"{path.read_text(encoding='utf-8').strip()} 1" if path.is_file() else ""

    def _engines(self) -> list[list[str]]:
        """Every engine that can be drawn, once for each draw."""
        return [
            [f"{one.name} {seed}", f"{one.title}, {words}"]
            for one in self._kept.listed()
            if not one.problem and not self._kept.load(one.name).lacking
            for seed, words in DRAWS.items()
        ]

    def _days(self) -> list[str]:
        """The day of the description, then the others."""
        return [DESCRIBED, *DAYS]

    def _label(self, engine: str) -> Label:
        """A figure of the label is there only where the owner has one."""
        known = self._kept.load(engine.split(" ")[0]).label.base_deg is not None
        return AS_MADE if known else Label("missing", None, ((BASE, "not known"),))

    def _session(self, engine: str, day: str, fault: str, prepared: bool) -> Session:
        one = self._one(engine)
        found, wear = replace(one.found, prepared=prepared), SOUND
        if fault != NOTHING_WRONG:
            wear, found = FAULTS[fault].on(one.card, found, Draw(f"stand-in|{engine}|{fault}"))
        return Session(engine_for(one.card, wear), conditions=self._day(one, day), found=found, tools=TOOLS)

    def _one(self, engine: str) -> DrawnEngine:
        if engine not in self._drawn:
            name, seed = engine.split(" ")
            self._drawn[engine] = drawn(self._kept.load(name), int(seed))
        return self._drawn[engine]

    @staticmethod
    def _day(one: DrawnEngine, day: str) -> Conditions:
        return one.conditions if day == DESCRIBED else DAYS[day]


def stand_in(root: Path | None = None) -> ipywidgets.VBox:
    """The bench with a stand-in for an engine of the folder `root`, by default two above the page's own."""
    return StandInDesk(Path.cwd().parents[1] if root is None else root).box
