"""What is worked out of a description, made up for tests of what is shown of it: no engine is simulated."""

from __future__ import annotations

from course.owner.work import Worked
from engine_sim.owned.compare import OwnedComparison, Pair, Suspect
from engine_sim.owned.distributor import Suitability, SuitRow
from engine_sim.owned.expect import Band, Expected, NotShown
from engine_sim.owned.next_test import NextTest
from engine_sim.owned.nominal import Assumed
from engine_sim.owned.starting import StartingFigure

LEAK = "Air leak at the plenum"


def worked_example(total_high: float = 34.0) -> Worked:
    """Bands, a starting figure, a distributor that starts late, and a leak that is more likely than not."""
    return Worked(
        expected=Expected(
            bands=(
                Band("idle", "Vacuum at idle", "inHg", 17.1, 19.0, "Healthy, warm: 17.1 to 19.0 inHg."),
                Band("evenness", "Evenness at idle", "% run evenly", 88.0, 100.0, "88 % run evenly."),
                Band("end", "Where the method will end", "° BTDC", 6.0, 15.0, "6 to 15 degrees. That is weak.", True),
                Band("total", "Total at 3,000 rpm, hose off", "° BTDC", 27.0, total_high, "27 to 34 degrees."),
            ),
            not_shown=(NotShown("octane", "Octane number it needs", "Without a compression gauge it tells nothing."),),
            assumed=(Assumed("build.cam", "Supposed: the camshaft is as built.", "much"),),
            ask_field="readings.sweep",
            ask_next="Make a sweep by light: it narrows the end of the method.",
        ),
        start=StartingFigure(
            to_start_deg=(6.0, 8.0),
            first_running_deg=10.0,
            total_at_most_deg=34.0,
            by_maker=False,
            reasons=("To start it: 6 to 8 degrees by a test lamp at rest. Common practice.",),
            to_go_on=("Total by the light at 3,000 rpm, hose off and plugged: at most 34 degrees.",),
            stop_when=("It kicks against the starter: stop, 4 degrees later.",),
        ),
        suits=Suitability(
            rows=(
                SuitRow("idle", "off", 5.0, None, None, None),
                SuitRow("1500", "off", 12.0, 17.0, 24.0, 22.0),
                SuitRow("3000", "off", None, 26.0, 34.0, 31.0),
            ),
            sentences=("Late start: 12 degrees at 1,500 rpm, where such engines use 17 or more.",),
            ask_for=("Weights that begin at about 800 rpm.",),
            ground=("Worked out on drawn engines, with the throttle wide open.",),
        ),
        comparison=OwnedComparison(
            odds={"": 0.2, "plenum_leak": 0.6, "timing_late": 0.15, "none of these": 0.05},
            ranked=(
                Suspect("plenum_leak", LEAK, 0.6, ("the vacuum at idle is 14.1 inHg",), ("the idle runs evenly",)),
                Suspect("", "Healthy as far as these readings go", 0.2, (), ("the vacuum at idle is low",)),
            ),
            named="plenum_leak",
            likely=False,
            verdict="More likely than not: air leak at the plenum, in 60 % of engines drawn like yours.",
            sentences=("All shares are of engines drawn like yours and read like this.",),
            pairs=(Pair("plenum_leak", "idle_lean", "soapy_water", "A leak, or a lean mixture: not told apart."),),
            next_tests=(
                NextTest("soapy_water", "Soapy water on every joint of the inlet", 10, False, 0.4, "It parts them."),
            ),
            do_not=("Do not turn the distributor to cure this.",),
        ),
    )
