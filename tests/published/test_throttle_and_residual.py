"""The throttle as an isentropic orifice, and the residual gas after Fox, Cheng and Heywood."""

import pytest

from engine_sim.physics import breathing
from tests.published.checks import Check
from tests.published.demo_engine import engine

CHOKED = 0.1  # any pressure ratio below the critical one


def residual(rpm, intake_kpa, overlap):
    """Residual fraction of the published examples: 8.5:1, exhaust at 1.013 bar, phi = 1."""
    return breathing.residual_fraction(rpm, intake_kpa * 1e3, 1.013e5, overlap, 1.0, 8.5)


CHECKS = [
    Check("orifice_critical_ratio", breathing.critical_pressure_ratio),
    *(
        Check(
            f"orifice_critical_ratio_gamma_1_{tail}",
            lambda tail=tail: breathing.critical_pressure_ratio(1 + tail / 100),
        )
        for tail in (35, 30)
    ),
    *(
        Check(
            f"orifice_choked_function_gamma_1_{tail}", lambda tail=tail: breathing.flow_function(CHOKED, 1 + tail / 100)
        )
        for tail in (40, 35, 30)
    ),
    Check("orifice_choked_flux", lambda: breathing.throttle_flow_kg_s(1.0, 101_325.0, 293.15, 1e4)),
    *(
        Check(
            f"orifice_relative_flow_{percent}",
            lambda percent=percent: breathing.flow_function(percent / 100) / breathing.flow_function(CHOKED),
        )
        for percent in (60, 70, 80, 90, 95)
    ),
    *(
        Check(
            f"residual_{rpm}rpm_{kpa}kpa_overlap_{overlap}",
            lambda rpm=rpm, kpa=kpa, overlap=overlap: residual(rpm, kpa, overlap / 100),
        )
        for rpm, kpa, overlap in ((700, 33, 30), (700, 33, 60), (700, 40, 30), (2000, 40, 30), (2000, 97, 30))
    ),
    Check("residual_idle", lambda: engine().operating_points(800.0, 36.0, 8.0).residual_fraction),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_throttle_and_residual(check):
    """The model gives the orifice's closed form, or the residual fraction of Fox's published correlation."""
    check.must_agree()


def test_flow_meets_zero_at_equal_pressures_and_never_turns_back():
    """At equal pressures nothing flows; the chord near there joins the curve without a step, and back-flow is none."""
    edge = breathing.FLOW_LINEAR_ABOVE
    assert breathing.flow_function(1.0) == 0.0 == breathing.flow_function(1.2)
    assert breathing.flow_function(edge + 1e-9) == pytest.approx(float(breathing.flow_function(edge)), rel=1e-5)


def test_residual_is_bounded():
    """Where the correlation would run away, at very low pressure and speed, it stays at its bound."""
    assert residual(200, 8.0, 0.9) == breathing.LARGEST_RESIDUAL
