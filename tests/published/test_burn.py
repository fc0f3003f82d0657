"""Burned-fraction curve, laminar flame speed, and the ideal cycle that a burn without delay or loss comes to."""

from dataclasses import replace

import numpy as np
import pytest

from engine_sim import published
from engine_sim.model import cycle
from engine_sim.physics import burn, gas
from engine_sim.physics.geometry import CylinderGeometry
from tests.published.checks import Check

ATM = 101_325.0
CUBIC = 3  # m + 1


def flame(temperature_k, atmospheres, phi, residual=0.0):
    """Laminar flame speed [m/s] with the pressure in atmospheres, as the correlation has it."""
    return burn.laminar_flame_speed_m_s(temperature_k, atmospheres * ATM, phi, residual)


CHECKS = [
    Check("wiebe_a5_burned_at_half", lambda: burn.burned_fraction(0.5, CUBIC)),
    Check("wiebe_a5_burned_at_end", lambda: burn.burned_fraction(1.0, CUBIC)),
    *(
        Check(
            f"wiebe_{name}_progress_{percent}_percent",
            lambda a=a, percent=percent: burn.progress_at_fraction(percent / 100, CUBIC, a),
        )
        for name, a in (("a5", 5.0), ("a6908", 6.908))
        for percent in (10, 50, 90)
    ),
    Check("flame_speed_phi_1_0_298k_1atm", lambda: flame(298, 1, 1.0)),
    Check("flame_speed_phi_1_0_600k_10atm", lambda: flame(600, 10, 1.0)),
    Check("flame_speed_phi_1_0_700k_5atm_residual_25", lambda: flame(700, 5, 1.0, 0.25)),
    Check("flame_speed_phi_0_8_600k_10atm", lambda: flame(600, 10, 0.8)),
    Check("flame_speed_phi_1_2_600k_10atm", lambda: flame(600, 10, 1.2)),
    Check("flame_speed_phi_1_1_500k_5atm_residual_10", lambda: flame(500, 5, 1.1, 0.1)),
    Check("flame_speed_isooctane_298k", lambda: flame(298, 1, 1.0)),
    *(
        Check(f"residual_flame_factor_{percent:02d}", lambda percent=percent: burn.residual_flame_factor(percent / 100))
        for percent in (5, 10, 20, 25, 30)
    ),
    *(
        Check(f"otto_efficiency_gamma_1_{tail}", lambda tail=tail: ideal_efficiency(1 + tail / 100))
        for tail in (30, 35, 40)
    ),
]


def ideal_efficiency(gamma: float) -> float:
    """Efficiency of the model's own cycle when gamma is constant, walls take nothing and all burns at top centre."""
    geometry = CylinderGeometry(0.1, 0.1, 8.25, 3.5)
    setup = cycle.CylinderSetup(geometry, -180.0, 180.0, 0.3, 0.0, 7000.0, 2000.0, 430.0, heat_factor=0.0)
    with pytest.MonkeyPatch.context() as patch:
        for name in ("gamma_unburned", "gamma_burned"):
            patch.setattr(gas, name, lambda temperature_k: np.full_like(temperature_k, gamma))
        point = [np.array([x]) for x in (1500.0, 60e3, 0.25, ATM, 320.0, 1.0)]
        charge = replace(cycle.trapped_charge(setup, *point), duration_deg=np.array([0.5]), exponent=np.array([3.0]))
        march = cycle._march(setup, charge, cycle.crank_angles_deg(setup, 0.05))
    released = charge.heat_j * march.burned[-1]
    return float(march.work_j[0] / released[0])


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_burn(check):
    """The model gives the published number of Wiebe, Rhodes and Keck, Metghalchi and Keck, or the ideal cycle."""
    check.must_agree()


def test_exponent_and_duration_reproduce_both_burn_angles():
    """The closed form gives back the 0-10 % and 10-90 % angles that it was made from, for short and long burns."""
    for development, rapid in ((8.0, 15.0), (20.0, 30.0), (45.0, 60.0)):
        exponent, duration = burn.wiebe_exponent(development, rapid), burn.wiebe_duration_deg(development, rapid)
        ten, ninety = (duration * burn.progress_at_fraction(share, exponent) for share in (0.1, 0.9))
        assert ten == pytest.approx(development, rel=1e-12) and ninety - ten == pytest.approx(rapid, rel=1e-12)


def test_burn_angles_scale_as_hires_found():
    """Both burn angles grow as the cube root of speed times viscosity and as h/SL to two thirds; the rapid by B/h."""
    base = burn.burn_angle_deg(7000.0, 5.0, 1e-5, 0.02, 1.0)
    assert burn.burn_angle_deg(7000.0, 10.0, 4e-5, 0.02, 1.0) == pytest.approx(2 * base)
    assert burn.burn_angle_deg(7000.0, 5.0, 1e-5, 0.16, 1.0) == pytest.approx(4 * base)
    assert burn.burn_angle_deg(7000.0, 5.0, 1e-5, 0.02, 1.0, bore_m=0.1) == pytest.approx(5 * base)


def test_the_ideal_cycle_is_the_upper_bound():
    """A burn that takes time and loses heat stays below the ideal cycle at the same gamma and compression ratio."""
    assert ideal_efficiency(1.3) < published("otto_efficiency_gamma_1_35").value
