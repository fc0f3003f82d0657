"""Any engine that a card may describe, at any state for which the model is valid, gives numbers that can be."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest
from hypothesis import given, seed, settings, strategies as st

from course import ENGINES
from engine_sim import CardError, Conditions, CylinderWear, Engine, OutsideValidity, Wear
from engine_sim.model.card import LEAST_CONVERTER_DRAG_NM, EngineCard, card_from
from engine_sim.model.cycle import CycleTrace
from engine_sim.model.cylinder_ripple import Ripple
from engine_sim.model.dynamics import ControlInputs, Dynamics

TRUCK = tomllib.loads((ENGINES / "delivery_truck_six.toml").read_text(encoding="utf-8"))
SPEEDS, PRESSURES, SPARKS = (200.0, 6000.0), (8e3, 115e3), (-30.0, 80.0)
COLDEST_K, HOTTEST_K, STRONGEST_PA = 150.0, 4000.0, 40e6
EXAMPLES = 60


def limits() -> dict[tuple[str, str], tuple[float, float]]:
    """Section and name of every numeric field of a card, with its least and greatest value."""
    found = {}
    for section, outer in EngineCard.model_fields.items():
        for name, inner in outer.annotation.model_fields.items():
            least = [item.ge for item in inner.metadata if hasattr(item, "ge")]
            most = [item.le for item in inner.metadata if hasattr(item, "le")]
            if least and most:
                found[section, name] = (least[0], most[0])
    return found


LIMITS = limits()


@st.composite
def engines(draw) -> Engine:
    """An engine whose card holds any allowed number in any of its fields; a card at odds with itself is drawn again."""
    content = {section: dict(fields) for section, fields in TRUCK.items()}
    for (section, name), (low, high) in LIMITS.items():
        whole = isinstance(TRUCK[section][name], int)
        ends = [int(end) if whole else float(end) for end in (low, high)]
        content[section][name] = draw((st.integers(*ends) if whole else st.floats(*ends)) | st.sampled_from(ends))
    content["block"]["cylinders"] = draw(st.sampled_from([4, 6, 8]))
    canister = content["vacuum_advance"]
    canister["start_inhg"] = min(canister["start_inhg"], 0.9 * canister["full_inhg"])
    train = content["drive"]
    train["converter_drag_nm_at_1000_rpm"] = max(train["converter_drag_nm_at_1000_rpm"], LEAST_CONVERTER_DRAG_NM)
    train["low_gear_ratio"] = max(train["low_gear_ratio"], 1.1 * train["middle_gear_ratio"])
    content["breathing"]["loss_at_10_m_s"] = min(content["breathing"]["loss_at_10_m_s"], 0.08)
    return Engine(card_from(content))


def within(limit) -> st.SearchStrategy[float]:
    """Any number in a range, its ends more often than chance would have it."""
    return st.floats(*limit) | st.sampled_from(limit)


@settings(max_examples=EXAMPLES, deadline=None, derandomize=True)
@given(
    engine=engines(),
    points=st.lists(st.tuples(within(SPEEDS), within(PRESSURES), within(SPARKS)), min_size=1, max_size=12),
)
def test_no_nonsense_inside_the_range(engine, points):
    """Every result is a number; pressure and temperature stay positive and below what metal has ever held; burned
    fraction and residual gas stay between nothing and all."""
    trace, columns = CycleTrace(), np.array(points).T
    with np.errstate(divide="raise", invalid="raise", over="raise"):
        result = engine.run_cycle(*columns, trace=trace)
    for name, values in vars(result).items():
        assert np.isfinite(values).all(), name
    assert trace.pressure_pa.min() > 0.0 and trace.pressure_pa.max() < STRONGEST_PA
    assert result.exhaust_k.min() > COLDEST_K and result.exhaust_k.max() < HOTTEST_K
    assert trace.burned.min() >= 0.0 and trace.burned.max() <= 1.0 and np.all(np.diff(trace.burned, axis=0) >= 0.0)
    assert np.all((result.residual_fraction > 0.0) & (result.residual_fraction <= 0.45))
    assert np.all((result.misfire >= 0.0) & (result.misfire <= 1.0)) and np.all(result.integral_100 >= 0.0)


@settings(max_examples=EXAMPLES, deadline=None, derandomize=True)
@given(engine=engines(), speed=within(SPEEDS), pressure=within((20e3, 85e3)))
def test_more_pressure_is_more_air(engine, speed, pressure):
    """A manifold fuller by a third never puts less air into the cylinder, however much richer the jets make it."""
    result = engine.run_cycle(np.array([speed, speed]), np.array([pressure, 1.33 * pressure]), 10.0)
    assert result.air_kg[1] > result.air_kg[0]


@settings(max_examples=20, deadline=None, derandomize=True)
@given(engine=engines(), excess=st.floats(1e-6, 1e6), side=st.sampled_from([0, 1]), which=st.sampled_from([0, 1, 2, 3]))
def test_outside_the_range_is_refused(engine, excess, side, which):
    """Speed, pressure, spark or octane beyond either end is refused with the quantity's name and range."""
    names = ("speed_rpm", "manifold_pressure_kpa", "spark_deg_btdc", "octane_ron")
    ranges = ((200.0, 6000.0), (8.0, 115.0), (-30.0, 80.0), (40.0, 130.0))
    arguments = [1000.0, 60.0, 20.0, 91.0]
    arguments[which] = ranges[which][side] + (excess if side else -excess)
    with pytest.raises(OutsideValidity, match=f"{names[which]} is valid from"):
        engine.operating_points(*arguments)


@pytest.mark.parametrize("which", range(4))
def test_no_number_is_refused(engine, which):
    """NaN and infinity are outside every range."""
    for value in (float("nan"), float("inf")):
        arguments = [1000.0, 60.0, 20.0, 91.0]
        arguments[which] = value
        with pytest.raises(OutsideValidity):
            engine.operating_points(*arguments)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(field=st.sampled_from(sorted(LIMITS)), excess=st.floats(1e-6, 1e9), above=st.booleans())
def test_a_card_outside_its_limits_is_refused(field, excess, above):
    """Any numeric field beyond either limit is refused by name."""
    section, name = field
    low, high = LIMITS[field]
    content = {part: dict(fields) for part, fields in TRUCK.items()}
    content[section][name] = high + excess if above else low - excess
    with pytest.raises(CardError, match=rf"{section}\.{name} is "):
        card_from(content)


# ---- which way things go, on the truck ----------------------------------------------------------------------------


def test_gradients_of_the_cycle(engine):
    """More load and more advance raise peak pressure and knock integral; a later spark burns later and hotter out."""
    pressure = engine.run_cycle(np.full(4, 2000.0), np.array([40e3, 60e3, 80e3, 97e3]), 20.0)
    spark = engine.run_cycle(np.full(4, 2000.0), 80e3, np.array([5.0, 15.0, 25.0, 35.0]))
    for result in (pressure, spark):
        assert np.all(np.diff(result.peak_pressure_pa) > 0) and np.all(np.diff(result.integral_100) > 0)
    assert np.all(np.diff(pressure.imep_pa) > 0) and np.all(np.diff(pressure.residual_fraction) < 0)
    assert np.all(np.diff(spark.burned_50_deg_atdc) < 0) and np.all(np.diff(spark.exhaust_k) < 0)


def test_a_thin_charge_burns_slowly(engine):
    """At idle the charge takes longer to burn than under load, and wants more advance."""
    spark = np.arange(0.0, 60.0, 0.5)
    idle = engine.run_cycle(np.full(spark.size, 800.0), 37e3, spark)
    load = engine.run_cycle(np.full(spark.size, 800.0), 95e3, spark)
    at = spark.tolist().index(10.0)
    assert idle.development_deg[at] > load.development_deg[at] and idle.rapid_deg[at] > load.rapid_deg[at]
    assert spark[np.argmax(idle.imep_pa)] > spark[np.argmax(load.imep_pa)] + 5


def test_gradients_of_the_idle(engine):
    """From late towards the peak the idle runs faster and draws more vacuum; opening the screw does the first and
    undoes the second; height and cold oil take from both."""
    timing = engine.idle([0.0, 8.0, 16.0, 24.0], 2.3)
    assert np.all(np.diff(timing.speed_rpm) > 0) and np.all(np.diff(timing.manifold_vacuum_inhg) > 0)
    screw = engine.idle(8.0, [1.5, 2.5, 3.4])
    assert np.all(np.diff(screw.speed_rpm) > 0)
    sea, high = engine.idle(8.0, 2.3), engine.idle(8.0, 2.3, altitude_ft=5000.0)
    assert high.speed_rpm < sea.speed_rpm and high.manifold_vacuum_inhg < sea.manifold_vacuum_inhg
    cold = engine.idle(8.0, 2.3, coolant_c=20.0)
    assert cold.stalls or cold.speed_rpm < sea.speed_rpm


def test_the_margin_is_consistent_with_the_requirement(engine):
    """Advanced by the margin in degrees, the requirement meets the fuel within a quarter of an octane number."""
    speeds = [1000.0, 1300.0, 1600.0]
    points = engine.operating_points(speeds, 95.0, 12.0, 91.0)
    assert np.all(np.abs(points.knock_margin_deg) < 30)
    moved = engine.operating_points(speeds, 95.0, 12.0 + points.knock_margin_deg, 91.0)
    assert moved.octane_required_ron == pytest.approx(np.full(3, 91.0), abs=0.25)
    assert np.all(np.sign(points.knock_margin_deg) == np.sign(points.knock_margin_octane))


def test_conditions_reach_the_cycle(engine):
    """A hot day thins the charge; thin air up a hill lowers the exhaust's pressure and with it the residual gas."""
    hot = engine.run_cycle(np.array([2000.0]), 80e3, 20.0, Conditions(ambient_c=40.0))
    cold = engine.run_cycle(np.array([2000.0]), 80e3, 20.0, Conditions(ambient_c=0.0))
    high = engine.run_cycle(np.array([2000.0]), 60e3, 20.0, Conditions(altitude_ft=5000.0))
    low = engine.run_cycle(np.array([2000.0]), 60e3, 20.0)
    assert hot.air_kg < cold.air_kg and high.residual_fraction < low.residual_fraction


# ---- the engine in time ---------------------------------------------------------------------------------------------


@st.composite
def healths(draw) -> Wear:
    """Any state of wear, mild or gross, alone or together."""
    cylinders = tuple(
        (
            place,
            CylinderWear(
                draw(st.floats(0.0, 0.9)),
                draw(st.sampled_from(["crankcase", "exhaust", "intake"])),
                draw(st.floats(0.0, 1.0)),
                draw(st.floats(0.0, 1.0)),
                draw(st.floats(0.0, 5e-6)),
            ),
        )
        for place in draw(st.sets(st.integers(0, 3), max_size=2))
    )
    return Wear(
        plenum_leak_m2=draw(st.floats(0.0, 6e-5)),
        crankcase_air_m2=draw(st.floats(-5e-7, 2e-5)),
        cylinders=cylinders,
        spring_left=draw(st.floats(0.1, 1.0)),
        canister_torn=draw(st.booleans()),
        valves_late_deg=draw(st.floats(0.0, 25.0)),
        compression_lost=draw(st.floats(0.0, 0.5)),
        exhaust_blocked=draw(st.floats(0.0, 2000.0)),
        shaft_play_deg=draw(st.floats(0.0, 10.0)),
        coil_left=draw(st.floats(0.05, 1.0)),
        rotor_off_deg=draw(st.floats(-25.0, 25.0)),
    )


IN_TIME = given(
    engine=engines(),
    wear=healths(),
    timing=st.floats(-60.0, 80.0),
    throttle=st.floats(0.0, 1.0),
    shift=st.floats(-0.48, 0.4),
    coupling=st.sampled_from(["neutral", "drive", "road", "brake"]),
)


def in_time(engine, wear, timing, throttle, shift, coupling):
    """Cranked, run and loaded with any setting and any wear, everything stays a number that can be."""
    worn = Engine(engine.card, wear)
    dynamics = Dynamics(worn, Conditions(ambient_c=15.0))
    ripple, motion = Ripple(dynamics, 1), dynamics.at_rest(40.0)
    inputs = ControlInputs(timing, 2.0, throttle, ignition=True, starter=True, mixture_shift=shift)
    for tick in range(250):
        inputs.starter = inputs.starter and motion.speed_rpm < 450.0 and tick < 150
        if tick == 180:
            inputs.coupling, inputs.brake_rpm = coupling, 1500.0
        dynamics.tick(motion, inputs)
        ripple.follow(motion, inputs)
        assert 0.0 <= motion.speed_rpm < 12_000.0 and 4e3 < motion.manifold_pa <= dynamics.ambient_pa + 1e-6
        assert -50.0 < motion.coolant_c <= 110.0 and np.isfinite(motion.torque_nm) and 0.0 <= motion.ping_rate <= 1.0
        assert np.isfinite(ripple.pressure_pa) and np.isfinite(ripple.speed_rad_s)


test_no_nonsense_in_time = settings(max_examples=10, deadline=None, derandomize=True)(IN_TIME(in_time))
test_no_further_nonsense_in_time = pytest.mark.further(
    seed(1)(settings(max_examples=25, deadline=None)(IN_TIME(in_time)))
)
