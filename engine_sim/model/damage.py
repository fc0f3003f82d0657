"""What an engine does not stand for long, and what then gives way.

Each kind of overload adds to a dose. Beyond the stated dose a part gives way, and stays damaged for the rest of the
attempt. No outside value was found for how long such engines stand any of this: every limit and every dose here is a
calibration, large enough that a careful person never comes near.
"""

from __future__ import annotations

from dataclasses import dataclass

from .wear import CylinderWear

PING_COUNTS_FROM = 0.5  # share of cycles that ping, from which it hurts; calibration
PISTON_SOFT_C = 330.0  # of a piston's crown, from which light alloy loses its strength; calibration
PISTON_K_PER_W_M2 = 2.5e-4  # of its crown above the coolant, for the mean heat to a bore's area of wall; calibration
GASKET_OVER_COMPRESSION = 3.3  # peak pressure that lifts a head, over that of compressed air outside; calibration
DOSE_OF_PING_S = 600.0  # of every charge pinging: a day of road checks has a few minutes; calibration
DOSE_OF_HEAT_K_S = 3000.0  # of a piston above PISTON_SOFT_C; calibration
DOSE_OF_PRESSURE_S = 90.0  # above that; calibration
DOSE_OF_BOILING_S = 180.0  # calibration
DOSE_OF_FLOAT_S = 3.0  # of floating valves; calibration


@dataclass(frozen=True)
class Damage:
    """One part that gives way: the dose that it stands, the wear of so many cylinders from then on, and what a person
    at the engine is told then and, where the overload itself can be noticed, as it sets in."""

    dose: float
    wear: CylinderWear
    cylinders: int
    sentence: str
    sets_in: str = ""


_STAYS = "The engine stays damaged for the rest of this try."
DAMAGES = (  # in the order of `Motion.doses`
    Damage(
        DOSE_OF_PING_S,
        CylinderWear(leak_share=0.5, leaks_to="crankcase"),
        1,
        f"Heavy ping has broken a piston's ring land. {_STAYS}",
    ),
    Damage(
        DOSE_OF_HEAT_K_S,
        CylinderWear(leak_share=0.7, leaks_to="crankcase"),
        1,
        f"The spark was too early under load for too long: a piston became too hot and its crown has burned. {_STAYS}",
    ),
    Damage(
        DOSE_OF_PRESSURE_S,
        CylinderWear(leak_share=0.6, leaks_to="exhaust"),
        2,
        "The spark was too early under load for too long: the pressure has blown the head gasket between two "
        f"cylinders. {_STAYS}",
    ),
    Damage(
        DOSE_OF_BOILING_S,
        CylinderWear(leak_share=0.6, leaks_to="exhaust"),
        2,
        f"Without coolant the head has warped, and its gasket leaks between two cylinders. {_STAYS}",
        "The coolant boils. Switch off, and let the engine cool with its cap on: steam scalds.",
    ),
    Damage(
        DOSE_OF_FLOAT_S,
        CylinderWear(leak_share=0.75, leaks_to="exhaust"),
        1,
        f"The valves floated and one has struck its piston: it is bent. {_STAYS}",
        "The valves no longer follow their cams and the sparks fail: close the throttle at once.",
    ),
)
NO_DOSES = (0.0,) * len(DAMAGES)
