"""The method at one session, from the chocks to the road check, by what the instruments show.

It averages the wobble by looking for a while; it never sees the true angle. The tests make it careless in many ways.
"""

from __future__ import annotations

from engine_sim import Session

from .operator import SAFE, Operator

MOST_DRIVES = 8


class MethodTry(Operator):
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
        self.do("tachometer", "on")
        self.do("gauge_hose", "manifold")
        self.do("starter", wait_s=6.0)
        self.do("wait_until_warm")
        self.do("vacuum_hose", "off and plugged")
        self.do("clamp", "loose", wait_s=3.0)

    def search(self) -> None:
        """Find the highest vacuum, bring the idle back there, and look for the peak again."""
        self.climb(self.gauge())
        self.trim(self.wanted_rpm)
        self.turn(2.0)
        self.turn(-2.0)

    def back_off(self) -> None:
        """Retard until the speed has fallen by what the label asks."""
        wanted = self.shown("speed_rpm", 6.0) - self.drop_rpm
        for _ in range(90):
            off = self.shown("speed_rpm", 3.0) - wanted
            if off <= 3.0:
                return
            self.turn(-2.0 if off > 30.0 else -1.0 if off > 12.0 else -0.5)

    def finish(self) -> None:
        """Tighten, read again, put the hose back, set the idle, drive."""
        self.do("read_gauges")
        self.tighten()
        self.do("vacuum_hose", "on", wait_s=3.0)
        self.trim(self.wanted_rpm)
        self.drive()

    def tighten(self) -> None:
        """Tighten the clamp and read the gauges once more."""
        self.do("clamp", "tight", wait_s=3.0)
        self.do("read_gauges")

    def drive(self) -> None:
        """Drive, and retard a little and drive again while it pings."""
        for _ in range(MOST_DRIVES):
            if not self.pings_on_the_road():
                return
            self.do("clamp", "loose")
            self.turn(-1.0)
            self.tighten()

    def pings_on_the_road(self) -> bool:
        """Drive once; whether the ear heard it ping."""
        went = self.to_the_road() and self.do("road_check", wait_s=45.0) == "done"
        self.back_in_the_workshop()
        heard = [line.text for line in self.session.log if line.text.startswith("Back from the road")]
        return went and bool(heard) and any(words in heard[-1] for words in ("clear ping", "heavy ping"))

    def gauge(self) -> float:
        """What guides the search: the vacuum gauge, or the tachometer where the gauge shows nothing."""
        vacuum = self.shown("vacuum_inhg", 3.0)
        return vacuum if vacuum > 2.0 else self.shown("speed_rpm", 3.0) / 50.0

    def climb(self, best: float) -> None:
        """Advance until the reading has clearly stopped rising, and go back to where it was best."""
        since_best, place, best_place = 0, 0.0, 0.0
        while since_best < 3 and place < 60.0:
            self.turn(4.0)
            place += 4.0
            found = self.gauge()
            since_best = 0 if found > best + 0.05 else since_best + 1
            best, best_place = (found, place) if found > best else (best, best_place)
        self.turn(best_place - place)

    def trim(self, wanted_rpm: float) -> None:
        """Bring the idle to a speed with the screw, a tenth of a turn for twenty rpm, until it is within five."""
        for _ in range(25):
            off = wanted_rpm - self.shown("speed_rpm", 3.0)
            if abs(off) <= 5.0:
                return
            turns = self.session.settings["idle_screw"] + max(min(off / 190.0, 0.3), -0.3)
            self.do("idle_screw", min(max(round(turns, 2), 0.0), 6.0), wait_s=3.0)
