"""What nobody knows of an owner's engine, drawn: engines round a description, always from a seed.

The spreads are those of real engines as a feasibility trial of this project guessed them, two to ten times those of the
learners' engines (`population`): guesses, so that every share worked out with them holds for engines drawn like these.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from engine_sim.errors import OutsideValidity
from engine_sim.model.card import EngineCard, card_from
from engine_sim.model.conditions import Conditions
from engine_sim.model.engine import Engine
from engine_sim.model.idle_table import IdleTable
from engine_sim.model.population import AsFound, Draw
from engine_sim.workshop.timing_method import bring_idle_to

from .description import OwnedEngine
from .nominal import compression_ratio, day_of, nominal_card, weights_of

FARTHEST = 2.5  # standard deviations, beyond which nothing is drawn
COMPRESSION_KNOWN = 0.03  # standard deviation of a compression that was read, as a share of it; a guess
COMPRESSION_NOT = 0.09  # standard deviation of a compression that was supposed, as a share of it; a guess
WEIGHTS_KNOWN = 0.05  # standard deviation of the weights' degrees where the curve is known, as a share; a guess
WEIGHTS_NOT = 0.18  # standard deviation of the weights' degrees where it is not known, as a share; a guess
UNIT_SPREAD = 0.12  # standard deviation of the vacuum unit's degrees, as a share; a guess
UNIT_START_INHG = 1.0  # standard deviation of where the vacuum unit begins; a guess
SPREADS = (  # field, standard deviation, whether it is a share of the value
    ("valves.overlap_factor_deg_m", 0.20, True),
    ("valves.intake_closes_deg_abdc", 5.0, False),
    ("losses.friction_factor", 0.15, True),
    ("losses.accessories_nm", 0.30, True),
    ("breathing.closed_throttle_area_mm2", 0.10, True),
    ("breathing.idle_screw_area_mm2_per_turn", 0.10, True),
    ("breathing.manifold_volume_l", 0.15, True),
    ("breathing.throttle_bore_mm", 0.08, True),
    ("mixture.idle_phi", 0.02, True),
)
BURN_SPREAD = 0.08  # standard deviation of both constants of the burn, as a share; a guess
BURN_TOGETHER = 0.6  # share of that variance that both constants have together; a guess
BASE_DEG = 3.0  # standard deviation of owners' bases about the label [crank deg]; a guess
BASE_LOST_SHARE = 0.3  # share of owners whose base was lost, and lies anywhere between the next two; a guess
BASE_LOST_DEG = (-8.0, 10.0)  # crank degrees from the label; a guess
IDLE_RPM = 60.0  # standard deviation of owners' idle speeds about the label; a guess
ALTITUDE_FT = 250.0  # standard deviation of a height by map; a guess
SCREW_LIMITS = (0.0, 9.0)  # turns of the idle screw


@dataclass(frozen=True)
class DrawnEngine:
    """One engine that fits a description: its card, how its owner has it set, and the true day."""

    card: EngineCard
    found: AsFound
    conditions: Conditions


def drawn_card(nominal: EngineCard, engine: OwnedEngine, rng: np.random.Generator, wider: float = 1.0) -> EngineCard:
    """A card round the nominal one; `wider` times the usual spreads. What makes no card is drawn again."""
    for _ in range(20):
        content = nominal.model_dump()
        squeeze = COMPRESSION_NOT if compression_ratio(engine) is None else COMPRESSION_KNOWN
        spreads = [
            ("block.compression_ratio", squeeze, True),
            ("distributor.stop_deg", WEIGHTS_NOT if weights_of(engine) is None else WEIGHTS_KNOWN, True),
            ("distributor.first_spring_preload_n", 0.12, True),
            ("vacuum_advance.degrees", UNIT_SPREAD, True),
            *SPREADS,
        ]
        for field, spread, relative in spreads:
            section, name = field.split(".")
            mean = content[section][name]
            content[section][name] = mean + wider * spread * _normal(rng) * (mean if relative else 1.0)
        shared = _normal(rng)
        for name in ("development_constant", "rapid_constant"):
            own = BURN_TOGETHER**0.5 * shared + (1.0 - BURN_TOGETHER) ** 0.5 * _normal(rng)
            content["burn"][name] *= 1.0 + wider * BURN_SPREAD * own
        moved = wider * UNIT_START_INHG * _normal(rng)
        unit = content["vacuum_advance"]
        unit["start_inhg"] = max(unit["start_inhg"] + moved, 1.0)
        unit["full_inhg"] = max(unit["full_inhg"] + moved, unit["start_inhg"] + 1.0)
        try:
            return card_from(content, "an engine drawn")
        except Exception as error:
            last = error
    raise OutsideValidity(f"No engine could be drawn round this description: {last}")


def _normal(rng: np.random.Generator) -> float:
    return float(np.clip(rng.standard_normal(), -FARTHEST, FARTHEST))


def drawn(engine: OwnedEngine, seed: int, wider: float = 1.0) -> DrawnEngine:
    """A stand-in for an owner's engine: one that fits the description, set as its owner may have it; the same for the
    same seed. Raises DescriptionError where the description lacks cylinders or displacement."""
    rng = np.random.default_rng([seed, 5])
    nominal = nominal_card(engine)
    for _ in range(20):
        card = drawn_card(nominal, engine, rng, wider)
        day = day_of(engine)
        day = Conditions(max(day.altitude_ft + wider * ALTITUDE_FT * _normal(rng), -900.0), day.ambient_c)
        try:
            return DrawnEngine(card, as_kept(Engine(card), day, rng, wider), day)
        except OutsideValidity:
            continue
    raise OutsideValidity("No engine that idles could be drawn round this description.")


def as_kept(engine: Engine, conditions: Conditions, rng: np.random.Generator, wider: float = 1.0) -> AsFound:
    """How an owner has a healthy engine set: a base beside the label's, an idle beside the label's speed."""
    setting = engine.card.setting
    off = rng.uniform(*BASE_LOST_DEG) if rng.random() < BASE_LOST_SHARE else BASE_DEG * _normal(rng)
    base = float(np.clip(setting.label_base_timing_deg + wider * off, -10.0, 30.0))
    idle = max(setting.idle_rpm + wider * IDLE_RPM * _normal(rng), 500.0)
    screw = screw_for(engine, base, idle, conditions)
    return AsFound(
        base_timing_deg=round(base, 2),
        idle_screw=round(screw, 2),
        seed=int(rng.integers(2**31)),
        coolant_c=85.0,
        prepared=True,
    )


def screw_for(engine: Engine, base_deg: float, idle_rpm: float, conditions: Conditions) -> float:
    """Turns of the idle screw at which it idles so fast, or at which it comes nearest. Raises OutsideValidity where it
    idles with none."""
    return screw_in(IdleTable(engine, SCREW_LIMITS, conditions), base_deg, idle_rpm)


def screw_in(table: IdleTable, base_deg: float, idle_rpm: float) -> float:
    """The same from an engine's table."""
    speeds = np.array([table.settled(base_deg, float(screw))[0] for screw in table.screws])
    if not np.isfinite(speeds).any():
        raise OutsideValidity("This engine idles with no turn of its idle screw.")
    if np.nanmax(speeds) < idle_rpm or np.nanmin(speeds) > idle_rpm:
        return float(table.screws[np.nanargmin(np.abs(speeds - idle_rpm))])
    return bring_idle_to(table, base_deg, idle_rpm, SCREW_LIMITS)


def draw_of(rng: np.random.Generator) -> Draw:
    """A source of a fault's amounts."""
    return Draw(str(int(rng.integers(2**62))))
