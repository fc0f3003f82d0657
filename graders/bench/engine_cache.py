"""Engines that are made once and then shared, so that all who judge one learner's work load its maps once."""

from __future__ import annotations

import functools

from engine_sim import SOUND, Engine, EngineCard, Wear


def engine_for(card: EngineCard, wear: Wear = SOUND) -> Engine:
    """The engine of a card in a state of wear."""
    return _made(card, wear)  # a cache tells f(card) from f(card, SOUND), which are the same engine


@functools.lru_cache(maxsize=32)
def _made(card: EngineCard, wear: Wear) -> Engine:
    return Engine(card, wear)
