"""Functions that rubrics name: numbers told by the learner's own engine or the day, and judges of drawn curves.

`answer_from = "name"` in a rubric names one of ANSWERS, `judge_with = "name"` in a check of a curve one of
CURVE_JUDGES. Adding one is a function here under its decorator.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from engine_sim import SEA_LEVEL_DAY, EngineCard, antiknock_index, standard_pressure_pa
from engine_sim.physics.atmosphere import SEA_LEVEL_K, air_share, standard_temperature_k
from engine_sim.physics.units import KPA_PER_INHG, metres_from_feet
from graders.bench.engine_cache import engine_for
from graders.bench.full_throttle import lost_share, pull_of, pull_over_lead

Curve = tuple[tuple[float, float], ...]  # speed [rpm] and total advance [crank deg BTDC], by rising speed

HARDEST_RPM = 1100.0  # the slowest at which a test stand holds a full throttle; an engine asks for most there


@dataclass(frozen=True)
class Answer:
    """`function(card, given)` returns the names in `gives`; it reads the names in `needs` from the drawn ones."""

    function: Callable[[EngineCard | None, Mapping[str, float]], dict[str, float]]
    needs: tuple[str, ...]
    gives: tuple[str, ...]
    needs_card: bool


@dataclass(frozen=True)
class CurveFinding:
    """What the judge of a curve found: the name of the sentence to say, the share of the points, and numbers that
    the sentence may hold in braces."""

    name: str
    share: float
    values: dict[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True)
class PulledCurve:
    """A curve on the pull on which it is judged: its advance [crank deg BTDC] at each speed [rpm], by how much that is
    past the first trace of ping [crank deg, negative where silent], and its torque beside the best that does not ping
    [N m]."""

    speed_rpm: np.ndarray
    drawn_deg: np.ndarray
    over_deg: np.ndarray
    torque_nm: np.ndarray
    best_silent_nm: np.ndarray

    @property
    def lost_percent(self) -> np.ndarray:
        """What it loses of the torque that does not ping, at each speed; none where it pings."""
        lost = 100.0 * (1.0 - self.torque_nm / self.best_silent_nm)
        return np.where(self.over_deg > 0.0, 0.0, np.maximum(lost, 0.0))


@dataclass(frozen=True)
class CurveJudge:
    """`function(card, curve)` judges a curve of (rpm, degrees) on a learner's engine; `values` holds each name that it
    can find, of which each needs its sentence, with the values that fill its braces and their types.
    `fitted(card, curve)` moves a curve up or down until it suits this engine; `pulled(card, curve)`, where there is
    one, is the pull that it judges."""

    function: Callable[[EngineCard, Curve], CurveFinding]
    values: Mapping[str, Mapping[str, type]]
    fitted: Callable[[EngineCard, Curve], Curve]
    pulled: Callable[[EngineCard, Curve], PulledCurve] | None = None

    @property
    def findings(self) -> tuple[str, ...]:
        """Everything but "met" that it can find."""
        return tuple(name for name in self.values if name != "met")


ANSWERS: dict[str, Answer] = {}
CURVE_JUDGES: dict[str, CurveJudge] = {}


def answer(*, gives: tuple[str, ...], needs: tuple[str, ...] = (), needs_card: bool = False) -> Callable:
    """Make a function known by its name, which rubrics use in `answer_from`."""

    def known(function):
        ANSWERS[function.__name__] = Answer(function, needs, gives, needs_card)
        return function

    return known


def as_drawn(_card: EngineCard, curve: Curve) -> Curve:
    """A curve where it is."""
    return curve


def curve_judge(
    fitted: Callable[[EngineCard, Curve], Curve] = as_drawn,
    pulled: Callable[[EngineCard, Curve], PulledCurve] | None = None,
    /,
    **values: Mapping[str, type],
) -> Callable:
    """Make a function known by its name, which rubrics use in `judge_with`."""

    def known(function):
        CURVE_JUDGES[function.__name__] = CurveJudge(function, values, fitted, pulled)
        return function

    return known


@answer(needs=("altitude_ft",), gives=("pressure_inhg", "pressure_kpa", "air_share"))
def standard_atmosphere(_card: EngineCard | None, given: Mapping[str, float]) -> dict[str, float]:
    """Air pressure at `altitude_ft`, and its share of sea level's: a gauge on an engine in the same health shows the
    same share of what it shows at sea level. Raises OutsideValidity below -500 m or above 11,000 m.
    Source: us_standard_atmosphere_1976."""
    altitude_m = metres_from_feet(given["altitude_ft"])
    here_kpa = float(standard_pressure_pa(altitude_m)) / 1e3
    return {
        "pressure_inhg": here_kpa / KPA_PER_INHG,
        "pressure_kpa": here_kpa,
        "air_share": float(air_share(altitude_m)),
    }


@answer(
    gives=(
        "label_base_timing_deg",
        "idle_rpm",
        "speed_drop_rpm",
        "fuel_octane_ron",
        "vacuum_advance_start_inhg",
        "vacuum_advance_full_inhg",
        "vacuum_advance_deg",
        "cylinders",
        "compression_ratio",
    ),
    needs_card=True,
)
def label(card: EngineCard, _given: Mapping[str, float]) -> dict[str, float]:
    """The figures on the label of the learner's own engine, as the label prints them; angles in crank degrees."""
    return {
        "label_base_timing_deg": card.setting.label_base_timing_deg,
        "idle_rpm": card.setting.idle_rpm,
        "speed_drop_rpm": card.setting.speed_drop_rpm,
        "fuel_octane_ron": card.setting.fuel_octane_ron,
        "vacuum_advance_start_inhg": card.vacuum_advance.start_inhg,
        "vacuum_advance_full_inhg": card.vacuum_advance.full_inhg,
        "vacuum_advance_deg": card.vacuum_advance.degrees,
        "cylinders": float(card.block.cylinders),
        "compression_ratio": round(card.block.compression_ratio, 1),
    }


PULLS = ("slow", "middle", "fast")


@answer(
    needs=tuple(f"{name}_rpm" for name in PULLS),
    gives=tuple(f"{what}_{name}_deg" for what in ("best", "weights") for name in PULLS),
    needs_card=True,
)
def best_timing_at_full_throttle(card: EngineCard, given: Mapping[str, float]) -> dict[str, float]:
    """At three speeds, the lead with which the learner's own engine pulls hardest with the throttle wide open (the
    middle of the flat top), and what the weights give there; crank degrees."""
    engine, numbers = engine_for(card), {}
    for name in PULLS:
        rpm = given[f"{name}_rpm"]
        numbers[f"best_{name}_deg"] = pull_over_lead(engine, rpm, SEA_LEVEL_DAY.altitude_ft).best_deg
        numbers[f"weights_{name}_deg"] = float(engine.centrifugal_deg(rpm))
    return numbers


# ---- what an engine does with the throttle wide open -----------------------------------------------------------------

MOST_LOST_SHARE = 0.02  # of the torque over the whole pull, against the best that does not ping
NEARLY_DEG = 2.0
DRAWN_STEP_DEG = 0.5  # to which a curve is drawn


def under_the_limit(card: EngineCard, curve: Curve) -> Curve:
    """A curve moved up or down as a whole, as by turning the body, until it stays just below the limit of ping at sea
    level on the card's fuel, in half degrees."""
    pull = pull_of(card, SEA_LEVEL_DAY)
    speeds, degrees = zip(*curve, strict=True)
    room = (pull.latest_ping_deg - np.interp(pull.speed_rpm, speeds, degrees)).min()
    moved = float(np.floor(room / DRAWN_STEP_DEG)) * DRAWN_STEP_DEG
    return tuple((rpm, total_deg + moved) for rpm, total_deg in curve)


def pulled_on_the_cards_fuel(card: EngineCard, curve: Curve) -> PulledCurve:
    """A curve on the full pull at sea level on the fuel that the card names."""
    pull = pull_of(card, SEA_LEVEL_DAY)
    speeds, degrees = zip(*curve, strict=True)
    drawn = np.interp(pull.speed_rpm, speeds, degrees)
    over = drawn - pull.latest_ping_deg
    return PulledCurve(pull.speed_rpm, drawn, over, pull.torque_at(drawn), pull.best_silent_nm)


@curve_judge(
    under_the_limit,
    pulled_on_the_cards_fuel,
    met={"lost": float},
    pings={"speed": float},
    weak={"lost": float, "speed": float},
)
def full_throttle_on_the_cards_fuel(card: EngineCard, curve: Curve) -> CurveFinding:
    """A curve of total advance (base and weights) over speed, at sea level on the fuel that the card names: no ping
    from 1,100 to 2,800 rpm, and no more than 2 % of the torque lost against the best that does not ping. Half of the
    points where it pings by less than two degrees, or loses less than twice that."""
    pulled = pulled_on_the_cards_fuel(card, curve)
    over = pulled.over_deg
    if over.max() > 0.0:
        share = 0.5 if over.max() <= NEARLY_DEG else 0.0
        return CurveFinding("pings", share, {"speed": float(pulled.speed_rpm[over.argmax()])})
    lost = lost_share(card, SEA_LEVEL_DAY, pulled.drawn_deg)
    if lost <= MOST_LOST_SHARE:
        return CurveFinding("met", 1.0, {"lost": 100.0 * lost})
    short = pulled.best_silent_nm - pulled.torque_nm
    worst = float(pulled.speed_rpm[short.argmax()])
    return CurveFinding("weak", 0.5 if lost <= 2.0 * MOST_LOST_SHARE else 0.0, {"lost": 100.0 * lost, "speed": worst})


@answer(needs=("ron", "mon"), gives=("antiknock",))
def fuel_at_the_pump(_card: EngineCard | None, given: Mapping[str, float]) -> dict[str, float]:
    """The antiknock index of a fuel from its RON and MON. Key: antiknock_index."""
    return {"antiknock": float(antiknock_index(given["ron"], given["mon"]))}


def ambient_up_there_c(altitude_ft: float) -> float:
    """Temperature of the air [°C] at an altitude on a day of 20 °C at sea level.

    Source: us_standard_atmosphere_1976."""
    lapse_k = SEA_LEVEL_K - float(standard_temperature_k(metres_from_feet(altitude_ft)))
    return SEA_LEVEL_DAY.ambient_c - lapse_k


@answer(needs=("altitude_ft",), gives=("asked_at_the_sea", "asked_at_altitude", "asked_less"), needs_card=True)
def octane_at_altitude(card: EngineCard, given: Mapping[str, float]) -> dict[str, float]:
    """What the learner's own engine asks for at 1,100 rpm with the throttle wide open, at the base timing of its label:
    at sea level and 20 °C, to a whole number as a question shows it; at `altitude_ft`, in the cooler air that is usual
    there; and the difference [RON]."""
    engine, base = engine_for(card), card.setting.label_base_timing_deg
    at_sea, up_there = (
        float(
            engine.full_throttle(
                HARDEST_RPM, base, altitude_ft=altitude_ft, ambient_c=ambient_up_there_c(altitude_ft)
            ).octane_required_ron
        )
        for altitude_ft in (0.0, given["altitude_ft"])
    )
    return {"asked_at_the_sea": float(round(at_sea)), "asked_at_altitude": up_there, "asked_less": at_sea - up_there}
