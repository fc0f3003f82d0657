"""Gasoline as the model burns it."""

import numpy as np

from .arrays import Numbers

LOWER_HEATING_VALUE_J_KG = 44.0e6  # gasoline vapour; isooctane vapour is 44.65 (key lhv_isooctane)
DENSITY_KG_L = 0.745  # of petrol at 15 °C, the middle of what is sold; common practice, from memory
STOICHIOMETRIC_AIR_FUEL = 14.6  # CH1.87 (key stoichiometric_gasoline)
RON_ALONE_UP_TO_RPM = 1000.0  # the speed of the test for RON is 600 rpm; common practice, no source
AS_THE_PUMP_SAYS_FROM_RPM = 4000.0  # from here on the mean of RON and MON; common practice, no source
BURNED_WHEN_LEAN = 0.95  # share of the fuel's heat that a lean charge releases; calibration, common practice
MON_WEIGHT_WHEN_FAST = 0.5  # share of the sensitivity RON - MON that is lost at speed; common practice, no source


def antiknock_index(ron: Numbers, mon: Numbers) -> Numbers:
    """Octane number on the pump in some countries; arguments broadcast. (RON + MON) / 2. Key: antiknock_index.

    >>> import engine_sim
    >>> engine_sim.antiknock_index(95.0, 85.0)
    90.0
    """
    return (ron + mon) / 2.0


def octane_in_use(ron: Numbers, mon: Numbers, speed_rpm: Numbers) -> Numbers:
    """Octane number that the fuel has in the engine; arguments broadcast.

    RON - K (RON - MON), K from 0 up to 1,000 rpm to 0.5 from 4,000 rpm on: a sensitive fuel loses at high speed what it
    promises at low speed. Common practice, no source.

    >>> import engine_sim
    >>> [float(engine_sim.octane_in_use(95.0, 85.0, speed_rpm)) for speed_rpm in (800.0, 2500.0, 5000.0)]
    [95.0, 92.5, 90.0]
    """
    rise = (speed_rpm - RON_ALONE_UP_TO_RPM) / (AS_THE_PUMP_SAYS_FROM_RPM - RON_ALONE_UP_TO_RPM)
    return ron - MON_WEIGHT_WHEN_FAST * np.clip(rise, 0.0, 1.0) * (ron - mon)


def octane_in_use_at(ron: float, mon: float, speed_rpm: float) -> float:
    """Octane number that the fuel has in the engine, for one speed: the plain form of `octane_in_use`."""
    if speed_rpm <= RON_ALONE_UP_TO_RPM:
        return ron
    if speed_rpm >= AS_THE_PUMP_SAYS_FROM_RPM:
        return ron - MON_WEIGHT_WHEN_FAST * (ron - mon)
    rise = (speed_rpm - RON_ALONE_UP_TO_RPM) / (AS_THE_PUMP_SAYS_FROM_RPM - RON_ALONE_UP_TO_RPM)
    return ron - MON_WEIGHT_WHEN_FAST * rise * (ron - mon)


def combustion_efficiency(equivalence_ratio: Numbers) -> Numbers:
    """Share of the fuel's heat that is released [-]; any shape.

    0.95 lean of stoichiometric, 0.95/phi rich of it, as its oxygen allows. Calibration, common practice.
    """
    return BURNED_WHEN_LEAN / np.maximum(equivalence_ratio, 1.0)


def fuel_air_ratio(equivalence_ratio: Numbers) -> Numbers:
    """Mass of fuel for a mass of air [kg/kg]; any shape. Key: stoichiometric_gasoline."""
    return equivalence_ratio / STOICHIOMETRIC_AIR_FUEL
