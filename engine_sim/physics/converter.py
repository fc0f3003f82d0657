"""A hydraulic torque converter: a pump that the engine turns, a turbine that turns the gearbox, and a reactor between.

The shapes over the speed ratio are those of common handbooks, from memory; their numbers are calibrations for a
converter without a lock.
"""

STALL_TORQUE_RATIO = 2.0  # of turbine to pump, the vehicle standing: 1.8 to 2.2 in handbooks, from memory
COUPLING_POINT = 0.87  # speed ratio from which the reactor turns along; 0.85 to 0.9 in handbooks, from memory
CAPACITY_EXPONENT = 5.0  # of the speed ratio, with which the capacity is lost; calibration


def slip(capacity_nm_s2: float, pump_rad_s: float, turbine_rad_s: float) -> tuple[float, float, float]:
    """Torque that the pump takes from the engine and that the turbine gives to the gearbox [N m], both negative where
    the vehicle drives the engine, and how much more the pump takes for each rad/s [N m s]. For one moment; speeds are
    not negative, and the capacity is the torque taken with the turbine at rest over the pump's speed squared [N m s2].

    The pump takes capacity n^2 (1 - r^5), r the turbine's speed over its own: pumps alike in shape take torque as speed
    squared, and none at equal speeds. A turbine that runs ahead drives the pump by the same rule, without gain.
    """
    if turbine_rad_s > pump_rad_s:
        ratio = pump_rad_s / turbine_rad_s
        carried_nm = capacity_nm_s2 * turbine_rad_s**2 * (ratio**CAPACITY_EXPONENT - 1.0)
        rises = CAPACITY_EXPONENT * capacity_nm_s2 * turbine_rad_s * ratio ** (CAPACITY_EXPONENT - 1.0)
        return carried_nm, carried_nm, rises
    if pump_rad_s == 0.0:
        return 0.0, 0.0, 0.0
    ratio = turbine_rad_s / pump_rad_s
    lost = ratio**CAPACITY_EXPONENT
    carried_nm = capacity_nm_s2 * pump_rad_s**2 * (1.0 - lost)
    rises = capacity_nm_s2 * pump_rad_s * (2.0 + (CAPACITY_EXPONENT - 2.0) * lost)
    return carried_nm, carried_nm * torque_ratio(ratio), rises


def torque_ratio(speed_ratio: float) -> float:
    """Torque of the turbine over that of the pump [-], from a speed ratio of 0 to 1: falls on a straight line from its
    value at stall to 1 at the coupling point."""
    if speed_ratio >= COUPLING_POINT:
        return 1.0
    return STALL_TORQUE_RATIO - (STALL_TORQUE_RATIO - 1.0) * speed_ratio / COUPLING_POINT
