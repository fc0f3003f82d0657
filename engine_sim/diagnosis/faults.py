"""What can be wrong with an engine, each as a change to its state of wear or to how it is found, drawn by variant.

`seen` is what a person would notice; `found_by` the check that shows it. The amounts are calibrations: large enough to
be seen on the instruments, and no larger than workshops meet.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from engine_sim.errors import TimingCourseError
from engine_sim.model.card import EngineCard
from engine_sim.model.engine import crankcase_valve_m2
from engine_sim.model.population import AsFound, Draw
from engine_sim.model.wear import SOUND, CylinderWear, Wear
from engine_sim.workshop.controls import CONTROLS

SOUND_PATTERN = "steady and normal"
PATTERNS = (  # what a needle does at idle and held at 2,500 rpm, as handbooks word it; common practice
    SOUND_PATTERN,
    "steady and low",
    "very low",
    "flicks in rhythm",
    "drops now and then",
    "drifts",
    "falls when held at speed",
)
KEPT_RUNNING_BY = 0.68  # throttle area that an owner opens for each area of a leak beyond the next; calibration
NO_HELP_NEEDED_MM2_PER_LITRE = 2.9  # of a leak, for each litre of the engine, with which it still idles; calibration
STUCK_OPEN = (2.2, 3.0)  # areas of a sound valve at idle that come on top of it; calibration
LATE_BY_DEG = (26.5, 28.0)  # crank degrees after the label's base timing; calibration
SOME_LATE_BY_DEG = (13.0, 15.0)  # crank degrees after the label's, with which it still starts; calibration
LATE_TURNED_UP_MM2_PER_LITRE = 2.0  # of throttle area that an owner opens so that it idles; calibration


@dataclass(frozen=True)
class Fault:
    """One fault: its name for people, what is seen of it, the inspection that shows it for certain, and which of
    PATTERNS the needle of a vacuum gauge then has (empty where the needle does not tell it from others)."""

    id: str
    title: str
    seen: str
    found_by: str
    pattern: str
    _apply: Callable[[EngineCard, AsFound, Draw], tuple[Wear, AsFound]]
    _spared: Callable[[EngineCard], str]

    def fits(self, card: EngineCard) -> bool:
        """Whether an engine can have it: an electronic trigger has no points to be set wrongly."""
        return not self._spared(card)

    def on(self, card: EngineCard, found: AsFound, draw: Draw) -> tuple[Wear, AsFound]:
        """The engine's state of wear with this fault, and how it is then found; amounts come from the draw.

        Raises UnknownFault where the engine cannot have it.
        """
        if not self.fits(card):
            raise UnknownFault(f"{card.title} cannot have '{self.title}': {self._spared(card)}.")
        return self._apply(card, found, draw)


FAULTS: dict[str, Fault] = {}


class UnknownFault(TimingCourseError):
    """A fault was named that there is not."""


def fault_named(name: str) -> Fault:
    """The fault of that id. Raises UnknownFault that lists the ids there are."""
    if name not in FAULTS:
        raise UnknownFault(f"There is no fault '{name}'; there are {', '.join(FAULTS)}.")
    return FAULTS[name]


def _any_engine(card: EngineCard) -> str:
    return ""


def _without_points(card: EngineCard) -> str:
    trigger = card.ignition.trigger
    return "" if trigger == "breaker points" else f"its {trigger} trigger has no gap"


def _without_crankcase_valve(card: EngineCard) -> str:
    return "" if card.breathing.crankcase_valve else "its crankcase breathes through a tube and has no valve"


def _fault(
    id_: str,
    title: str,
    seen: str,
    found_by: str,
    pattern: str = "",
    spared: Callable[[EngineCard], str] = _any_engine,
):
    """`spared` says why an engine cannot have it; empty where it can."""

    def register(apply):
        FAULTS[id_] = Fault(id_, title, seen, found_by=found_by, pattern=pattern, _apply=apply, _spared=spared)
        return apply

    return register


def _one(card: EngineCard, draw: Draw) -> int:
    """A cylinder's place in the firing order."""
    return int(draw.share() * card.block.cylinders)


# ---- air that comes in where it should not -------------------------------------------------------------------------


@_fault(
    "plenum_leak",
    "Vacuum leak at the manifold",
    "A steady needle that stands low; the idle falls or races.",
    "soapy_water",
    "steady and low",
)
def _plenum_leak(card, found, draw):
    return _leaking(card, found, draw.between(4.0, 4.4))


@_fault(
    "gross_leak",
    "A hose off the manifold",
    "A steady needle that stands very low; the engine hardly idles.",
    "soapy_water",
    "very low",
)
def _gross_leak(card, found, draw):
    return _leaking(card, found, draw.between(7.7, 8.1))


def _leaking(card: EngineCard, found: AsFound, mm2_per_litre: float) -> tuple[Wear, AsFound]:
    """A leak that thins the mixture; an owner has turned the idle screw in until the engine kept running."""
    litres, inlet = card.displacement_l, card.breathing
    opened = KEPT_RUNNING_BY * (mm2_per_litre - NO_HELP_NEEDED_MM2_PER_LITRE) * litres
    screw = min(found.idle_screw + opened / inlet.idle_screw_area_mm2_per_turn, CONTROLS["idle_screw"].high)
    wear = replace(SOUND, plenum_leak_m2=mm2_per_litre * 1e-6 * litres)
    return wear, replace(found, idle_screw=round(screw, 2))


@_fault(
    "runner_leak",
    "Vacuum leak at one runner",
    "The needle flicks, and one cylinder misses at idle and not at speed.",
    "soapy_water",
)
def _runner_leak(card, found, draw):
    area = draw.between(3.6, 4.6) * 1e-6 * card.displacement_l / card.block.cylinders
    return SOUND.with_cylinders(CylinderWear(runner_leak_m2=area), _one(card, draw)), found


@_fault(
    "crankcase_valve_open",
    "The crankcase (PCV) valve is stuck open",
    "The idle is lean, and faster than its screw explains; the needle stands a little low.",
    "crankcase_valve",
    spared=_without_crankcase_valve,
)
def _crankcase_valve_open(card, found, draw):
    return replace(SOUND, crankcase_air_m2=crankcase_valve_m2(card) * draw.between(*STUCK_OPEN)), found


@_fault(
    "crankcase_valve_closed",
    "The crankcase (PCV) valve is stuck closed",
    "The idle is low and rich; oily vapour comes out at the filler.",
    "crankcase_valve",
    spared=_without_crankcase_valve,
)
def _crankcase_valve_closed(card, found, draw):
    return replace(SOUND, crankcase_air_m2=-crankcase_valve_m2(card)), found


# ---- timing and distributor ------------------------------------------------------------------------------------------


@_fault(
    "timing_late",
    "The base timing is far too late",
    "A steady needle that stands low; it does not start until the distributor is turned towards advance.",
    "advance_sweep",
    "steady and low",
)
def _timing_late(card, found, draw):
    late = card.setting.label_base_timing_deg - draw.between(*LATE_BY_DEG)
    turned_up = _idle_turned_up(card, found, LATE_TURNED_UP_MM2_PER_LITRE)
    return SOUND, replace(turned_up, base_timing_deg=round(late, 2))


@_fault(
    "timing_some_late",
    "The base timing is some degrees too late",
    "It takes several times as long to start, and runs all the same.",
    "static_timing",
)
def _timing_some_late(card, found, draw):
    late = card.setting.label_base_timing_deg - draw.between(*SOME_LATE_BY_DEG)
    return SOUND, replace(found, base_timing_deg=round(late, 2))


@_fault(
    "damper_slipped",
    "The ring of the damper has slipped",
    "The timing light shows a setting that cannot be; the engine says otherwise.",
    "piston_stop",
)
def _damper_slipped(card, found, draw):
    return replace(SOUND, mark_slip_deg=round(draw.between(9.0, 16.0) * draw.sign(), 1)), found


@_fault(
    "weights_stuck",
    "The weights are stuck",
    "Dull at speed: the timing does not move when the speed rises.",
    "advance_sweep",
)
def _weights_stuck(card, found, draw):
    return replace(SOUND, weights_stuck_deg=round(draw.between(0.0, 3.0), 1)), found


@_fault(
    "springs_weak",
    "The springs of the weights are weak",
    "The idle hunts up with the speed; it pings early in a pull.",
    "advance_sweep",
)
def _springs_weak(card, found, draw):
    return replace(SOUND, spring_left=round(draw.between(0.30, 0.42), 2)), found


@_fault(
    "canister_torn",
    "The vacuum unit is torn",
    "No advance with the hose on; on a manifold source a leak besides.",
    "hand_pump",
)
def _canister_torn(card, found, draw):
    return replace(SOUND, canister_torn=True), found


@_fault(
    "wrong_port",
    "The advance hose is on the wrong port",
    "The idle changes, or does not, when the hose comes off.",
    "advance_sweep",
)
def _wrong_port(card, found, draw):
    other = "ported" if card.vacuum_advance.source == "manifold" else "manifold"
    return replace(SOUND, advance_hose_on=other), found


@_fault(
    "bush_worn",
    "The distributor's bush is worn",
    "The mark wanders under the light; the needle trembles without rhythm.",
    "shaft_by_hand",
)
def _bush_worn(card, found, draw):
    return replace(SOUND, shaft_play_deg=round(draw.between(2.6, 3.6), 1)), found


@_fault("rotor_off", "Rotor and cap do not line up", "It misses with the hose on and not with it off.", "look_at_rotor")
def _rotor_off(card, found, draw):
    return replace(SOUND, rotor_off_deg=round(draw.between(6.5, 9.0), 1)), found


@_fault(
    "dwell_wrong",
    "The points are set too wide or too close",
    "The timing is off and moves when the points are set.",
    "dwell_meter",
    spared=_without_points,
)
def _dwell_wrong(card, found, draw):
    away = draw.between(0.15, 0.22) if draw.share() < 0.5 else -draw.between(0.12, 0.16)
    return SOUND, replace(found, point_gap_mm=round(card.ignition.point_gap_mm + away, 2))


@_fault(
    "tooth_out",
    "The distributor is a tooth out",
    "It will not start, or kicks; the body cannot be turned far enough.",
    "look_under_cap",
)
def _tooth_out(card, found, draw):
    return SOUND, replace(found, teeth_out=int(draw.sign()))


@_fault(
    "half_turn",
    "The distributor is half a turn out",
    "It does not fire and spits back through the carburettor.",
    "look_under_cap",
)
def _half_turn(card, found, draw):
    return SOUND, replace(found, half_turn=True)


# ---- spark -----------------------------------------------------------------------------------------------------------


@_fault("spark_tired", "A tired spark", "Idles, and misses when it has to pull.", "spark_gap_tester")
def _spark_tired(card, found, draw):
    return replace(SOUND, coil_left=round(draw.between(0.30, 0.36), 2), plug_gap_mm=1.1), found


@_fault(
    "coil_dead",
    "No spark: coil, condenser or ballast resistor",
    "It turns evenly and never fires; the plugs grow wet.",
    "spark_at_tester",
)
def _coil_dead(card, found, draw):
    return replace(SOUND, coil_left=round(draw.between(0.02, 0.04), 3)), found


@_fault(
    "battery_weak",
    "A weak battery, or bad leads to the starter",
    "The starter drags, and the engine takes long to catch.",
    "crank_and_listen",
)
def _battery_weak(card, found, draw):
    return SOUND, replace(found, battery=round(draw.between(0.52, 0.60), 2))


@_fault(
    "plug_dead",
    "One plug does not fire",
    "An even limp; the speed does not fall when that lead comes off.",
    "cylinder_cut_out",
)
def _plug_dead(card, found, draw):
    return SOUND.with_cylinders(CylinderWear(fires_share=0.0), _one(card, draw)), found


# ---- valves, rings, gaskets ------------------------------------------------------------------------------------------


@_fault(
    "valve_burnt",
    "A burnt exhaust valve",
    "The needle flicks with a steady rhythm, also when held at speed.",
    "compression",
    "flicks in rhythm",
)
def _valve_burnt(card, found, draw):
    one = CylinderWear(leak_share=round(draw.between(0.55, 0.75), 2), leaks_to="exhaust")
    return SOUND.with_cylinders(one, _one(card, draw)), found


@_fault(
    "valve_sticking",
    "A sticking inlet valve",
    "The needle drops sharply now and then.",
    "oil_in_the_inlet",
    "drops now and then",
)
def _valve_sticking(card, found, draw):
    one = CylinderWear(hangs_share=round(draw.between(0.12, 0.18), 2), leaks_to="intake")
    return SOUND.with_cylinders(one, _one(card, draw)), found


@_fault(
    "rings_weak",
    "Worn rings",
    "The needle stands low and steady, and comes back weakly after a snap.",
    "compression_with_oil",
    "steady and low",
)
def _rings_weak(card, found, draw):
    one = CylinderWear(leak_share=round(draw.between(0.25, 0.29), 2), leaks_to="crankcase")
    return SOUND.with_cylinders(one, *range(card.block.cylinders)), _idle_turned_up(card, found, 1.8)


def _idle_turned_up(card: EngineCard, found: AsFound, mm2_per_litre: float) -> AsFound:
    """An owner has turned the idle screw in until a weak engine kept running."""
    turns = mm2_per_litre * card.displacement_l / card.breathing.idle_screw_area_mm2_per_turn
    return replace(found, idle_screw=round(min(found.idle_screw + turns, CONTROLS["idle_screw"].high), 2))


@_fault(
    "gasket_between",
    "The head gasket leaks between two cylinders",
    "The needle flicks deep with a rhythm; two neighbours have no compression.",
    "compression",
    "flicks in rhythm",
)
def _gasket_between(card, found, draw):
    first = _one(card, draw)
    one = CylinderWear(leak_share=round(draw.between(0.55, 0.7), 2), leaks_to="exhaust")
    return SOUND.with_cylinders(one, first, (first + max(card.block.cylinders // 3, 1)) % card.block.cylinders), found


@_fault(
    "compression_low", "Low compression in all cylinders", "Weak everywhere; the needle a little low.", "compression"
)
def _compression_low(card, found, draw):
    return replace(SOUND, compression_lost=round(draw.between(0.22, 0.30), 2)), _idle_turned_up(card, found, 0.7)


@_fault(
    "valves_late",
    "Late valve timing: the chain has jumped",
    "A steady needle that stands low at any setting of the distributor.",
    "degree_wheel",
    "steady and low",
)
def _valves_late(card, found, draw):
    return replace(SOUND, valves_late_deg=round(draw.between(43.0, 47.0), 1)), _idle_turned_up(card, found, 1.0)


# ---- exhaust, carburettor --------------------------------------------------------------------------------------------


@_fault(
    "exhaust_blocked",
    "A blocked exhaust",
    "Held at speed the needle falls slowly, and the engine with it.",
    "back_pressure",
    "falls when held at speed",
)
def _exhaust_blocked(card, found, draw):
    return replace(SOUND, exhaust_blocked=round(draw.between(380.0, 520.0))), found


@_fault(
    "idle_lean",
    "A lean idle",
    "The needle drifts and drops now and then; the idle hunts.",
    "mixture_screws",
    "drifts",
)
def _idle_lean(card, found, draw):
    return SOUND, replace(
        found, mixture_screw=_screw(card, -draw.between(0.34, 0.38)), idle_screw=found.idle_screw + 0.9
    )


@_fault(
    "idle_rich",
    "A rich idle",
    "The needle drifts slowly up and down; black smoke, and it smells.",
    "mixture_screws",
    "drifts",
)
def _idle_rich(card, found, draw):
    return SOUND, replace(
        found, mixture_screw=_screw(card, draw.between(0.32, 0.38)), idle_screw=found.idle_screw + 0.2
    )


def _screw(card: EngineCard, shift: float) -> float:
    """Turns out of the mixture screws for a shift of the equivalence ratio."""
    mixture, screw = card.mixture, CONTROLS["mixture_screw"]
    turns = mixture.mixture_screw_turns + shift / mixture.phi_per_turn
    return screw.step * round(min(max(turns, screw.low), screw.high) / screw.step)


@_fault(
    "choke_stuck",
    "The choke does not close",
    "A cold engine that will not start, though timing and spark are right.",
    "look_at_choke",
)
def _choke_stuck(card, found, draw):
    return replace(SOUND, choke_stuck_open=True), found


@_fault(
    "bowl_empty",
    "The float bowl has drained while the engine stood",
    "It turns evenly for many seconds, then runs as if nothing had been wrong.",
    "fuel_at_jet",
)
def _bowl_empty(card, found, draw):
    return SOUND, replace(found, bowl=round(draw.between(0.1, 0.25), 2))


@_fault(
    "flooded", "Flooded", "It smells of petrol and does not start, though timing and spark are right.", "look_at_plugs"
)
def _flooded(card, found, draw):
    return SOUND, replace(found, flood=1.0)
