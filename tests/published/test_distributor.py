"""What adds up to the moment of the spark: the distributor's own degrees, its weights, its canister."""

import numpy as np
import pytest

from engine_sim.physics import distributor
from tests.published.checks import Check
from tests.published.demo_engine import engine

CRUISE_RPM, CRUISE_INHG, CRUISE_THROTTLE = 2800.0, 16.0, 0.15

CHECKS = [
    Check("crank_per_distributor_degree", lambda: distributor.crank_deg(1.0)),
    Check("centrifugal_all_in", lambda: engine().advance_deg(0.0, 5000.0, 0.0)),
    Check("centrifugal_all_in_by", lambda: engine().weights.full_rpm),
    Check(
        "mechanical_advance_total",
        lambda: engine().advance_deg(engine().card.setting.label_base_timing_deg, 5000.0, 0.0),
    ),
    Check(
        "cruise_advance_total",
        lambda: engine().advance_deg(
            engine().card.setting.label_base_timing_deg, CRUISE_RPM, CRUISE_INHG, CRUISE_THROTTLE, "on"
        ),
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_distributor(check):
    """The truck's distributor lies where the trade's common practice has it."""
    check.must_agree()


def test_weights_balance_their_springs():
    """Nothing below the start, the stop above the end; between, the force of the weights is that of the springs."""
    weights, speeds = engine().weights, np.array([500.0, 1049.0, 1300.0, 1700.0, 2100.0, 2500.0, 2800.0, 5000.0])
    found = weights.advance_deg(speeds)
    assert found[:2] == pytest.approx([0.0, 0.0]) and found[-2:] == pytest.approx([weights.stop_deg] * 2)
    travel = np.array([weights.travel_m(degrees) for degrees in found[2:6]])
    pull = 2 * weights.mass_kg * (speeds[2:6] * np.pi / 60) ** 2 * (weights.radius_m + travel)
    second = weights.second_spring_n_m * np.maximum(travel - weights.second_slack_m, 0)
    assert pull == pytest.approx(weights.first_preload_n + weights.first_spring_n_m * travel + second, rel=1e-9)


def test_one_speed_as_many():
    """The table for one speed agrees with the balance within a twentieth of a degree."""
    speeds = np.linspace(0.0, 6500.0, 653)
    table = [engine().weights.at(speed) for speed in speeds]
    assert table == pytest.approx(engine().weights.advance_deg(speeds), abs=0.05)


def test_hose_takes_the_canister_in_and_out():
    """With the hose on, a manifold source adds the vacuum unit's degrees at idle; off and plugged, nothing."""
    on = engine().advance_deg(8.0, 800.0, 18.0, 0.0, "on")
    off = engine().advance_deg(8.0, 800.0, 18.0, 0.0, "off and plugged")
    assert off == 8.0 and on - off == engine().card.vacuum_advance.degrees


def test_canister_and_port():
    """The vacuum unit moves between its two vacuums; a ported one sees nothing at the stop, and all once uncovered."""
    canister = distributor.vacuum_advance_deg(np.array([3.0, 10.5, 20.0]), 6.0, 15.0, 16.0)
    assert canister == pytest.approx([0.0, 8.0, 16.0])
    assert distributor.ported_share(np.array([0.0, 0.05, 0.5])) == pytest.approx([0.0, 0.5, 1.0])


@pytest.mark.parametrize(("rotor_turns", "clockwise_is"), [("anticlockwise", 1), ("clockwise", -1)])
def test_against_the_rotor_is_advance(rotor_turns, clockwise_is):
    """Turning the body against the rotor advances, with it retards."""
    assert distributor.advance_sense(rotor_turns) == clockwise_is
