"""The rules for slips: each spoils the act that it names, and nothing else."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from graders.model_answers.operator import WAIT_S, Operator

from .slips import act, after, before, in_turn, instead, off_by, slip, waiting, without

WORK = in_turn(act("crank", 8.0), act("hose", "on"), act("crank", 2.0), act("hose", "on"), act("read"))
PLAIN = [("crank", 8.0), ("hose", "on"), ("crank", 2.0), ("hose", "on"), ("read", None)]


class Recorder:
    """In the place of a session: keeps what is done and how long is waited."""

    def __init__(self):
        self.done, self.waits = [], []
        distributor = SimpleNamespace(rotor_turns="clockwise")
        self.engine = SimpleNamespace(card=SimpleNamespace(distributor=distributor))

    def act(self, control, value=None):
        """Keep the act; one with the value "unsafe" is stopped."""
        self.done.append((control, value))
        return SimpleNamespace(kind="stopped" if value == "unsafe" else "done")

    def advance(self, seconds):
        """Keep the wait."""
        self.waits.append(seconds)


def recorded(work) -> Recorder:
    """What the work does."""
    recorder = Recorder()
    work(Operator(recorder))
    return recorder


@pytest.mark.parametrize(
    ("rules", "done"),
    [
        ((), PLAIN),
        ((without("hose"),), [PLAIN[0], PLAIN[2], PLAIN[4]]),
        ((without("hose", number=2),), [*PLAIN[:3], PLAIN[4]]),
        ((without("crank", 2.0),), [*PLAIN[:2], *PLAIN[3:]]),
        ((instead("hose", "off", of="on", number=1),), [PLAIN[0], ("hose", "off"), *PLAIN[2:]]),
        ((off_by("crank", -1.0),), [("crank", 7.0), PLAIN[1], ("crank", 1.0), *PLAIN[3:]]),
        ((before("crank", act("hose", "off"), value=2.0),), [*PLAIN[:2], ("hose", "off"), *PLAIN[2:]]),
        (
            (after("hose", act("hose", "off"), number=1), without("hose", number=2)),
            [*PLAIN[:2], ("hose", "off"), PLAIN[2], PLAIN[4]],
        ),
    ],
)
def test_a_rule_spoils_the_act_that_it_names(rules, done):
    """By control, by value, and by number; extra work is neither counted nor spoilt."""
    assert recorded(slip(WORK, *rules)).done == done


def test_a_wait_is_changed_alone():
    """The same acts, with another wait after one of them."""
    found = recorded(slip(WORK, waiting("crank", 5.0, number=2)))
    assert found.done == PLAIN and found.waits == [WAIT_S, WAIT_S, 5.0, WAIT_S, WAIT_S]


def test_the_work_sees_the_outcome_of_its_own_act():
    """What comes of an act is returned, whatever extra work does; an act that is left out counts as done."""
    kinds = []

    def work(operator: Operator) -> None:
        kinds.extend(operator.do("hose", value) for value in ("unsafe", "on"))

    recorded(slip(work, after("hose", act("read"), number=1), without("hose", number=2)))
    assert kinds == ["stopped", "done"]


def test_a_rule_that_finds_no_act_is_refused():
    """A misspelt control or a number too high would test nothing."""
    for rule in (without("hoes"), without("hose", number=3), without("hose", "off")):
        with pytest.raises(AssertionError, match="nothing to spoil"):
            recorded(slip(WORK, rule))
