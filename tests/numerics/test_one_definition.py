"""Formulas that exist once for arrays and once for plain floats: both forms give the same over their whole domain.

A running engine is stepped by the plain forms, because they are fast; maps, settled states and judges use the array
forms. Each pair is compared over its domain, both forms meet a value worked out by hand, and a change of 20 % in one
form, or in a constant of both, is shown to be noticed.
"""

from __future__ import annotations

import functools
import math
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from statistics import NormalDist
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import Phase, given, settings, strategies as st

from course import ENGINES
from engine_sim import Conditions, Engine, IdleTable, load_card
from engine_sim.diagnosis import faults
from engine_sim.model import cycle, cylinder_ripple, dynamics, engine as engine_module
from engine_sim.model.card import EngineCard
from engine_sim.model.cylinder_ripple import Ripple
from engine_sim.model.dynamics import ControlInputs, Dynamics, Motion
from engine_sim.model.response_map import QUANTITIES, ResponseMap
from engine_sim.model.wear import SOUND, Wear
from engine_sim.physics import breathing, converter, distributor, fuel, heat_loss, ignition, knock, units
from engine_sim.physics.distributor import HOSE_ON, Weights
from engine_sim.physics.geometry import CylinderGeometry
from graders.exercises.kinds import own_engine
from tests.every_case import check_every

EXAMPLES = 300
CHANGES = (1.2, 0.8)  # a formula that is off by so much must be noticed
RON, MON = 95.0, 85.0
DAY = Conditions(octane_ron=RON, octane_mon=MON)
TIRED = Wear(coil_left=0.33, plug_gap_mm=1.1, rotor_off_deg=9.0)
PORTED = Wear(advance_hose_on="ported")
SCREW_LIMITS = (0.3, 5.5)
COIL = ignition.Coil(3.0, 0.009)
WEIGHTS = Weights(0.02, 0.02, 0.015, 2000.0, 5.0, 0.0, 0.01, 20.0)


@functools.cache
def truck(wear: Wear = SOUND) -> Dynamics:
    """The delivery truck's engine, which runs."""
    return Dynamics(Engine(load_card(ENGINES / "delivery_truck_six.toml"), wear), DAY)


@functools.cache
def idle_table() -> IdleTable:
    """Its settled idles in a table."""
    return IdleTable(truck().engine, SCREW_LIMITS)


@pytest.fixture(autouse=True, scope="module")
def built():
    """Everything that is kept is made before a test changes a formula."""
    for wear in (SOUND, TIRED, PORTED):
        truck(wear).weights.at(0.0)
    WEIGHTS.at(0.0)
    idle_table()


def motion_at(vacuum_inhg: float) -> Motion:
    """A warm engine at that vacuum."""
    return Motion(80.0, truck().ambient_pa - 3386.389 * vacuum_inhg, 85.0)


def hose_on(throttle: float = 0.0, base_deg: float = 0.0) -> ControlInputs:
    """The adjustments, with the advance hose on."""
    return ControlInputs(base_deg, 1.9, throttle=throttle, vacuum_hose=HOSE_ON, ignition=True)


# ---- how each form is asked ------------------------------------------------------------------------------------------


def octane_felt(speed_rpm: float) -> float:
    """The fuel's octane number in a running engine."""
    motion = motion_at(10.0)
    truck()._listen(motion, 0.0, speed_rpm)
    return motion.octane_margin + motion.octane_required


def octane_asked(integral_100: float) -> float:
    """The octane number that a running engine asks for."""
    motion = motion_at(10.0)
    truck()._listen(motion, math.log(integral_100), 1500.0)
    return motion.octane_required


def canister(wear: Wear, vacuum_inhg: float, throttle: float) -> float:
    """Advance of the vacuum unit of a running engine."""
    return truck(wear)._canister(motion_at(vacuum_inhg), hose_on(throttle))


def canister_of_arrays(share, vacuum_inhg: float, throttle: float) -> float:
    """The same from its start, its end and its degrees."""
    card = truck().engine.card.vacuum_advance
    signal = vacuum_inhg * share(throttle)
    return distributor.vacuum_advance_deg(signal, card.start_inhg, card.full_inhg, card.degrees)


def advance(wear: Wear, base_deg: float, speed_rpm: float, vacuum_inhg: float, throttle: float) -> float:
    """Total advance of a running engine."""
    return truck(wear)._spark(motion_at(vacuum_inhg), hose_on(throttle, base_deg), speed_rpm)


def advance_of_arrays(wear: Wear, base_deg: float, speed_rpm: float, vacuum_inhg: float, throttle: float) -> float:
    """The same as settled states have it."""
    return truck(wear).engine.advance_deg(base_deg, speed_rpm, vacuum_inhg, throttle, HOSE_ON)


def flow(area_mm2: float, ratio: float) -> float:
    """Air through the throttle of a running engine [g/s]."""
    return 1e3 * truck()._throttle_flow(area_mm2 * 1e-6, ratio * truck().ambient_pa)[0]


def flow_of_arrays(area_mm2: float, ratio: float) -> float:
    """The same as an isentropic orifice [g/s]."""
    outside = truck().ambient_pa
    return 1e3 * breathing.throttle_flow_kg_s(area_mm2 * 1e-6, outside, truck().ambient_k, ratio * outside)


def flow_slope(ratio: float) -> float:
    """Change of that flow with the pressure ratio [g/s], for 100 mm2."""
    return 1e3 * truck().ambient_pa * truck()._throttle_flow(1e-4, ratio * truck().ambient_pa)[1]


def flow_slope_of_arrays(ratio: float) -> float:
    """The same by differences."""
    return (flow_of_arrays(100.0, ratio + 1e-6) - flow_of_arrays(100.0, ratio - 1e-6)) / 2e-6


def missed_of_arrays(dwell_deg: float, speed_rpm: float, cylinder_kpa: float, gap_mm: float) -> float:
    """Share of sparks that fail, by the coil's energy and the gap."""
    available = COIL.available_kv(ignition.coil_on_time_s(dwell_deg, speed_rpm))
    return ignition.missed_share(available, ignition.needed_kv(cylinder_kpa * 1e3, gap_mm))


def missed_at(dwell_deg: float, speed_rpm: float, cylinder_kpa: float, gap_mm: float) -> float:
    """The same for one moment."""
    return ignition.missed_at(COIL, dwell_deg, speed_rpm, cylinder_kpa * 1e3, gap_mm, ignition.RUNNING_VOLT)


def sparks_missed(speed_rpm: float, vacuum_inhg: float, spark_deg: int, dwell_deg: float) -> float:
    """Share of sparks that fail in a running engine with a tired coil and a rotor that is off."""
    inputs = hose_on()
    inputs.dwell_deg = dwell_deg
    return truck(TIRED)._missed(motion_at(vacuum_inhg), inputs, speed_rpm, float(spark_deg))


def sparks_missed_of_arrays(speed_rpm: float, vacuum_inhg: float, spark_deg: int, dwell_deg: float) -> float:
    """The same from coil, compression and rotor."""
    tired = truck(TIRED)
    geometry, closing = tired.engine.setup.geometry, np.deg2rad(tired.engine.setup.intake_closes_deg)
    squeeze = geometry.volume_m3(closing) / geometry.volume_m3(np.deg2rad(spark_deg))
    pressure = motion_at(vacuum_inhg).manifold_pa * squeeze**cycle.COMPRESSION_EXPONENT
    available = tired.coil.available_kv(ignition.coil_on_time_s(dwell_deg, speed_rpm))
    missed = ignition.missed_share(available, ignition.needed_kv(pressure, TIRED.plug_gap_mm))
    moved = 0.5 * canister_of_arrays(lambda throttle: 1.0, vacuum_inhg, 0.0)
    return max(missed, distributor.rotor_miss_share(TIRED.rotor_off_deg + moved))


def ignition_rate(kilopascal: float, kelvin: float) -> float:
    """One over the ignition delay of octane 100, as the cycle has it [1/s]."""
    return cycle._ignition_rate(math.log(kilopascal * 1e3), kelvin)


def wall_heat(kilopascal: float, kelvin: float, step: int) -> float:
    """Heat to the walls in one step of the cycle [J]."""
    return float(_cylinder()[0](step, np.array([kilopascal * 1e3]), np.array([kelvin]))[0])


def wall_heat_of_arrays(kilopascal: float, kelvin: float, step: int) -> float:
    """The same by the coefficient, the surface and the step's time."""
    loss, setup = _cylinder()
    motored_pa = loss.motored[0] * loss.volume[step] ** -cycle.COMPRESSION_EXPONENT
    speed = loss.piston[0] + loss.combustion[0] * max(kilopascal * 1e3 - motored_pa, 0.0) * 1e3
    coefficient = heat_loss.woschni_w_m2_k(setup.geometry.bore_m, kilopascal, kelvin, speed)
    return float(coefficient * loss.area[step] * loss.step_s[0] * (kelvin - setup.wall_k))


def _cylinder():
    setup = truck().engine.setup
    charge = cycle.trapped_charge(
        setup,
        *(np.array([value]) for value in (2000.0, 80e3, 25.0, 102e3, 305.0, 1.0, 0.0)),
    )
    angles = np.deg2rad(cycle.crank_angles_deg(setup, 2.0))
    volume, surface = setup.geometry.volume_m3(angles), setup.geometry.surface_m2(angles)
    return cycle._WallLoss(setup, charge, volume, surface, 2.0), setup


def displacement_on_the_card(bore_mm: float, stroke_mm: float, cylinders: int) -> float:
    """Displacement as the nameplate has it [litres]."""
    block = SimpleNamespace(bore_mm=bore_mm, stroke_mm=stroke_mm, cylinders=cylinders)
    return EngineCard.displacement_l.fget(SimpleNamespace(block=block))


def displacement_of_geometry(bore_mm: float, stroke_mm: float, cylinders: int) -> float:
    """Displacement as the cycle has it [litres]."""
    return 1e3 * cylinders * CylinderGeometry(bore_mm / 1e3, stroke_mm / 1e3, 8.0, 3.4).swept_volume_m3


def displacement_of_an_owner(bore_mm: float, stroke_mm: float, cylinders: int) -> float:
    """Displacement as the card of a learner's own engine has it [litres]."""
    card = {"bore": (bore_mm, "mm"), "stroke": (stroke_mm, "mm"), "cylinders": str(cylinders)}
    return own_engine.swept_l(card)


def mixture_turned(shift: float) -> float:
    """The shift of the mixture at the turns to which a fault sets the screw for it."""
    card = truck().engine.card
    return engine_module.mixture_shift(card, faults._screw(card, shift))


def idle_of_the_table(timing_deg: float, screw: float) -> tuple[float, float]:
    """Settled speed [rpm] and vacuum [inHg] out of the table."""
    return idle_table().settled(timing_deg, screw)


def idle_of_the_engine(timing_deg: float, screw: float) -> tuple[float, float]:
    """The same by the torque's balance."""
    state = truck().engine.idle(timing_deg, screw, slot=False)
    return float(state.speed_rpm), float(state.manifold_vacuum_inhg)


# ---- the pairs -------------------------------------------------------------------------------------------------------


def between(low: float, high: float):
    """Any number between two ends, the ends among them."""
    return st.floats(low, high, allow_nan=False)


@dataclass(frozen=True)
class Pair:
    """Two forms of one formula over the domain of their arguments. `by_hand` are points with their worked-out values,
    `forms` the functions of which a change must be noticed, `constants` those of both forms, by name."""

    domain: tuple
    fast: Callable
    slow: Callable
    by_hand: dict[tuple, float] = field(default_factory=dict)
    forms: tuple[tuple[object, str], ...] = ()
    constants: tuple[str, ...] = ()
    rel: float = 1e-11
    abs: float = 1e-12
    examples: int = EXAMPLES

    def compare(self) -> None:
        """Fail where the two forms differ at any point of the domain."""

        @settings(
            max_examples=self.examples,
            derandomize=True,
            database=None,
            deadline=None,
            phases=[Phase.generate],
        )
        @given(st.tuples(*self.domain))
        def same(point):
            assert self.fast(*point) == pytest.approx(self.slow(*point), rel=self.rel, abs=self.abs), point

        same()

    def meet_by_hand(self) -> None:
        """Fail where either form leaves what was worked out by hand, to four digits."""
        for point, value in self.by_hand.items():
            assert [float(self.fast(*point)), float(self.slow(*point))] == pytest.approx([value] * 2, rel=5e-4), point


TWO_FORMS = {
    "octane a running engine feels": Pair(
        (between(0.0, 6500.0),),
        octane_felt,
        lambda rpm: truck().engine.fuel_octane(DAY, rpm),
        {(900.0,): 95.0, (2500.0,): 92.5, (3250.0,): 91.25, (4000.0,): 90.0, (6000.0,): 90.0},
        ((fuel, "octane_in_use"), (dynamics, "octane_in_use_at")),
        ("MON_WEIGHT_WHEN_FAST", "RON_ALONE_UP_TO_RPM", "AS_THE_PUMP_SAYS_FROM_RPM"),
    ),
    "octane an engine asks for": Pair(
        (between(1e-6, 50.0),),
        octane_asked,
        lambda integral_100: knock.octane_required(integral_100),
        # 91.25 and six tenths of what 100, and 100 times or over 2 to the power of 1/3.402, are above 92
        {(1.0,): 96.05, (0.5,): 84.990, (2.0,): 109.61},
        ((knock, "octane_required"), (dynamics, "octane_required_at")),
        ("OCTANE_EXPONENT", "ANCHOR_FORMULA", "ANCHOR_OCTANE", "OCTANE_PER_FORMULA"),
    ),
    "ignition delay": Pair(
        (between(100.0, 9000.0), between(350.0, 1200.0)),
        ignition_rate,
        lambda kilopascal, kelvin: 1.0 / knock.ignition_delay_100_s(kilopascal * 1e3, kelvin),
        {(4053.0, 900.0): 438.86},  # 17.68 ms times 40^-1.7 exp(3800/900) is 2.2786 ms
        ((cycle, "_ignition_rate"), (knock, "ignition_delay_100_s")),
        ("COEFFICIENT_MS", "PRESSURE_EXPONENT", "ACTIVATION_K"),
    ),
    "ping": Pair(
        (between(-4.0, 4.0),),
        lambda margin: knock.ping_share(margin),
        lambda margin: NormalDist(0.0, knock.CYCLE_SPREAD_OCTANE).cdf(-margin),
        {(0.0,): 0.5, (0.8,): 0.158655, (-0.8,): 0.841345},  # one standard deviation either way
        ((knock, "ping_share"),),
        ("CYCLE_SPREAD_OCTANE",),
    ),
    "vacuum advance": Pair(
        (between(0.0, 25.0), between(0.0, 1.0)),
        functools.partial(canister, SOUND),
        functools.partial(canister_of_arrays, lambda throttle: 1.0),
        {(10.5, 0.0): 8.0, (8.25, 0.3): 4.0, (20.0, 0.0): 16.0},  # 16 degrees from 6 to 15 inHg
        ((distributor, "vacuum_advance_deg"), (Dynamics, "_canister")),
    ),
    "vacuum advance on a port": Pair(
        (between(0.0, 25.0), between(0.0, 0.12)),
        functools.partial(canister, PORTED),
        lambda vacuum, throttle: canister_of_arrays(distributor.ported_share, vacuum, throttle),
        {(21.0, 0.05): 8.0, (20.0, 0.06): 13.0370, (16.5, 0.065): 11.3333},  # the port is open from 0.02 to 0.08
        ((distributor, "ported_share"), (Dynamics, "_canister")),
        ("PORT_UNCOVERED_FROM", "PORT_UNCOVERED_AT"),
    ),
    "advance of the weights": Pair(
        (between(0.0, 7000.0),),
        lambda rpm: WEIGHTS.at(rpm),
        lambda rpm: float(WEIGHTS.advance_deg(rpm)),
        # at 2,000 rpm 438.65 N/m of centrifugal force, (8.7730 - 5) N / 1561.35 N/m of travel on 15 mm of lever
        {(1000.0,): 0.0, (2000.0,): 18.4606, (3000.0,): 20.0},
        ((Weights, "at"), (Weights, "advance_deg")),
        abs=0.02,
    ),
    "total advance": Pair(
        (between(-10.0, 40.0), between(0.0, 6500.0), between(0.0, 25.0), between(0.0, 0.2)),
        functools.partial(advance, SOUND),
        functools.partial(advance_of_arrays, SOUND),
        {(8.0, 6000.0, 10.5, 0.1): 40.0},  # 8 by hand, 24 by the weights, 8 by the vacuum unit
        ((Dynamics, "_spark"), (Engine, "advance_deg")),
        abs=0.05,
    ),
    "throttle flow": Pair(
        (between(1.0, 500.0), between(0.05, 1.0)),
        flow,
        flow_of_arrays,
        # choked 239.17 kg/s on a square metre; at 0.9 of the pressure outside (7 (0.86027 - 0.83475))^(1/2) = 0.42258
        {(100.0, 0.3): 23.917, (100.0, 0.9): 14.761},
        ((Dynamics, "_throttle_flow"), (Dynamics, "_relative_flow"), (breathing, "throttle_flow_kg_s")),
        ("GAMMA_AIR", "FLOW_LINEAR_ABOVE", "GAS_CONSTANT_AIR_J_KG_K"),
        abs=1e-9,
    ),
    "slope of the throttle flow": Pair(
        (between(0.54, 0.99),),
        flow_slope,
        flow_slope_of_arrays,
        {},
        ((Dynamics, "_throttle_flow"), (breathing, "flow_function")),
        rel=0.02,
        abs=1e-4,
    ),
    "converter of a standing vehicle": Pair(
        (between(0.0, 6000.0),),
        lambda rpm: converter.slip(truck().capacity_nm_s2, units.rad_s_from_rpm(rpm), 0.0)[0],
        lambda rpm: truck().engine.load_torque_nm(rpm, "drive"),
        {(1000.0,): 55.0, (2000.0,): 220.0},  # as the truck's card has it, and as speed squared
        ((converter, "slip"), (Engine, "load_torque_nm")),
    ),
    "sparks that fail": Pair(
        (between(1.0, 60.0), between(0.0, 6000.0), between(20.0, 2000.0), between(0.4, 1.6)),
        missed_at,
        missed_of_arrays,
        # 0.58333 ms give 0.77751 A and 4.9730 kV; the gap needs 3 + 0.88 * 8.8823 = 10.816 kV
        {(7.0, 4000.0, 900.0, 0.8): 0.73043, (35.0, 800.0, 300.0, 0.8): 0.0},
        ((ignition, "missed_at"), (ignition, "missed_share"), (ignition, "needed_kv"), (ignition, "coil_on_time_s")),
        (
            "FAILS_OVER_KV",
            "NEEDED_AT_REST_KV",
            "NEEDED_KV_PER_MM_ATM",
            "SECONDARY_PICOFARAD",
            "STORED_THAT_ARRIVES",
            "RUNNING_VOLT",
        ),
    ),
    "sparks that fail in a running engine": Pair(
        (between(100.0, 6000.0), between(0.0, 22.0), st.integers(-14, 71), between(2.0, 60.0)),
        sparks_missed,
        sparks_missed_of_arrays,
        {},
        ((Dynamics, "_missed"), (distributor, "rotor_miss_share"), (ignition, "needed_kv")),
        ("COMPRESSION_EXPONENT",),
        rel=1e-9,
    ),
    "heat to the walls": Pair(
        (between(50.0, 6000.0), between(300.0, 2800.0), st.integers(0, 100)),
        wall_heat,
        wall_heat_of_arrays,
        {},
        ((cycle._WallLoss, "__call__"), (heat_loss, "woschni_w_m2_k")),
        rel=1e-9,
    ),
    "the map": Pair(
        (between(250.0, 6000.0), between(12e3, 1.03e5), between(-14.0, 71.0)),
        lambda *point: truck().map.at_point(*point),
        lambda *point: [float(truck().map.at(*point, name)) for name in QUANTITIES],
        {},
        ((ResponseMap, "at_point"), (ResponseMap, "at")),
        rel=1e-9,
    ),
    "the map's air": Pair(
        (between(250.0, 6000.0), between(12e3, 1.03e5)),
        lambda rpm, pascal: 1e3 * float(truck().map.air_at(np.array([rpm]))(np.array([pascal]))[0]),
        lambda rpm, pascal: 1e3 * float(truck().map.at(rpm, pascal, 10.0, "air_kg")),
        {},
        ((ResponseMap, "at"),),
        rel=1e-6,
    ),
    "displacement": Pair(
        (between(50.0, 130.0), between(50.0, 130.0), st.sampled_from((4, 6, 8))),
        displacement_on_the_card,
        displacement_of_geometry,
        {(100.0, 80.0, 4): 2.51327},  # 0.8 pi
    ),
    "displacement of a learner's own engine": Pair(
        (between(50.0, 130.0), between(50.0, 130.0), st.sampled_from((4, 6, 8))),
        displacement_of_an_owner,
        displacement_of_geometry,
        {(100.0, 80.0, 4): 2.51327},
        ((own_engine, "swept_l"),),
    ),
    "mixture screw": Pair(
        (between(-0.35, 0.35),),
        mixture_turned,
        lambda shift: shift,
        {},
        ((engine_module, "mixture_shift"), (faults, "_screw")),
        abs=0.25 / 16 + 1e-9,  # the screw is set to an eighth of a turn, of 0.25 each
    ),
    "settled idle": Pair(
        (between(-6.0, 40.0), between(2.0, 5.0)),  # away from where it stalls, where the table has no neighbours
        idle_of_the_table,
        idle_of_the_engine,
        {},
        ((IdleTable, "settled"), (Engine, "idle")),
        rel=0.005,
        examples=40,
    ),
}


@pytest.mark.parametrize("name", TWO_FORMS)
def test_both_forms_are_one_formula(name):
    """Over the whole domain the plain form gives what the array form gives."""
    TWO_FORMS[name].compare()


@pytest.mark.parametrize("name", TWO_FORMS)
def test_both_forms_meet_what_was_worked_out_by_hand(name):
    """Both forms give the values that were worked out by hand, so that a constant of both cannot move unseen."""
    TWO_FORMS[name].meet_by_hand()


def test_charges_ping_as_often_as_the_share_says():
    """Of the single charges of a running engine as many ping as `ping_share` says, at three margins of the fuel, within
    four standard deviations of the count."""
    for margin in (-0.6, 0.0, 0.8):
        share, count = knock.ping_share(margin), 4000
        assert pinging(margin, count) == pytest.approx(share, abs=4.0 * math.sqrt(share * (1.0 - share) / count))


def pinging(margin_octane: float, charges: int) -> float:
    """Share of single charges that ping at a margin of the fuel."""
    ripple, motion = Ripple(truck(), seed=5), motion_at(4.0)
    motion.burning, motion.octane_margin = 1.0, margin_octane
    for number in range(charges):
        ripple._begin_turn(number, motion, hose_on())
    return len(ripple.take_pings()) / charges


# ---- each comparison can fail ----------------------------------------------------------------------------------------


def scaled(function, by: float):
    """The same function, of which every number that it gives is off by that factor."""

    @functools.wraps(function)
    def off(*arguments, **named):
        value = function(*arguments, **named)
        if isinstance(value, list | tuple):
            return type(value)(by * one for one in value)
        if hasattr(value, "speed_rpm"):
            return SimpleNamespace(speed_rpm=by * value.speed_rpm, manifold_vacuum_inhg=by * value.manifold_vacuum_inhg)
        return by * value

    return off


def homes_of(constant: str) -> list:
    """Every module of the engine that holds this constant: what an edit of its one definition would change."""
    return [
        module
        for name, module in sorted(sys.modules.items())
        if name.startswith("engine_sim.") and constant in vars(module)
    ]


@pytest.mark.parametrize("name", [name for name, pair in TWO_FORMS.items() if pair.forms])
def test_one_form_changed_is_noticed(name):
    """One form that is off by 20 % no longer agrees with the other."""

    def check(owner, attribute, by):
        found = vars(owner)[attribute]
        changed = scaled(found.__func__ if isinstance(found, staticmethod) else found, by)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(owner, attribute, staticmethod(changed) if isinstance(found, staticmethod) else changed)
            with pytest.raises(AssertionError):
                TWO_FORMS[name].compare()

    forms = [(*form, by) for form in TWO_FORMS[name].forms for by in CHANGES]
    check_every(check, ((f"{attribute} times {by}", owner, attribute, by) for owner, attribute, by in forms))


@pytest.mark.parametrize("name", [name for name, pair in TWO_FORMS.items() if pair.constants])
def test_a_constant_of_both_forms_changed_is_noticed(name):
    """A constant that is off by 20 % wherever it is used leaves the values worked out by hand, or parts the forms."""

    def check(constant, by):
        homes = homes_of(constant)
        assert homes
        with pytest.MonkeyPatch.context() as patch:
            for module in homes:
                patch.setattr(module, constant, by * getattr(module, constant))
            with pytest.raises((AssertionError, ValueError)):  # a form may also leave what a root can be taken of
                TWO_FORMS[name].meet_by_hand()
                TWO_FORMS[name].compare()

    constants = [(constant, by) for constant in TWO_FORMS[name].constants for by in CHANGES]
    check_every(check, ((f"{constant} times {by}", constant, by) for constant, by in constants))


@pytest.mark.parametrize("by", CHANGES)
def test_pinging_charges_changed_are_noticed(monkeypatch, by):
    """Charges that scatter 20 % more or less than the share of pinging cycles assumes are noticed."""
    monkeypatch.setattr(cylinder_ripple, "CYCLE_SPREAD_OCTANE", by * knock.CYCLE_SPREAD_OCTANE)
    with pytest.raises(AssertionError):
        test_charges_ping_as_often_as_the_share_says()
