"""A cache of engines, so that everything that judges one learner's work loads its maps once."""

from __future__ import annotations

import functools

from engine_sim import SOUND, Engine, EngineCard, Wear


def engine_for(card: EngineCard, wear: Wear = SOUND) -> Engine:
    """The engine of a card in a state of wear, the same object every time."""
    return _made(card, wear)  # by both arguments, since the cache tells f(card) from f(card, SOUND)


@functools.lru_cache(maxsize=32)
def _made(card: EngineCard, wear: Wear) -> Engine:
    return Engine(card, wear)
