"""The sentences of a comparison: titles, what is said in any case, and what not to do."""

from __future__ import annotations

from engine_sim.diagnosis.faults import FAULTS

from .causes import HEALTHY, NONE_OF_THESE
from .description import OwnedEngine

SUSPECTED_FROM = 0.15  # share from which a cause has its caution
ENGINES_LIKE_YOURS = (
    "All shares are of engines drawn like yours and read like this; they are no measurement of your engine, and no "
    "figure for setting it."
)
TWO_FAULTS = (
    "An engine may have two faults at once. The first of this list is then usually one of them: put that right, read "
    "everything again, and compare again."
)
NOT_SEEN = (
    "These readings cannot see everything: a fault that shows only hot, only wet or only on the road, brakes, cooling "
    "and fuel lines are not compared."
)
ALWAYS = (
    "Do not set any engine to a figure of this page: the maker's figures, local law and licensed practice come first."
)
BEFORE_TURNING = "Do not turn the distributor to cure this: put the cause right first, then set the timing."
NOT_TIMING = (
    *("plenum_leak", "gross_leak", "runner_leak", "plug_dead", "valve_burnt", "valve_sticking", "rings_weak"),
    *("gasket_between", "compression_low", "valves_late", "exhaust_blocked", "idle_lean", "idle_rich"),
)
CAUTIONS = {
    "damper_slipped": "Do not set the timing by the marks before a piston stop has shown where top dead centre is.",
    "dwell_wrong": "Do not set the timing before the dwell is right: setting the points moves the spark.",
    "bush_worn": "Do not set the timing by a mark that wanders: the distributor is repaired first.",
    "springs_weak": "No wide-open pull before the total at 3,000 rpm was seen by a light.",
    "weights_stuck": "Do not set more base timing to make up for weights that do not move.",
    "canister_torn": "Do not set more base timing to make up for a vacuum unit that does nothing.",
    "wrong_port": "Do not change the timing before the advance hose is on the port where the maker has it.",
    "valve_burnt": "Do not drive on with it: a burnt valve and a leaking gasket get worse, and cost more.",
    "gasket_between": "Do not drive on with it: a leaking gasket gets worse, and may take coolant with it.",
    "gross_leak": "Do not drive before the brakes were tried: a hose off the manifold may be the brake servo's.",
    "exhaust_blocked": "Do not rev it on and on to clear it: the exhaust gets hot enough to light what lies under it.",
    "tooth_out": "Do not keep the starter turning against a kick: it breaks the starter.",
    "timing_late": "Do not let it run for long so late: the exhaust glows.",
    "choke_stuck": "No ether, and no fuel poured in.",
    "idle_rich": "Do not let it run in a closed place: a rich engine makes the most carbon monoxide.",
}


def title_of(cause: str) -> str:
    """What people read for a cause."""
    if cause == HEALTHY:
        return "Healthy as far as these readings go"
    return "None of these causes" if cause == NONE_OF_THESE else FAULTS[cause].title


def do_not(shares: dict[str, float], engine: OwnedEngine) -> tuple[str, ...]:
    """What not to do, by what is suspected and what was heard."""
    suspected = [name for name, share in shares.items() if share >= SUSPECTED_FROM]
    told = [CAUTIONS[name] for name in suspected if name in CAUTIONS]
    if any(name in NOT_TIMING for name in suspected):
        told.append(BEFORE_TURNING)
    if engine.readings.ping in ("clear ping", "heavy ping"):
        told.append("Do not pull hard while it pings: throttle shut at once, two degrees back, and never more advance.")
    if shares.get(HEALTHY, 0.0) >= SUSPECTED_FROM:
        told.append("Do not replace parts on the ground of this list alone.")
    return (*told, ALWAYS)
