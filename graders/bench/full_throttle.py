"""Full-throttle tables, worked out by the judge: where an engine pulls hardest, where it pings, what torque it loses.

All of it is for a pull with the throttle wide open, where the vacuum unit adds nothing, on a sound engine.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from engine_sim import FUELS, TRACE_OF_PING, Conditions, Engine, EngineCard, FullThrottle, ping_share, weights_from

from .engine_cache import engine_for
from .reference import pull_rpm

TIMINGS_DEG = np.arange(-12.0, 56.5, 1.0)  # total advances that are tried [crank deg BTDC]
WHOLE_PULL_RPM = np.arange(1100.0, 2801.0, 100.0)  # the speeds over which torque is compared
SEARCHED_BASE_DEG = (-24.0, 46.0, 0.5)  # base timings at which torque is compared: from, to, step [crank deg BTDC]
QUIET_UP_TO_OCTANE = 4.0  # octane numbers of margin: with so much, nothing pings
QUIET_STEP_OCTANE = 0.01  # octane numbers; finer than the ear
FLAT_TOP_SHARE = 0.005  # of the torque: what the flat top may give up; calibration


@dataclass(frozen=True)
class Pull:
    """The throttle wide open: speed [rpm] and total advance [crank deg BTDC] in one dimension; torque [N m] and margin
    of the fuel [octane numbers] in two, by speed and total advance."""

    speed_rpm: np.ndarray
    total_deg: np.ndarray
    torque_nm: np.ndarray
    margin_octane: np.ndarray

    @functools.cached_property
    def latest_ping_deg(self) -> np.ndarray:
        """The total advance [crank deg BTDC] at which a trace of ping can just be heard, at each speed."""
        silent = quiet_margin_octane()
        return np.array([_falls_through(self.total_deg, row, silent) for row in self.margin_octane])

    def torque_at(self, total_deg: np.ndarray) -> np.ndarray:
        """The torque [N m] at each speed for a total advance [crank deg BTDC] at each speed."""
        return np.array(
            [np.interp(deg, self.total_deg, row) for deg, row in zip(total_deg, self.torque_nm, strict=True)]
        )

    @functools.cached_property
    def best_silent_nm(self) -> np.ndarray:
        """The highest torque [N m] at each speed of all advances that do not ping."""
        allowed = self.total_deg[None, :] <= self.latest_ping_deg[:, None]
        edge = self.torque_at(self.latest_ping_deg)
        return np.maximum(np.where(allowed, self.torque_nm, -np.inf).max(axis=1), edge)


def _falls_through(x: np.ndarray, falling: np.ndarray, value: float) -> float:
    """The x at which a falling line reaches a value; the first or last x where it never does."""
    return float(np.interp(-value, -falling, x))


@functools.cache
def quiet_margin_octane() -> float:
    """The smallest margin of a fuel [octane numbers] at which so few cycles ping that nobody hears a trace of it."""
    margins = np.arange(0.0, QUIET_UP_TO_OCTANE, QUIET_STEP_OCTANE)
    return float(next(margin for margin in margins if ping_share(margin) < TRACE_OF_PING))


@functools.lru_cache(maxsize=64)
def pull_of(card: EngineCard, conditions: Conditions) -> Pull:
    """The engine of a card pulling on a day, at all speeds and total advances that are compared."""
    state = _wide_open(card, conditions.altitude_ft, conditions.ambient_c, conditions.humidity_percent)
    octane = engine_for(card).fuel_octane(conditions, WHOLE_PULL_RPM[:, None])
    return Pull(WHOLE_PULL_RPM, TIMINGS_DEG, state.torque_nm, octane - state.octane_required_ron)


@functools.lru_cache(maxsize=64)
def _wide_open(card: EngineCard, altitude_ft: float, ambient_c: float, humidity_percent: float) -> FullThrottle:
    """The same for any fuel: neither the torque nor the octane that an engine needs depends on what is in the tank."""
    engine, speed = engine_for(card), WHOLE_PULL_RPM[:, None]
    base = TIMINGS_DEG[None, :] - engine.centrifugal_deg(speed)
    return engine.full_throttle(
        speed, base, altitude_ft=altitude_ft, ambient_c=ambient_c, humidity_percent=humidity_percent
    )


def with_fuel(conditions: Conditions, fuel: str) -> Conditions:
    """The same day with another fuel in the tank, as the bench calls it; "as found" is the day's own."""
    if fuel not in FUELS:
        return conditions
    ron, mon = FUELS[fuel]
    return Conditions(conditions.altitude_ft, conditions.ambient_c, ron, mon, conditions.humidity_percent)


def weights_deg(card: EngineCard, settings: Mapping | None, speed_rpm: np.ndarray) -> np.ndarray:
    """The advance of the weights [crank deg] at each speed, with the springs and the stop of these settings, or as the
    card has them."""
    engine = engine_for(card)
    if settings is None:
        return engine.centrifugal_deg(speed_rpm)
    return weights_from(engine, settings).advance_deg(speed_rpm)


def earliest_silent_deg(card: EngineCard, conditions: Conditions, settings: Mapping | None = None) -> float:
    """The earliest base timing [crank deg BTDC] at which nothing is heard on the full pull of the road check.

    `settings` hold springs and stop where they are not the card's own.
    """
    pull = pull_of(card, conditions)
    lowest_rpm, highest_rpm = pull_rpm(card, conditions)
    heard = (pull.speed_rpm >= min(lowest_rpm, pull.speed_rpm[-1])) & (pull.speed_rpm <= highest_rpm)
    room = pull.latest_ping_deg - weights_deg(card, settings, pull.speed_rpm)
    return float(room[heard].min())


def lost_share(card: EngineCard, conditions: Conditions, total_deg: np.ndarray) -> float:
    """The share of the torque over the whole pull (0 to 1) that these total advances [crank deg BTDC], one for each
    speed, lose against the best that do not ping."""
    pull = pull_of(card, conditions)
    return float(1.0 - pull.torque_at(total_deg).sum() / pull.best_silent_nm.sum())


def lost_by_parts(card: EngineCard, conditions: Conditions, settings: Mapping) -> float:
    """The same for springs and a stop, with the base timing as early as they allow."""
    base = earliest_silent_deg(card, conditions, settings)
    return lost_share(card, conditions, base + weights_deg(card, settings, WHOLE_PULL_RPM))


@dataclass(frozen=True)
class PullOverLead:
    """Torque [N m] over total advance [crank deg BTDC] at one speed, throttle wide open; arrays of one shape."""

    lead_deg: np.ndarray
    torque_nm: np.ndarray

    def share_of_best(self, lead_deg: float) -> float:
        """The torque at a total advance [crank deg BTDC] over the highest; beyond those that were tried, as at the last
        of them."""
        return float(np.interp(lead_deg, self.lead_deg, self.torque_nm) / self.torque_nm.max())

    def flat_top_deg(self, less: float) -> tuple[float, float]:
        """The latest and the earliest total advance [crank deg BTDC] that give up no more than the share `less` of the
        best torque."""
        flat = self.lead_deg[self.torque_nm >= (1.0 - less) * self.torque_nm.max()]
        return float(flat[0]), float(flat[-1])

    @property
    def best_deg(self) -> float:
        """The middle of the top that gives up no more than `FLAT_TOP_SHARE` [crank deg BTDC]."""
        return sum(self.flat_top_deg(FLAT_TOP_SHARE)) / 2.0


@functools.lru_cache(maxsize=256)
def pull_over_lead(engine: Engine, speed_rpm: float, altitude_ft: float) -> PullOverLead:
    """Torque over total advance of one engine, weights in place and hose off. Raises OutsideValidity outside 200 to
    6,000 rpm."""
    found = engine.full_throttle(np.array([speed_rpm]), np.arange(*SEARCHED_BASE_DEG), altitude_ft=altitude_ft)
    return PullOverLead(found.total_advance_deg.ravel(), found.torque_nm.ravel())
