"""Heat to the walls after Woschni and Hohenberg, and the friction of motored engines after Barnes-Moss."""

import pytest

from engine_sim.physics import friction, heat_loss
from tests.published.checks import Check

CHECKS = [
    Check("woschni_combustion_state", lambda: heat_loss.woschni_w_m2_k(0.1, 3000.0, 2200.0, 15.0)),
    Check("woschni_compression_state", lambda: heat_loss.woschni_w_m2_k(0.08, 500.0, 900.0, 8.0)),
    Check("hohenberg_combustion_state", lambda: heat_loss.hohenberg_w_m2_k(5e-4, 30.0, 2200.0, 5.0)),
    Check("hohenberg_compression_state", lambda: heat_loss.hohenberg_w_m2_k(3e-4, 10.0, 1500.0, 8.0)),
    *(
        Check(f"friction_{rpm}rpm", lambda rpm=rpm: friction.friction_pressure_pa(rpm) / 1e5)
        for rpm in (600, 700, 800, 1000, 2000, 3000, 4000)
    ),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_heat_and_friction(check):
    """The model gives the number of Woschni's, Hohenberg's or Barnes-Moss's published equation."""
    check.must_agree()


def test_woschni_and_hohenberg_are_of_one_size():
    """Two published correlations of one quantity differ by less than a factor of two at full load."""
    woschni = heat_loss.woschni_w_m2_k(0.1, 3000.0, 2200.0, 15.0)
    assert 0.5 < woschni / heat_loss.hohenberg_w_m2_k(5e-4, 30.0, 2200.0, 5.0) < 2.0


def test_friction_counts_pumping_once():
    """What the model charges for rubbing is the motoring figure less the pumping it counts by itself."""
    assert friction.friction_pressure_pa(800) - friction.rubbing_pressure_pa(800) == friction.PUMPING_SHARE_PA
    assert 0.1e5 <= friction.PUMPING_SHARE_PA <= 0.2e5
