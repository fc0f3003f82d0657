"""The instructor's desk for a projector: which engine, which day, and what is wrong. Nothing is written down."""

from __future__ import annotations

import ipywidgets
import traitlets

from course import ENGINES
from course.widgets.shared.front_end import module_text
from engine_sim import (
    FAULTS,
    SEA_LEVEL_DAY,
    SOUND,
    AsFound,
    Conditions,
    Draw,
    EngineCard,
    Session,
    TimingCourseError,
    load_card,
    usual_screw,
)
from graders.bench.assignment import WARM_C
from graders.bench.engine_cache import engine_for
from graders.bench.label import AS_MADE, Label

from .class_bench import CardAboveBench, ClassBench

NOTHING_WRONG = "none"
DAYS = {  # altitude [ft], air [°C], humidity [%]
    "sea level, 20 °C": SEA_LEVEL_DAY,
    "sea level, 35 °C and close": Conditions(ambient_c=35.0, humidity_percent=80.0),
    "5,000 ft, 10 °C": Conditions(altitude_ft=5000.0, ambient_c=10.0),
    "8,000 ft, 4 °C": Conditions(altitude_ft=8000.0, ambient_c=4.0),
}
FOUND_LATER_DEG = 4.0  # than the label, so that there is something to set
TOOLS = ("timing_light", "hold_speed")  # few, so that they can be seen from the back of a room


class ShowDesk(CardAboveBench):
    """What to show; the bench of it stands below, in `box`. The browser sends `{"set_up": {"engine", "day", "fault",
    "prepared"}}` and `{"heartbeat": number}`."""

    task = "To show"
    _esm = module_text("showing/desk.js")

    engines = traitlets.List(traitlets.List(traitlets.Unicode())).tag(sync=True)  # id and title
    days = traitlets.List(traitlets.Unicode()).tag(sync=True)
    faults = traitlets.List(traitlets.List(traitlets.Unicode())).tag(sync=True)  # id and title
    shown = traitlets.Dict(key_trait=traitlets.Unicode()).tag(sync=True)  # as it was set up
    said = traitlets.Unicode("").tag(sync=True)

    heading = traitlets.Unicode("What the class sees").tag(sync=True)
    about = traitlets.Unicode("Choose what is shown (it is best done before the class looks)").tag(sync=True)

    def __init__(self, first: str = "") -> None:
        self._cards: dict[str, EngineCard] = {}
        super().__init__(
            engines=self._engines(),
            days=self._days(),
            faults=[[NOTHING_WRONG, "nothing"], *([fault.id, fault.title] for fault in FAULTS.values())],
        )
        names = [name for name, _title in self.engines]
        if names:
            self.set_up(first if first in names else names[0], self.days[0], NOTHING_WRONG, prepared=True)

    def _engines(self) -> list[list[str]]:
        """Id and title of every engine that can be shown."""
        self._cards = {path.stem: load_card(path) for path in sorted(ENGINES.glob("*.toml"))}
        return [[name, card.title] for name, card in self._cards.items()]

    def _days(self) -> list[str]:
        """The days that can be shown."""
        return list(DAYS)

    def set_up(self, engine: str, day: str, fault: str, prepared: bool) -> None:
        """Put an engine on the bench, warm, on a day, with a fault; made safe and hooked up where `prepared`."""
        try:
            session = self._session(engine, day, fault, prepared)
        except TimingCourseError as error:
            self.said = str(error)
            return
        self.put(ClassBench(session, "show", self.task, self._label(engine)))
        self.shown = {"engine": engine, "day": day, "fault": fault, "prepared": prepared}
        self.said = ""

    def _label(self, _engine: str) -> Label:
        """What is known of an engine's label."""
        return AS_MADE

    def _session(self, engine: str, day: str, fault: str, prepared: bool) -> Session:
        card, conditions = self._cards[engine], DAYS[day]
        base = card.setting.label_base_timing_deg - FOUND_LATER_DEG
        screw = usual_screw(card, conditions.ambient_pa / SEA_LEVEL_DAY.ambient_pa)
        found = AsFound(base_timing_deg=base, idle_screw=screw, coolant_c=WARM_C, prepared=prepared)
        wear = SOUND
        if fault != NOTHING_WRONG:
            wear, found = FAULTS[fault].on(card, found, Draw(f"show|{engine}|{fault}"))
        return Session(engine_for(card, wear), conditions=conditions, found=found, tools=TOOLS)

    def told(self, content: dict) -> None:
        """Set up what was chosen."""
        wanted = content.get("set_up")
        if isinstance(wanted, dict) and self._is_offered(wanted):
            self.set_up(wanted["engine"], wanted["day"], wanted["fault"], bool(wanted.get("prepared")))

    def _is_offered(self, wanted: dict) -> bool:
        offered = {
            "engine": [name for name, _title in self.engines],
            "day": self.days,
            "fault": [name for name, _title in self.faults],
        }
        return all(wanted.get(name) in names for name, names in offered.items())


def show_desk() -> ipywidgets.VBox:
    """The instructor's bench for a projector."""
    return ShowDesk().box
