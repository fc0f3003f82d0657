"""Slips at the bench: small rules that spoil single acts while the faultless work of a lesson runs.

    slip(first_moves, without("wait_until_warm"), instead("gauge_hose", "ported", of="manifold"))

Each rule names a control. With `value` (or `of`) it is about the acts that set this value alone; with `number`, about
the first, second … of these. Work that differs in more than single acts is put together with `in_turn`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from engine_sim import Session
from graders.model_answers import road
from graders.model_answers.operator import WAIT_S, Operator, Work

Value = str | float | None


@dataclass(frozen=True)
class Act:
    """One use of a control, and the seconds after it."""

    control: str
    value: Value
    wait_s: float


def nothing(operator: Operator) -> None:
    """No extra work."""


def as_it_is(act: Act) -> Act:
    """The act unchanged."""
    return act


@dataclass(frozen=True, kw_only=True)
class Rule:
    """The extra work before and after the acts that are meant, and the act that is done in the place of each."""

    control: str
    value: Value = None
    number: int | None = None
    before: Work = nothing
    change: Callable[[Act], Act | None] = as_it_is
    after: Work = nothing

    def means_last(self, acts: Sequence[Act]) -> bool:
        """Whether the last of the acts so far is meant."""
        alike = [one.control == self.control and self.value in (None, one.value) for one in acts]
        return alike[-1] and self.number in (None, sum(alike))


class CarelessOperator(Operator):
    """An operator whose acts are spoilt by rules; the extra work of a rule is done as it is written."""

    def __init__(self, session: Session, rules: Sequence[Rule]):
        super().__init__(session)
        self.unused, self.rules = list(rules), rules
        self.acts: list[Act] = []  # as the faultless work has them

    def do(self, control: str, value: Value = None, wait_s: float = WAIT_S) -> str:
        """Do what the rules make of the act; one that is left out counts as done."""
        self.acts.append(Act(control, value, wait_s))
        act: Act | None = self.acts[-1]
        rules = [rule for rule in self.rules if rule.means_last(self.acts)]
        self.unused = [rule for rule in self.unused if rule not in rules]
        careful = Operator(self.session)
        for rule in rules:
            rule.before(careful)
            act = act and rule.change(act)
        kind = careful.do(act.control, act.value, act.wait_s) if act else "done"
        for rule in rules:
            rule.after(careful)
        return kind


def slip(work: Work, *rules: Rule) -> Work:
    """The work with these slips; AssertionError where one of them found no act to spoil."""

    def spoilt_work(operator: Operator) -> None:
        careless = CarelessOperator(operator.session, rules)
        work(careless)
        assert not careless.unused, f"nothing to spoil for {careless.unused}"

    return spoilt_work


def without(control: str, value: Value = None, number: int | None = None) -> Rule:
    """Leave the act out, and its wait."""
    return Rule(control=control, value=value, number=number, change=lambda act: None)


def instead(control: str, other: Value, of: Value = None, number: int | None = None) -> Rule:
    """Set another value."""
    return Rule(control=control, value=of, number=number, change=lambda act: replace(act, value=other))


def off_by(control: str, amount: float, number: int | None = None) -> Rule:
    """Set a value that lies this much higher."""
    return Rule(control=control, number=number, change=lambda act: replace(act, value=act.value + amount))


def waiting(control: str, wait_s: float, number: int | None = None) -> Rule:
    """Wait for other seconds after the act."""
    return Rule(control=control, number=number, change=lambda act: replace(act, wait_s=wait_s))


def before(control: str, extra: Work, value: Value = None, number: int | None = None) -> Rule:
    """Do something more before the act."""
    return Rule(control=control, value=value, number=number, before=extra)


def after(control: str, extra: Work, value: Value = None, number: int | None = None) -> Rule:
    """Do something more after the act."""
    return Rule(control=control, value=value, number=number, after=extra)


def in_turn(*works: Work) -> Work:
    """One work after the other."""

    def work(operator: Operator) -> None:
        for one in works:
            one(operator)

    return work


def act(control: str, value: Value = None, wait_s: float = WAIT_S) -> Work:
    """A single act, whatever comes of it."""
    return lambda operator: operator.do(control, value, wait_s)


def turned(crank_degrees: float) -> Work:
    """The body turned towards advance, engine off, with the clamp loosened for it and tightened again."""
    return lambda operator: road.turn(operator, crank_degrees)


def driven(route: str | None = None) -> Work:
    """One drive on that road, or on the one driven before."""
    return lambda operator: road.drive(operator, route)
