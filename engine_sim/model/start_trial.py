"""How long an engine is cranked before it runs: the starter's key held on one engine, tick by tick."""

from __future__ import annotations

from dataclasses import dataclass

from .conditions import SEA_LEVEL_DAY, Conditions
from .dynamics import TICK_S, ControlInputs, Dynamics, Motion
from .engine import Engine
from .population import usual_screw
from .starting import RUNNING_FROM_RPM

FIRES_FROM_SHARE = 0.05  # of a charge's work, from which the engine is felt to fire
AT_MOST_S = 10.0  # the key is held; common practice


@dataclass(frozen=True)
class StartTrial:
    """Seconds until the first charge fires and until the engine runs by itself (None: not while the key was held), how
    often it kicked, and its state at the end."""

    fires_s: float | None
    runs_s: float | None
    kicks: int
    motion: Motion


def start_trial(
    engine: Engine,
    base_timing_deg: float,
    coolant_c: float,
    *,
    conditions: Conditions = SEA_LEVEL_DAY,
    throttle: float = 0.0,
    strokes: int = 0,
    flood: float = 0.0,
    bowl: float = 1.0,
    battery: float = 1.0,
    at_most_s: float = AT_MOST_S,
) -> StartTrial:
    """Hold the key of an engine that stands at a coolant temperature [°C], its timing in crank degrees BTDC.

    `throttle` is the share of its travel at which it is held, after `strokes` full strokes of the accelerator pump;
    `flood`, `bowl` and `battery` are as in AsFound. The idle screw stands where such an engine usually has it.
    """
    dynamics = Dynamics(engine, conditions)
    motion = dynamics.at_rest(coolant_c, flood, bowl, battery)
    for _ in range(strokes):
        motion.start.pump(1.0, coolant_c, runs=False)
    inputs = ControlInputs(base_timing_deg, usual_screw(engine.card), throttle, ignition=True, starter=True)
    fires_s = None
    for tick in range(round(at_most_s / TICK_S)):
        dynamics.tick(motion, inputs)
        if fires_s is None and motion.burning >= FIRES_FROM_SHARE:
            fires_s = (tick + 1) * TICK_S
        if motion.speed_rpm >= RUNNING_FROM_RPM:
            return StartTrial(fires_s, (tick + 1) * TICK_S, motion.start.kicks, motion)
    return StartTrial(fires_s, None, motion.start.kicks, motion)
