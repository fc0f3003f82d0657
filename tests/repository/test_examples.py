"""The examples that people copy: those in the docstrings of engine_sim's door, and the one in DEVELOPERS.md."""

from __future__ import annotations

import doctest
from pathlib import Path

import pytest

import engine_sim

ROOT = Path(__file__).parents[2]
FEWEST = 10  # things of the door that have an example
FINDER = doctest.DocTestFinder(exclude_empty=True)
OF_THE_DOOR = {
    example.name: example
    for name in engine_sim.__all__
    if callable(getattr(engine_sim, name))
    for example in FINDER.find(getattr(engine_sim, name), name)
    if example.examples
}


@pytest.fixture(autouse=True)
def at_the_root(monkeypatch):
    """Examples name files as seen from the checkout."""
    monkeypatch.chdir(ROOT)


@pytest.mark.parametrize("name", OF_THE_DOOR)
def test_an_example_of_the_door_shows_what_comes_of_it(name):
    """What a docstring shows is what Python answers."""
    assert doctest.DocTestRunner().run(OF_THE_DOOR[name]).failed == 0


def test_the_door_has_examples():
    """At least ten things of the door have an example, the engine and the session among them."""
    assert len(OF_THE_DOOR) >= FEWEST and {"Engine.idle", "Session", "load_card"} <= set(OF_THE_DOOR)


def test_the_example_for_contributors_shows_what_comes_of_it():
    """DEVELOPERS.md shows the engine alone, with what Python answers."""
    found = doctest.testfile(str(ROOT / "DEVELOPERS.md"), module_relative=False)
    assert found.attempted >= FEWEST and found.failed == 0
