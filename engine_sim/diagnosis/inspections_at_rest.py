"""Inspections of an engine that stands still, or is turned by the starter or by hand."""

from __future__ import annotations

import math

from engine_sim.model.cylinder_ripple import mixture_of_cylinders
from engine_sim.model.wear import CylinderWear
from engine_sim.physics import distributor, ignition, units
from engine_sim.workshop import adjustments

from .inspection import Finding, Inspection, OnTheStand, listed, maker, pressure_words, vacuum_words

AT_REST: dict[str, Inspection] = {}
inspection = maker(True, AT_REST)

CRANKING_RPM = 180.0  # plugs out, on a good battery; common practice
CRANKING_EXPONENT = 1.22  # slow turning loses heat and charge: 8 : 1 then shows 130 to 170 psi. Common practice
LEAST_OF_BEST = 0.75  # of the best cylinder's pressure, in every cylinder; common practice
LEAST_OF_SHEET = 0.85  # of the sheet's figure, in the best cylinder; common practice
OIL_SEALS = 0.75  # of what goes past the rings, for the few turns of the test; calibration
RISES_WITH_OIL = 1.25  # and no longer with the oil's own volume alone; common practice
OIL_TAKES_ROOM = 1.04  # squeeze with a spoonful of oil over that without; calibration
SLIP_SEEN_DEG = 3.0  # crank degrees by which a slipped ring is out of order; calibration
TRUE_WITHIN_DEG = 0.5  # crank degrees to which a piston stop tells top centre; calibration
PUMPED_INHG = 15.0  # by a hand pump on the vacuum unit; calibration
PLAY_SOUND_MM = 0.04  # sideways at the cam, in a sound bush; calibration
PLAY_MM_PER_DEG = 0.12  # more for each crank degree by which the sparks scatter; calibration
PLAY_SEEN_MM = 0.15  # from which a bush is out of order; calibration
LAZY_BELOW = 0.7  # share of the springs' force below which the weights come back lazily; calibration
TWIST_SEEN_SHARE = 0.6  # of the full twist, below which the weights are stuck; calibration
ROTOR_SEEN_DEG = 4.0  # distributor degrees by which a rotor is out of order; calibration
DWELL_SEEN_DEG = 3.0  # distributor degrees by which a dwell is out of order; calibration
VALVE_SEEN_DEG = 10.0  # crank degrees by which valve timing is out of order; calibration
LEAST_OF_COIL = 0.85  # of the voltage that a coil as new raises; calibration
WET_FROM = 0.5  # share of flooding, and of sparks, at which a plug is wet with fuel; calibration
SOOTY_FROM_PHI = 1.22  # equivalence ratio at idle from which plugs are sooty; calibration
WHITE_BELOW_PHI = 0.85  # equivalence ratio at idle below which they are white; calibration
OILY_FROM = 0.15  # share of the charge past the rings from which a plug is oily; calibration
IDLE_SHARE = 0.4  # of the air outside, in the manifold at idle
GAP_SEEN_MM = 0.15  # by which a plug's gap is out of order; calibration


# ---- compression ---------------------------------------------------------------------------------------------------


def _gauge_pa(stand: OnTheStand, one: CylinderWear, with_oil: bool = False, sound: bool = False) -> float:
    """Pressure above the air outside that a compression tester shows [Pa], throttle open, at cranking speed."""
    setup = (stand.sound if sound else stand.engine).setup
    closing = setup.geometry.volume_m3(math.radians(setup.intake_closes_deg))
    squeeze = closing / setup.geometry.clearance_volume_m3
    held = 1.0 - one.lost(CRANKING_RPM)
    if with_oil:
        squeeze *= OIL_TAKES_ROOM
        held += OIL_SEALS * (1.0 - held) if one.leaks_to == "crankcase" else 0.0
    outside = stand.conditions.ambient_pa
    return outside * max(squeeze**CRANKING_EXPONENT * held - 1.0, 0.0)


def _all_cylinders(stand: OnTheStand, with_oil: bool = False) -> list[float]:
    """What the tester shows in firing order [kPa], by steps of 10."""
    ill = dict(stand.wear.cylinders)
    shown = [_gauge_pa(stand, ill.get(place, CylinderWear()), with_oil) for place in range(stand.engine.cylinders)]
    return [stand.near(pressure / 1e3 * stand.draw.between(0.985, 1.015), 2.0, 10.0) for pressure in shown]


def _in_both(kilopascal: list[float]) -> str:
    return f"{listed(kilopascal)} kPa ({listed(value * 1e3 / units.PA_PER_PSI for value in kilopascal)} psi)"


@inspection("Compression of every cylinder", 20, takes_apart=True)
def compression(stand: OnTheStand) -> Finding:
    """Plugs out, throttle open, cranked with a tester in each cylinder in turn."""
    shown, sheet = _all_cylinders(stand), _gauge_pa(stand, CylinderWear(), sound=True)
    in_order = min(shown) >= LEAST_OF_BEST * max(shown) and max(shown) * 1e3 >= LEAST_OF_SHEET * sheet
    return Finding(
        f"In firing order, from cylinder one: {_in_both(shown)}. Such an engine shows about "
        f"{pressure_words(sheet, 10.0)} here, and no cylinder less than three quarters of the best.",
        in_order,
    )


@inspection("Compression again, with a spoonful of oil in every cylinder", 30, takes_apart=True)
def compression_with_oil(stand: OnTheStand) -> Finding:
    """The same dry and then oiled: what goes past the rings is sealed for a moment, what goes past a valve is not."""
    dry, oiled = _all_cylinders(stand), _all_cylinders(stand, with_oil=True)
    sheet = _gauge_pa(stand, CylinderWear(), sound=True)
    rises = any(wet > RISES_WITH_OIL * max(before, 1.0) for wet, before in zip(oiled, dry, strict=True))
    low = min(dry) < LEAST_OF_BEST * max(dry) or max(dry) * 1e3 < LEAST_OF_SHEET * sheet
    return Finding(
        f"In firing order, dry: {_in_both(dry)}. With oil: {_in_both(oiled)}. Such an engine shows about "
        f"{pressure_words(sheet, 10.0)} dry, and a few per cent more with oil.",
        not rises and not low,
    )


# ---- crank, valves, distributor ------------------------------------------------------------------------------------


@inspection("A piston stop: where top centre truly is", 20, takes_apart=True)
def piston_stop(stand: OnTheStand) -> Finding:
    """The crank is turned up against a stop both ways; top centre lies in the middle."""
    shown = stand.near(stand.wear.mark_slip_deg, 0.4, 0.5)
    off = abs(shown) >= TRUE_WITHIN_DEG + 0.5
    side = "before" if shown > 0 else "after"
    where = f"{abs(shown):.1f} degrees {side} its zero" if off else f"its zero, to within {TRUE_WITHIN_DEG:g} degree"
    return Finding(
        f"With the piston of cylinder one truly at the top, the mark on the damper stands at {where}.",
        abs(shown) < SLIP_SEEN_DEG,
    )


@inspection("A degree wheel: when the inlet valve closes", 60, takes_apart=True)
def degree_wheel(stand: OnTheStand) -> Finding:
    """The wheel is set by a piston stop, a dial gauge stands on the valve."""
    sheet = stand.card.valves.intake_closes_deg_abdc
    shown = stand.near(sheet + stand.wear.valves_late_deg, 1.0, 1.0)
    return Finding(
        f"The inlet valve of cylinder one closes {shown:.0f} crank degrees after bottom centre; "
        f"the maker's sheet says {sheet:.0f}.",
        abs(shown - sheet) < VALVE_SEEN_DEG,
    )


@inspection("Look under the distributor cap", 3)
def look_under_cap(stand: OnTheStand) -> Finding:
    """Where the rotor points with cylinder one at the top of its compression."""
    found, start = stand.found, "With cylinder one at the top of its compression, the rotor "
    if found.half_turn:
        return Finding(f"{start}points to the terminal opposite to that of cylinder one.", False)
    if found.teeth_out:
        turned = abs(found.teeth_out) * 360.0 / stand.card.distributor.gear_teeth
        side = "past" if found.teeth_out > 0 else "short of"
        degrees = stand.near(turned, 1.0, 1.0)
        return Finding(f"{start}stands about {degrees:.0f} degrees {side} the terminal of cylinder one.", False)
    return Finding(f"{start}points to the terminal of cylinder one.", True)


@inspection("Look at rotor and terminals through a window in an old cap", 10)
def look_at_rotor(stand: OnTheStand) -> Finding:
    """How far the rotor's tip is from the middle of its terminal as the spark comes, vacuum unit at rest and pumped."""
    half = 0.5 * stand.card.vacuum_advance.degrees
    off = abs(stand.near(stand.wear.rotor_off_deg, 0.8, 0.5))
    pumped = stand.near(off + half, 0.3, 0.5)
    reach = distributor.ROTOR_REACHES_DEG
    return Finding(
        f"When the spark comes the rotor's tip is {off:.1f} distributor degrees from the middle of its terminal "
        f"with the vacuum unit at rest, and {pumped:.1f} with it pumped up; the spark reaches {reach:g}.",
        off < ROTOR_SEEN_DEG,
    )


@inspection("Rock and twist the distributor's shaft by hand", 8)
def shaft_by_hand(stand: OnTheStand) -> Finding:
    """Play in the bush, and whether the weights swing and their springs bring them back."""
    play = stand.near(PLAY_SOUND_MM + PLAY_MM_PER_DEG * stand.wear.shaft_play_deg, 0.01, 0.01)
    twist, full = _twist_deg(stand), 0.5 * stand.card.distributor.stop_deg
    if twist < TWIST_SEEN_SHARE * full:
        back = "hardly gives way"
    else:
        back = "comes back by itself" if stand.wear.spring_left >= LAZY_BELOW else "comes back lazily, with no snap"
    return Finding(
        f"The shaft rocks sideways by {play:.2f} mm ({play / units.MM_PER_INCH:.3f} in). The rotor can be twisted by "
        f"{twist:.0f} distributor degrees and {back}.",
        play < PLAY_SEEN_MM and back == "comes back by itself",
    )


def _twist_deg(stand: OnTheStand) -> float:
    free = stand.wear.weights_stuck_deg is None
    return stand.near(0.5 * stand.card.distributor.stop_deg if free else 0.5, 0.5, 1.0)


@inspection("A hand pump on the vacuum unit", 5)
def hand_pump(stand: OnTheStand) -> Finding:
    """Whether it holds, and how far it turns the plate."""
    canister = stand.card.vacuum_advance
    if stand.wear.canister_torn:
        return Finding("The pump's needle falls back as fast as it is pumped, and the plate does not turn.", False)
    starts = stand.near(canister.start_inhg, 0.3, 0.1)
    turned, full = stand.near(canister.degrees, 0.5, 0.5), stand.near(canister.full_inhg, 0.3, 0.1)
    return Finding(
        f"It holds {vacuum_words(PUMPED_INHG)} for a minute. The plate begins to turn at {vacuum_words(starts)} and "
        f"has moved the spark by {turned:.1f} crank degrees at {vacuum_words(full)}.",
        True,
    )


@inspection("Follow the advance hose to its other end", 3)
def hose_trace(stand: OnTheStand) -> Finding:
    """Which port it is on, and which one the maker's picture shows."""
    fitting = {
        "manifold": "the fitting below the throttle plate, which has full manifold vacuum",
        "ported": "the fitting above the throttle plate, which has vacuum only when the throttle is opened",
    }
    is_on, belongs = stand.engine.advance_source, stand.card.vacuum_advance.source
    picture = "there too" if is_on == belongs else f"on {fitting[belongs]}"
    return Finding(
        f"The hose of the vacuum unit is on {fitting[is_on]}. The maker's picture has it {picture}.", is_on == belongs
    )


# ---- spark, fuel ---------------------------------------------------------------------------------------------------


@inspection("A spark gap tester on the coil's lead", 8)
def spark_gap_tester(stand: OnTheStand) -> Finding:
    """The highest voltage that the coil raises at idle."""
    rpm = stand.card.setting.idle_rpm
    on_time = ignition.coil_on_time_s(adjustments.dwell_deg(stand.card, stand.settings), rpm)
    wanted = float(stand.sound.coil.available_kv(ignition.coil_on_time_s(stand.card.ignition.dwell_deg, rpm)))
    shown = stand.near(float(stand.engine.coil.available_kv(on_time)), 0.4, 0.5)
    return Finding(
        f"At idle speed the coil raises {shown:.1f} kV; one as new raises about {wanted:.0f}.",
        shown >= LEAST_OF_COIL * wanted,
    )


@inspection("Take the plugs out and look at them", 15)
def look_at_plugs(stand: OnTheStand) -> Finding:
    """Colour of every plug, and the gap."""
    colours = [_plug(stand, place) for place in range(stand.engine.cylinders)]
    sheet = stand.card.ignition.plug_gap_mm
    gap = stand.near(stand.wear.plug_gap_mm or sheet, 0.03, 0.05)
    same = len(set(colours)) == 1
    told = f"All are {colours[0]}" if same else f"In firing order, from cylinder one: {', '.join(colours)}"
    return Finding(
        f"{told}. Their gaps are {gap:.2f} mm ({gap / units.MM_PER_INCH:.3f} in); the sheet says {sheet:.2f} mm.",
        same and colours[0] == "tan" and abs(gap - sheet) < GAP_SEEN_MM,
    )


def _plug(stand: OnTheStand, place: int) -> str:
    one = dict(stand.wear.cylinders).get(place, CylinderWear())
    if stand.found.flood >= WET_FROM or one.fires_share < WET_FROM:
        return "wet with fuel"
    if one.leaks_to == "crankcase" and one.leak_share >= OILY_FROM:
        return "dark and oily"
    mixture = _idle_phi(stand, one, place)
    return "black and sooty" if mixture >= SOOTY_FROM_PHI else "white" if mixture < WHITE_BELOW_PHI else "tan"


def _idle_phi(stand: OnTheStand, one: CylinderWear, place: int) -> float:
    """Mixture that burns in one cylinder at idle, leaking air and its share of the carburettor's mixture counted."""
    engine, inputs = stand.engine, stand.inputs
    shift = inputs.mixture_shift + engine.slot_shift(inputs.idle_screw)
    shift += mixture_of_cylinders(stand.card, stand.found.seed)[place]
    metered = engine.equivalence_ratio(stand.card.setting.idle_rpm, IDLE_SHARE, stand.conditions, shift)
    comes_in, common = float(engine.metered_area_m2(inputs.idle_screw)), stand.wear.leak_m2 - stand.wear.runner_leak_m2
    own = one.runner_leak_m2 / (comes_in / engine.cylinders + one.runner_leak_m2)
    return float(metered) * (1.0 - common / (comes_in + common)) * (1.0 - own)


@inspection("Look at the choke of the cold engine", 3)
def look_at_choke(stand: OnTheStand) -> Finding:
    """Whether the plate closes."""
    if stand.wear.choke_stuck_open:
        return Finding("The plate stands wide open on the cold engine and does not move when it is tapped.", False)
    return Finding("On the cold engine the plate swings shut by itself and opens freely under a finger.", True)
