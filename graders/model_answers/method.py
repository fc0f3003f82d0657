"""The method at one session, from the chocks to the road check, by what the instruments show.

It averages the wobble by looking for a while; it never sees the true angle. `tests/scripted_learner.py` makes it
careless in many ways.
"""

from __future__ import annotations

from engine_sim import Session

from .operator import SAFE, STOP_S, Operator

MOST_DRIVES = 12
RETARD_FOR = {"heavy ping": 3.0, "clear ping": 1.0}  # what a driver heard, and by how many crank degrees to retard
RUNS_S = 6.0  # until a started engine runs by itself; then it is warmed up
RESTS_S = 3.0  # until the idle has followed a hose, the clamp or the idle screw
ROAD_S = 45.0  # longer than any road check takes
LONG_LOOK_S = 6.0  # at the speed from which the drop is measured
SEARCH_STEP_DEG = 4.0  # crank degrees
PAST_PEAK_STEPS = 3
MOST_SEARCH_DEG = 60.0
CLEARLY_MORE_INHG = 0.05
GAUGE_SHOWS_INHG = 2.0  # below this the gauge is not connected, or the engine hardly draws
RPM_PER_INHG = 50.0  # brings a speed to the size of a vacuum, where the tachometer has to guide
DROP_NEAR_RPM = 3.0  # the speed drop is reached
RETARD_STEPS = ((30.0, 2.0), (12.0, 1.0))  # further off than this [rpm], so large a step [crank degrees]
LAST_STEP_DEG = 0.5
GAUGE_DROP_INHG = 0.4  # between a quarter and half an inch; common practice
MOST_RETARD_STEPS = 90
TRIM_NEAR_RPM = 5.0
MOST_TRIMS = 25
RPM_PER_TURN = 190.0  # of the idle screw, roughly
MOST_TURNS_AT_ONCE = 0.3
SCREW_MOST_TURNS = 6.0


class MethodAttempt(Operator):
    """The method at one session, from the chocks to the road check. Call `work`."""

    def __init__(self, session: Session):
        super().__init__(session)
        self.wanted_rpm, self.drop_rpm = self.card.setting.idle_rpm, self.card.setting.speed_drop_rpm

    def work(self) -> None:
        """Go through the whole job."""
        self.prepare()
        self.search()
        self.back_off()
        self.finish()

    def prepare(self) -> None:
        """Make it safe, hook up the gauges, start, warm up, take the vacuum advance out."""
        for control, value in SAFE.items():
            self.do(control, value)
        if self.session.settings["gear"] == "in gear":  # as a vehicle without a park position is left
            self.do("gear", "neutral")
        self.do("tachometer", "on")
        self.do("gauge_hose", "manifold")
        self.do("starter", wait_s=RUNS_S)
        self.do("wait_until_warm")
        self.take_hose_off()
        self.ready_the_body()

    def take_hose_off(self) -> None:
        """With the engine off, since the fan is beside that hand; it stays off."""
        self.do("stop", wait_s=STOP_S)
        self.do("vacuum_hose", "off and plugged")

    def ready_the_body(self) -> None:
        """Mark it, loosen its clamp, start, and read: line and readings are the way back."""
        self.do("mark_body")
        self.do("clamp", "loose")
        self.do("starter", wait_s=RUNS_S)
        self.do("read_gauges")

    def search(self) -> None:
        """Find the highest vacuum, bring the idle back there, and look for the peak again."""
        self.climb(self.gauge())
        self.trim(self.wanted_rpm)
        self.turn(2.0)
        self.turn(-2.0)

    def back_off(self) -> None:
        """Retard until the speed has fallen by the label's figure."""
        wanted = self.shown("speed_rpm", LONG_LOOK_S) - self.drop_rpm
        for _ in range(MOST_RETARD_STEPS):
            off = self.shown("speed_rpm") - wanted
            if off <= DROP_NEAR_RPM:
                return
            self.turn(-next((step for further, step in RETARD_STEPS if off > further), LAST_STEP_DEG))

    def back_off_by_gauge(self) -> None:
        """The other way: retard until the vacuum has fallen by a quarter to half an inch."""
        wanted = self.shown("vacuum_inhg", LONG_LOOK_S) - GAUGE_DROP_INHG
        for _ in range(MOST_RETARD_STEPS):
            if self.shown("vacuum_inhg", LONG_LOOK_S) <= wanted:
                return
            self.turn(-LAST_STEP_DEG)

    def finish(self) -> None:
        """Read, tighten, put the hose back, set the idle, drive."""
        self.do("read_gauges")
        self.tighten()
        self.put_hose_back()
        self.trim(self.wanted_rpm)
        self.drive()

    def put_hose_back(self) -> None:
        """With the engine off again, and start."""
        self.do("stop", wait_s=STOP_S)
        self.do("vacuum_hose", "on")
        self.do("starter", wait_s=RUNS_S)

    def tighten(self) -> None:
        """Tighten the clamp and read the gauges once more."""
        self.do("clamp", "tight", wait_s=RESTS_S)
        self.do("read_gauges")

    def drive(self) -> None:
        """Drive, and retard a little and drive again while it pings."""
        for _ in range(MOST_DRIVES):
            retard_deg = self.pings_on_the_road()
            if not retard_deg:
                return
            self.do("clamp", "loose")
            self.turn(-retard_deg)
            self.tighten()

    def pings_on_the_road(self) -> float:
        """Drive once, and return by how many crank degrees to retard; 0 where no clear ping was heard."""
        went = self.to_the_road() and self.do("road_check", wait_s=ROAD_S) == "done"
        self.back_in_the_workshop()
        heard = [line.text for line in self.session.log if line.text.startswith("Back from the road")]
        return next((deg for words, deg in RETARD_FOR.items() if went and heard and words in heard[-1]), 0.0)

    def gauge(self) -> float:
        """The reading that guides the search: the vacuum [inHg], or the speed where the gauge shows nothing."""
        vacuum = self.shown("vacuum_inhg")
        return vacuum if vacuum > GAUGE_SHOWS_INHG else self.shown("speed_rpm") / RPM_PER_INHG

    def climb(self, best: float) -> None:
        """Advance until the reading has clearly stopped rising, and go back to where it was best."""
        since_best, place, best_place = 0, 0.0, 0.0
        while since_best < PAST_PEAK_STEPS and place < MOST_SEARCH_DEG:
            self.turn(SEARCH_STEP_DEG)
            place += SEARCH_STEP_DEG
            found = self.gauge()
            since_best = 0 if found > best + CLEARLY_MORE_INHG else since_best + 1
            best, best_place = (found, place) if found > best else (best, best_place)
        self.turn(best_place - place)

    def trim(self, wanted_rpm: float) -> None:
        """Bring the idle to a speed with the screw, about a tenth of a turn for twenty rpm, until it is near enough."""
        for _ in range(MOST_TRIMS):
            off = wanted_rpm - self.shown("speed_rpm")
            if abs(off) <= TRIM_NEAR_RPM:
                return
            more = max(min(off / RPM_PER_TURN, MOST_TURNS_AT_ONCE), -MOST_TURNS_AT_ONCE)
            turns = round(self.session.settings["idle_screw"] + more, 2)
            self.do("idle_screw", min(max(turns, 0.0), SCREW_MOST_TURNS), wait_s=RESTS_S)
