"""Gasoline as the model burns it."""

import numpy as np

LOWER_HEATING_VALUE_J_KG = 44.0e6  # gasoline vapour; isooctane vapour is 44.65 (key lhv_isooctane)
STOICHIOMETRIC_AIR_FUEL = 14.6  # CH1.87 (key stoichiometric_gasoline)


def antiknock_index(ron, mon):
    """The number on the pump in some countries: (RON + MON) / 2. Key: antiknock_index."""
    return (ron + mon) / 2.0


RON_ALONE_UP_TO_RPM, AS_THE_PUMP_SAYS_FROM_RPM = 1000.0, 4000.0  # common practice, no source


def octane_in_use(ron, mon, speed_rpm):
    """Octane number that the fuel has in the engine: RON when it turns slowly, halfway to MON when it turns fast.

    RON - K (RON - MON), K from 0 up to 1,000 rpm to 0.5 from 4,000 rpm on; any shape. Common practice: fuels of high
    sensitivity lose at high speed what they promise at low speed.
    """
    rise = (speed_rpm - RON_ALONE_UP_TO_RPM) / (AS_THE_PUMP_SAYS_FROM_RPM - RON_ALONE_UP_TO_RPM)
    return ron - 0.5 * np.clip(rise, 0.0, 1.0) * (ron - mon)


def combustion_efficiency(equivalence_ratio):
    """Share of the fuel's heat that is released: lean burns all but 2 %, rich what its oxygen allows.

    Calibration: 0.98 lean of stoichiometric, 0.98/phi rich of it; common practice.
    """
    return 0.98 / np.maximum(equivalence_ratio, 1.0)


def fuel_air_ratio(equivalence_ratio):
    """Mass of fuel for a mass of air."""
    return equivalence_ratio / STOICHIOMETRIC_AIR_FUEL
