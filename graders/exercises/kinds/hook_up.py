"""Which hose goes where, on a picture of the fittings that every engine of the kind has."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, ClassVar, Literal

from pydantic import Field
from pydantic.dataclasses import dataclass

from engine_sim import EngineCard, Header
from graders.outcome import CriterionOutcome, ExerciseResult
from graders.schema import AS_DECLARED

from .common import (
    AnswerError,
    Parts,
    as_text,
    in_short,
    misconceptions_in,
    missing_part,
    need,
    need_different,
    need_known,
    need_sentences,
    part_outcome,
    shared_out,
    table_in,
)
from .exercise import Exercise, ModelAnswer
from .tries import FIRST_THEN_HALF, earned_by_part

STARTS = {"gauge": "vacuum gauge", "canister": "vacuum unit", "booster": "brake booster"}
PORTS = {
    "manifold": "manifold fitting, below the throttle plate",
    "second_manifold": "second manifold fitting",
    "ported": "carburettor port, above the closed throttle plate",
    "air_cleaner": "fitting on the air cleaner",
    "canister": "vacuum unit",
    "plug": "a plug",
    "open": "nothing, left open",
}
ENDS_OF_THEIR_OWN = ("plug", "open")  # every hose can have one; the other ports take one hose each
NOT_CONNECTED = "This hose was not connected to anything."


@dataclass(frozen=True, config=AS_DECLARED)
class WrongPort:
    """A port that a known mistake leads to."""

    port: str
    sentence: str
    misconception: str | None = None


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class Hose:
    """A hose that begins at `start` and has to end at one of the `allowed` ports."""

    id: str
    label: str
    start: str
    allowed: tuple[str, ...]
    wrong: tuple[WrongPort, ...] = ()
    sentences: dict[str, str] = Field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, config=AS_DECLARED)
class HookUpExercise(Exercise):
    """`hoses` to put on `ports`. A port takes one hose, unless it is one of the `shared_ports`; `sentences` go for
    every hose that has none of its own."""

    kind: Literal["hook_up"]
    ports: tuple[str, ...] = ()
    shared_ports: tuple[str, ...] = ()
    hoses: tuple[Hose, ...] = ()
    sentences: dict[str, str] = Field(default_factory=dict)

    answers_count: ClassVar[tuple[float, ...]] = FIRST_THEN_HALF

    def check(self) -> None:
        """Raise RubricError unless every hose has a right port and a sentence for every other one."""
        need_known(self.ports, PORTS, "ports")
        need(len(set(self.ports)) == len(self.ports) > 1, "ports needs two different ports or more")
        need_known(self.shared_ports, self.ports, "shared_ports")
        need(bool(self.hoses), "hoses needs one hose or more")
        need_different((hose.id for hose in self.hoses), "hoses")
        need_different((hose.start for hose in self.hoses), "hoses.start")
        for hose in self.hoses:
            self._check_hose(hose)
        can_be_done = self.right_hook_up() is not None
        need(can_be_done, "hoses: the allowed ports cannot all be used at once, since a port takes one hose")

    def _check_hose(self, hose: Hose) -> None:
        where = f"hoses.{hose.id}."
        need_known([hose.start], STARTS, f"{where}start")
        need_known(hose.allowed, self.ports, f"{where}allowed")
        need(bool(hose.allowed), f"{where}allowed needs one port or more")
        need_known((wrong.port for wrong in hose.wrong), self.ports, f"{where}wrong.port")
        both = {wrong.port for wrong in hose.wrong} & set(hose.allowed)
        need(not both, f"{where}wrong.port names '{next(iter(both), '')}', which is allowed too")
        need_sentences(self.sentences | hose.sentences, ("right", "wrong"), f"{where}sentences")

    def right_hook_up(self) -> dict[str, str] | None:
        """One way to connect every hose to an allowed port, or None where there is none."""

        def placed(hoses: tuple[Hose, ...], taken: frozenset[str]) -> dict[str, str] | None:
            if not hoses:
                return {}
            for port in hoses[0].allowed:
                rest = placed(hoses[1:], taken | self._claimed(port)) if port not in taken else None
                if rest is not None:
                    return {hoses[0].id: port} | rest
            return None

        return placed(self.hoses, frozenset())

    def _claimed(self, port: str) -> frozenset[str]:
        return frozenset() if port in (*ENDS_OF_THEIR_OWN, *self.shared_ports) else frozenset({port})

    def parts(self) -> Parts:
        """Every hose, with an equal share of the points."""
        shares = shared_out(self.points, len(self.hoses))
        return [
            (f"{self.id}.{hose.id}", f"Hose {hose.label}", share)
            for hose, share in zip(self.hoses, shares, strict=True)
        ]

    def read(self, value: object, unit: str | None) -> dict[str, str | None]:
        """The port of every hose; None for one that is not connected."""
        hoses = {hose.id: hose for hose in self.hoses}
        found = table_in(value, hoses, "A table of hoses", "hoses")
        taken: dict[str, str] = {}
        for name, port in found.items():
            if port is None:
                continue
            if port not in self.ports:
                raise AnswerError(f"'{in_short(port)}' is none of the ports of this exercise.")
            if port in taken and self._claimed(port):
                both = f"'{hoses[taken[port]].label}' and '{hoses[name].label}'"
                raise AnswerError(
                    f"One fitting takes one hose: {both} are both on the {PORTS[port]}; move one of them."
                )
            taken[port] = name
        if not any(found.values()):
            raise AnswerError("No hose is connected yet: connect at least one.")
        return found

    def judge(self, answer: dict[str, str | None], card: EngineCard | None) -> list[CriterionOutcome]:
        """Every hose by itself."""
        return [
            _judged(part, hose, self.sentences | hose.sentences, answer[hose.id])
            for part, hose in zip(self.parts(), self.hoses, strict=True)
        ]

    def earned(self, tries: Sequence[tuple[Any, ExerciseResult]]) -> ExerciseResult:
        """Every hose by itself."""
        return earned_by_part(self, (hose.id for hose in self.hoses), tries)

    def model_answer(self) -> ModelAnswer:
        """Every hose on a port that is allowed."""
        return ModelAnswer(as_text(self.right_hook_up()))

    def answer_in_words(self, header: Header, engines: Path) -> str:
        """Every hose with the ports that are allowed."""
        return "; ".join(f"{hose.label}: {' or '.join(hose.allowed)}" for hose in self.hoses)

    def form_traits(self) -> dict:
        """Where the hoses begin, and the ports by id and name."""
        return {
            "hoses": [{"id": hose.id, "label": hose.label, "start": hose.start} for hose in self.hoses],
            "ports": [[port, PORTS[port]] for port in self.ports],
        }

    def misconceptions(self) -> set[str]:
        """Those behind the wrong ports of every hose."""
        return misconceptions_in(wrong for hose in self.hoses for wrong in hose.wrong)

    def texts(self) -> list[str]:
        """The labels of the hoses."""
        return [hose.label for hose in self.hoses]


def _judged(part, hose: Hose, sentences: dict[str, str], port: str | None) -> CriterionOutcome:
    if port is None:
        return missing_part(part, NOT_CONNECTED)
    if port in hose.allowed:
        return part_outcome(part, 1.0, sentences["right"])
    for wrong in hose.wrong:
        if wrong.port == port:
            return part_outcome(part, 0.0, wrong.sentence, wrong.misconception)
    return part_outcome(part, 0.0, sentences["wrong"])
