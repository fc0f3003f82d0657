"""An automatic: what its converter carries, how its engine stands in drive, pulls away, and shifts down and up."""

import itertools

import pytest

from course import ENGINES
from engine_sim import SEA_LEVEL_DAY, TICK_S, Conditions, Engine, OutsideValidity, load_card
from engine_sim.model.card import CardError, card_from
from engine_sim.model.dynamics import ControlInputs, Dynamics
from engine_sim.model.starting import under_way
from engine_sim.physics import converter
from engine_sim.physics.units import RPM_PER_RAD_S, rad_s_from_rpm
from engine_sim.workshop.road_check import shifted
from graders.bench.reference import reference_for
from tests.every_case import check_every

AUTOMATICS = ("delivery_truck_six", "hill_hauler_eight")
HOME = {"delivery_truck_six": Conditions(), "hill_hauler_eight": Conditions(5000.0)}
CAPACITY = 55.0 / rad_s_from_rpm(1000.0) ** 2  # takes 55 N m at 1,000 rpm


@pytest.fixture(scope="module", params=AUTOMATICS)
def engine(request):
    """Each of the workshop's automatics."""
    return Engine(load_card(ENGINES / f"{request.param}.toml"))


# ---- the converter alone ---------------------------------------------------------------------------------------------


def test_at_stall_it_doubles_the_torque_and_takes_it_as_speed_squared():
    """With the turbine held it takes 55 N m at 1,000 rpm and four times as much at 2,000, and gives back twice."""
    for rpm, torque_nm in ((1000.0, 55.0), (2000.0, 220.0)):
        taken, given, _ = converter.slip(CAPACITY, rad_s_from_rpm(rpm), 0.0)
        assert taken == pytest.approx(torque_nm) and given == pytest.approx(2.0 * torque_nm)


def test_from_the_coupling_point_on_it_gives_what_it_takes():
    """Torque ratio: 2 at stall, 1.43 at half the speed, 1 from a speed ratio of 0.87 on; worked out by hand."""
    assert converter.torque_ratio(0.5) == pytest.approx(2.0 - 0.5 / 0.87)
    assert converter.torque_ratio(0.869) > 1.0 == converter.torque_ratio(0.87) == converter.torque_ratio(1.0)


def test_it_never_gives_more_power_than_it_takes():
    """At no speed ratio does the turbine give more power than the pump takes; nine tenths at most."""
    efficiency = []
    for ratio in (place / 100.0 for place in range(1, 100)):
        taken, given, _ = converter.slip(CAPACITY, 200.0, 200.0 * ratio)
        efficiency.append(given * ratio / taken)
    assert max(efficiency[:87]) < 0.9 and max(efficiency) < 1.0
    assert efficiency[49] == pytest.approx(0.71, abs=0.01)  # at half speed, by hand


def test_a_turbine_that_runs_ahead_drives_the_engine():
    """At equal speeds it carries nothing; past them it carries as much the other way, with no jump and no gain."""
    assert converter.slip(CAPACITY, 150.0, 150.0)[:2] == (0.0, 0.0)
    ahead, behind = converter.slip(CAPACITY, 140.0, 150.0), converter.slip(CAPACITY, 150.0, 140.0)
    assert ahead[0] == ahead[1] == pytest.approx(-behind[0])
    assert converter.slip(CAPACITY, 0.0, 0.0) == (0.0, 0.0, 0.0)


def test_its_stiffness_is_the_slope_of_its_torque():
    """The slope against the pump's speed agrees with differences on both sides of equal speeds."""

    def slope(pump, turbine):
        here, there = (converter.slip(CAPACITY, pump + step, turbine)[0] for step in (-1e-4, 1e-4))
        assert converter.slip(CAPACITY, pump, turbine)[2] == pytest.approx((there - here) / 2e-4, rel=1e-4)

    pairs = ((200.0, 0.0), (200.0, 120.0), (200.0, 195.0), (150.0, 180.0), (30.0, 250.0))
    check_every(slope, ((f"{pump} {turbine}", pump, turbine) for pump, turbine in pairs))


# ---- the engine in drive ---------------------------------------------------------------------------------------------


def test_one_converter_gives_the_idle_in_drive_and_the_stall_speed(engine):
    """Neutral to drive where the method ends at home: 50 to 155 rpm and 1 to 3 inHg less; wide open from standing still
    at sea level 1,900 to 2,200 rpm. Common practice, no source."""
    home = HOME[engine.card.name]
    end = reference_for(engine.card, home).method
    stands = {
        gear: engine.idle(end.timing_deg, end.idle_setting, home.altitude_ft, gear=gear)
        for gear in ("neutral", "drive")
    }
    fall_rpm = float(stands["neutral"].speed_rpm - stands["drive"].speed_rpm)
    fall_inhg = float(stands["neutral"].manifold_vacuum_inhg - stands["drive"].manifold_vacuum_inhg)
    assert 50.0 <= fall_rpm <= 155.0 and 1.0 <= fall_inhg <= 3.0
    assert 1900.0 <= engine.stall_speed_rpm(end.timing_deg) <= 2200.0


SCREW = 2.0


class Pulled:
    """An automatic whose driver puts the throttle to the floor: speeds of crank and road, and gears, by tick."""

    def __init__(self, engine, seconds=14.0, shaft_rpm=0.0, throttle=1.0, shift=True):
        dynamics = Dynamics(engine, SEA_LEVEL_DAY)
        drive = engine.card.drive
        inputs = ControlInputs(engine.card.setting.label_base_timing_deg, SCREW, throttle, "on", ignition=True)
        inputs.coupling, inputs.gear_ratio = "road", drive.low_gear_ratio if not shaft_rpm else 1.0
        motion = dynamics.at_rest(85.0)
        motion.start = under_way()
        motion.speed_rad_s = rad_s_from_rpm(max(700.0, shaft_rpm))
        motion.shaft_rad_s = rad_s_from_rpm(shaft_rpm)
        motion.manifold_pa = 45e3
        self.rpm, self.shaft_rpm, self.ratio = [], [], []
        for _ in range(round(seconds / TICK_S)):
            dynamics.tick(motion, inputs)
            self.rpm.append(motion.speed_rpm)
            self.shaft_rpm.append(motion.shaft_rad_s * RPM_PER_RAD_S)
            if shift:
                before = inputs.gear_ratio
                inputs.gear_ratio = shifted(drive, before, inputs.throttle, self.shaft_rpm[-1])
                if inputs.gear_ratio != before:
                    motion.disturb()
            self.ratio.append(inputs.gear_ratio)

    def at(self, second):
        """Crank speed [rpm] at a second."""
        return self.rpm[round(second / TICK_S) - 1]


def test_a_pull_from_standing_still_begins_at_stall_speed(engine):
    """Wide open from standing still at sea level the engine is at 1,900 to 2,200 rpm within half a second, while the
    vehicle hardly moves. Common practice, no source."""
    pulled = Pulled(engine, seconds=1.0)
    assert 1900.0 <= pulled.at(0.5) <= 2200.0
    assert pulled.shaft_rpm[-1] * engine.card.drive.low_gear_ratio < 0.5 * pulled.at(1.0)


def test_it_shifts_up_by_speed(engine):
    """Throttle at the floor it goes up through its gears, each once, and no engine is turned past 4,000 rpm."""
    pulled = Pulled(engine, seconds=30.0)
    gears = [ratio for ratio, _ in itertools.groupby(pulled.ratio)]
    assert gears == [engine.card.drive.low_gear_ratio, engine.card.drive.middle_gear_ratio, 1.0]
    assert max(pulled.rpm) < 4000.0


def test_it_kicks_down_at_wide_open_throttle_and_not_before(engine):
    """From a roll half a throttle keeps the top gear; the floor takes the lower one, and later goes up again."""
    gears = {
        throttle: [ratio for ratio, _ in itertools.groupby(Pulled(engine, 30.0, 1100.0, throttle).ratio)]
        for throttle in (0.5, 1.0)
    }
    assert gears[0.5] == [1.0] and gears[1.0] == [engine.card.drive.middle_gear_ratio, 1.0]


def test_it_slips_while_it_drives(engine):
    """On a level road the engine turns one to ten per cent faster than its shaft; up a hill it slips more."""
    level = Pulled(engine, 20.0, 1800.0, 0.15, shift=False)
    assert 1.01 < level.rpm[-1] / level.shaft_rpm[-1] < 1.10
    pull = Pulled(engine, 1.0, 1100.0, 1.0, shift=False)
    assert pull.rpm[-1] / pull.shaft_rpm[-1] > 1.5


def test_the_step_does_not_ring_and_converges(engine):
    """At and near equal speeds, where the converter is stiffest, the crank settles without ringing, and a tick eight
    times as fine ends within a revolution."""

    def end(dt):
        dynamics = Dynamics(engine, SEA_LEVEL_DAY)
        inputs = ControlInputs(8.0, SCREW, 0.2, "off and plugged", ignition=True, coupling="road")
        motion = dynamics.at_rest(85.0)
        motion.start, motion.manifold_pa = under_way(), 60e3
        motion.speed_rad_s, motion.shaft_rad_s = rad_s_from_rpm(2300.0), rad_s_from_rpm(2400.0)
        speeds = []
        for _ in range(round(2.0 / dt)):
            motion.calm = 0
            dynamics.tick(motion, inputs, dt)
            speeds.append(motion.speed_rpm)
        return speeds

    coarse, fine = end(TICK_S), end(TICK_S / 8)
    assert coarse[-1] == pytest.approx(fine[-1], abs=1.0)
    turns = [after - before for before, after in itertools.pairwise(coarse[5:])]
    assert sum(one * other < 0.0 for one, other in itertools.pairwise(turns)) <= 2


# ---- cards and other vehicles ----------------------------------------------------------------------------------------


def test_a_gear_lever_has_no_stall_speed():
    """The runabout has no converter, and says so."""
    with pytest.raises(OutsideValidity, match="gear lever"):
        Engine(load_card(ENGINES / "farm_runabout_four.toml")).stall_speed_rpm(8.0)


def test_an_automatic_without_a_converter_is_refused():
    """A card of an automatic whose converter takes nothing is refused with a sentence that says what is wanted."""
    content = load_card(ENGINES / "delivery_truck_six.toml").model_dump()
    content["drive"]["converter_drag_nm_at_1000_rpm"] = 0.0
    with pytest.raises(CardError, match="5 or more"):
        card_from(content)


def test_a_low_gear_that_is_higher_than_the_middle_one_is_refused():
    """The low gear of an automatic has the larger ratio, or its card is refused."""
    content = load_card(ENGINES / "delivery_truck_six.toml").model_dump()
    content["drive"]["low_gear_ratio"] = content["drive"]["middle_gear_ratio"]
    with pytest.raises(CardError, match="larger number"):
        card_from(content)


def test_a_card_of_before_has_a_usual_low_gear():
    """A card that says nothing of its low gear is read, with the ratio of common practice."""
    content = load_card(ENGINES / "delivery_truck_six.toml").model_dump()
    del content["drive"]["low_gear_ratio"]
    assert card_from(content).drive.low_gear_ratio == 2.5
