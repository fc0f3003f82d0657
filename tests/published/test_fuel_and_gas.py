"""Fuel and gas beside Cantera: the records are worked out again from its data, and the model held to the records."""

import functools

import cantera
import pytest

from engine_sim import published
from engine_sim.model import cycle
from engine_sim.physics import fuel, gas
from engine_sim.physics.constants import GAS_CONSTANT_AIR_J_KG_K as AIR_J_KG_K
from tests.published.checks import Check

ISOOCTANE = "C8H18,isooctane"
AIR = "O2:1, N2:3.76"
SPECIES = (ISOOCTANE, "O2", "N2", "CO2", "H2O", "CO", "H2", "OH", "NO", "O", "H")
REFERENCE_K, ATM = 298.15, 101_325.0
UNBURNED_K, BURNED_K = (300, 400, 500, 600, 700, 800, 900), (1000, 1500, 2000, 2500)

CHECKS = [
    Check("stoichiometric_gasoline", lambda: fuel.STOICHIOMETRIC_AIR_FUEL),
    Check("stoichiometric_isooctane", lambda: cantera_stoichiometric()),
    Check("lhv_isooctane", lambda: cantera_lower_heating_value() / 1e6),
    Check("lhv_gasoline", lambda: fuel.LOWER_HEATING_VALUE_J_KG / 1e6),
    Check("gas_constant_unburned", lambda: gas.GAS_CONSTANT_UNBURNED),
    Check("viscosity_air_300k", lambda: 1e6 * gas.viscosity_m2_s(300.0, ATM, AIR_J_KG_K)),
    Check("viscosity_air_1000k", lambda: 1e6 * gas.viscosity_m2_s(1000.0, ATM, AIR_J_KG_K)),
    *(Check(f"gamma_unburned_{kelvin}k", lambda kelvin=kelvin: gas.gamma_unburned(kelvin)) for kelvin in UNBURNED_K),
    *(Check(f"gamma_burned_{kelvin}k", lambda kelvin=kelvin: gas.gamma_burned(kelvin)) for kelvin in BURNED_K),
]


@functools.cache
def mixture() -> cantera.Solution:
    """Isooctane, air and their products, from the NASA polynomials."""
    known = {species.name: species for species in cantera.Species.list_from_file("nasa_gas.yaml")}
    return cantera.Solution(thermo="ideal-gas", species=[known[name] for name in SPECIES])


def unburned(kelvin: float) -> cantera.Solution:
    """The chemically correct charge at that temperature."""
    charge = mixture()
    charge.set_equivalence_ratio(1.0, ISOOCTANE, AIR)
    charge.TP = kelvin, ATM
    return charge


def burned(kelvin: float) -> cantera.Solution:
    """Its products in equilibrium at that temperature and 10 bar."""
    charge = unburned(kelvin)
    charge.TP = kelvin, 1e6
    charge.equilibrate("TP")
    return charge


def cantera_stoichiometric() -> float:
    """Chemically correct air-fuel ratio of isooctane."""
    share = unburned(REFERENCE_K)[ISOOCTANE].Y[0]
    return (1.0 - share) / share


def cantera_lower_heating_value() -> float:
    """Heat of C8H18 + 12.5 O2 -> 8 CO2 + 9 H2O (vapour) for a kilogram of fuel [J/kg]."""
    charge = unburned(REFERENCE_K)
    molar = dict(zip(SPECIES, charge.standard_enthalpies_RT * cantera.gas_constant * REFERENCE_K, strict=True))
    released = molar[ISOOCTANE] + 12.5 * molar["O2"] - 8 * molar["CO2"] - 9 * molar["H2O"]
    return released / charge.molecular_weights[SPECIES.index(ISOOCTANE)]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_fuel_and_gas(check):
    """The model gives the number that Cantera or the handbook gives, within the tolerance of the fit."""
    check.must_agree()


@pytest.mark.parametrize("kelvin", UNBURNED_K)
def test_record_of_unburned_gamma_is_canteras(kelvin):
    """The record itself is what Cantera computes, to its last printed digit."""
    charge = unburned(kelvin)
    assert charge.cp / charge.cv == pytest.approx(published(f"gamma_unburned_{kelvin}k").value, abs=5.1e-5)


@pytest.mark.parametrize("kelvin", BURNED_K)
def test_record_of_burned_gamma_is_canteras(kelvin):
    """The record itself is what Cantera computes at 10 bar, to its last printed digit."""
    charge = burned(kelvin)
    assert charge.cp / charge.cv == pytest.approx(published(f"gamma_burned_{kelvin}k").value, abs=5.1e-5)


def test_gas_constant_of_the_whole_cycle_lies_between_the_two_gases():
    """The one gas constant of the cycle lies between that of the charge and that of its products."""
    low, high = published("gas_constant_unburned"), published("gas_constant_burned")
    assert low.value < cycle.GAS_CONSTANT_MEAN < high.value


def test_gas_constants_on_record_are_canteras():
    """Both gas constants on record are what Cantera computes, to their last printed digit."""
    for charge, kelvin, gas_is in ((unburned, REFERENCE_K, "unburned"), (burned, 1500.0, "burned")):
        found = cantera.gas_constant / charge(kelvin).mean_molecular_weight
        assert found == pytest.approx(published(f"gas_constant_{gas_is}").value, abs=0.006)


def test_burned_gamma_never_turns_up_again():
    """Beyond the fitted range the burned gas keeps the least value of the fit and is continuous there."""
    edge = 1e3 * gas.BURNED_GAMMA_LEAST_AT_KK
    assert gas.gamma_burned(3500.0) == gas.gamma_burned(edge)
    assert gas.gamma_burned(edge - 1.0) - gas.gamma_burned(edge) < 1e-6


def test_heat_released_is_what_the_oxygen_allows():
    """Rich of stoichiometric the heat released a kilogram of air stays the same; lean it follows the fuel."""

    def heat(phi):
        return fuel.fuel_air_ratio(phi) * fuel.combustion_efficiency(phi)

    assert heat(1.2) == pytest.approx(heat(1.0)) and heat(0.8) == pytest.approx(0.8 * heat(1.0))
