"""Every pattern that handbooks read from a vacuum gauge comes out of the cylinders, and one rule tells them apart."""

import pytest

from engine_sim import Engine, Session
from tests.further import behind
from tests.published.checks import Check
from tests.published.demo_engine import engine
from tests.published.needle import HOME_FT, given, read, watched
from tests.scripted_learner import SAFE

# What is wrong, the handbook's word for it, and on how many learners' engines of each kind it is watched: on the first
# two by every run, on the others where a change concerns them.
FIRST = 2
PATTERNS = [
    (None, "steady and normal", 7),
    ("late", "steady and low", 3),
    ("plenum_leak", "steady and low", 3),
    ("rings_weak", "steady and low", 3),
    ("valves_late", "steady and low", 3),
    ("gross_leak", "very low", 7),
    ("valve_burnt", "flicks in rhythm", 4),
    ("gasket_between", "flicks in rhythm", 4),
    ("valve_sticking", "drops now and then", 7),
    ("idle_lean", "drifts", 4),
    ("idle_rich", "drifts", 4),
    ("exhaust_blocked", "falls when held at speed", 7),
]


@pytest.mark.parametrize("kind", HOME_FT)
@pytest.mark.parametrize("first", behind(1, [True, False]), ids=["first", "others"])
@pytest.mark.parametrize(("fault", "word", "learners"), PATTERNS, ids=lambda value: str(value))
def test_the_needle_is_read_as_handbooks_have_it(fault, word, learners, first, kind):
    """One rule, which knows the needle alone, names the pattern of every fault on every learner's engine of a kind."""
    names = [f"w{number}" for number in (range(FIRST) if first else range(FIRST, learners))]
    read_as = {name: read(watched(kind, fault, name)) for name in names}
    assert read_as == dict.fromkeys(names, word)


def test_every_pattern_is_watched_on_twenty_engines():
    """Each of the handbook's words is put to the test on at least twenty engines."""
    for word in {word for _, word, _ in PATTERNS}:
        assert sum(learners for _, read_as, learners in PATTERNS if read_as == word) * len(HOME_FT) >= 20


def at_the_gauge(fault: str | None) -> Session:
    """The truck, warm and running at its label's timing, gauge on the manifold."""
    assignment, found = given("delivery_truck_six", fault, "gauge")
    session = Session(Engine(engine().card, assignment.wear), found=found)
    for control, value in {**SAFE, "gauge_hose": "manifold", "vacuum_hose": "off and plugged", "throttle": 0.1}.items():
        session.act(control, value)
    session.act("starter")
    session.advance(3.0)
    session.act("throttle", 0.0)
    session.advance(15.0)
    return session


def snap(which) -> float:
    """Lowest or highest vacuum in the three seconds after the throttle is snapped open and let go."""
    session, seen = at_the_gauge(None), []
    session.act("snap")
    for _ in range(150):
        session.advance(0.02)
        seen.append(session.readings().vacuum_inhg)
    return which(seen)


def idle_vacuum(fault: str) -> float:
    """Mean vacuum over five seconds at idle."""
    session, seen = at_the_gauge(fault), []
    for _ in range(250):
        session.advance(0.02)
        seen.append(session.readings().vacuum_inhg)
    return sum(seen) / len(seen)


CHECKS = [
    Check("snap_lowest", lambda: snap(min)),
    Check("snap_highest", lambda: snap(max)),
    Check("idle_vacuum_leak", lambda: idle_vacuum("valves_late")),
    Check("idle_vacuum_gross_leak", lambda: idle_vacuum("gross_leak")),
]


@pytest.mark.parametrize("check", CHECKS, ids=str)
def test_gauge(check):
    """The needle falls and rises with a snapped throttle, and stands low with faults, as common practice has it."""
    check.must_agree()
