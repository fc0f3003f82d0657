"""The distributor: what adds up to the moment of the spark. Angles in crank degrees unless a name says otherwise.

The distributor turns at half crank speed, so one of its own degrees is two crank degrees.
"""

import numpy as np

CRANK_DEG_PER_DISTRIBUTOR_DEG = 2.0
PORT_UNCOVERED_FROM, PORT_UNCOVERED_AT = 0.02, 0.08  # share of throttle travel that uncovers the port; common practice


def centrifugal_deg(speed_rpm, start_rpm, full_rpm, limit_deg):
    """Centrifugal advance [crank deg]: nothing below the start, a straight line, then the stop; any shape."""
    return limit_deg * np.clip((speed_rpm - start_rpm) / (full_rpm - start_rpm), 0.0, 1.0)


def vacuum_advance_deg(signal_inhg, start_inhg, full_inhg, limit_deg):
    """Advance of the vacuum canister [crank deg] for the vacuum that reaches it; any shape."""
    return limit_deg * np.clip((signal_inhg - start_inhg) / (full_inhg - start_inhg), 0.0, 1.0)


def ported_share(throttle):
    """Share of manifold vacuum that a port above the closed throttle plate sees; any shape of throttle travel 0...1."""
    return np.clip((throttle - PORT_UNCOVERED_FROM) / (PORT_UNCOVERED_AT - PORT_UNCOVERED_FROM), 0.0, 1.0)


def crank_deg(distributor_degrees):
    """Crank degrees from distributor degrees."""
    return CRANK_DEG_PER_DISTRIBUTOR_DEG * distributor_degrees


def advance_sense(rotor_turns: str) -> int:
    """+1 where turning the body clockwise advances the spark, -1 where it retards it.

    Turning the body against the rotor brings the spark sooner.
    """
    return 1 if rotor_turns == "anticlockwise" else -1
