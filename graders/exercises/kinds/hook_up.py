"""Which hose goes where, on a picture of the fittings that every engine of the kind has."""

from __future__ import annotations

from graders.outcome import CriterionOutcome
from graders.schema import ExerciseRubric, Hose

from .common import (
    AnswerError,
    Kind,
    Parts,
    missing_part,
    need,
    need_different,
    need_known,
    need_sentences,
    part_outcome,
    parts_in,
    shared_out,
)

STARTS = {"gauge": "vacuum gauge", "canister": "vacuum advance canister", "booster": "brake booster"}
PORTS = {
    "manifold": "manifold fitting, below the throttle plate",
    "second_manifold": "second manifold fitting",
    "ported": "carburettor port, above the closed throttle plate",
    "air_cleaner": "fitting on the air cleaner",
    "canister": "vacuum advance canister",
    "plug": "a plug",
    "open": "nothing, left open",
}
ENDS_OF_THEIR_OWN = ("plug", "open")  # every hose can have one; the other ports take one hose each
NOT_CONNECTED = "This hose was not connected to anything."


def check_hook_up(exercise: ExerciseRubric) -> None:
    """Raise RubricError unless every hose has a right port and a sentence for every other one."""
    need_known(exercise.ports, PORTS, "ports")
    need(len(set(exercise.ports)) == len(exercise.ports) > 1, "ports needs two different ports or more")
    need_known(exercise.shared_ports, exercise.ports, "shared_ports")
    need(bool(exercise.hoses), "hoses needs one hose or more")
    need_different((hose.id for hose in exercise.hoses), "hoses")
    need_different((hose.start for hose in exercise.hoses), "hoses.start")
    for hose in exercise.hoses:
        _check_hose(exercise, hose)
    need(_can_be_done(exercise), "hoses: the allowed ports cannot all be used at once, since a port takes one hose")


def _check_hose(exercise: ExerciseRubric, hose: Hose) -> None:
    where = f"hoses.{hose.id}."
    need_known([hose.start], STARTS, f"{where}start")
    need_known(hose.allowed, exercise.ports, f"{where}allowed")
    need(bool(hose.allowed), f"{where}allowed needs one port or more")
    need_known((wrong.port for wrong in hose.wrong), exercise.ports, f"{where}wrong.port")
    both = {wrong.port for wrong in hose.wrong} & set(hose.allowed)
    need(not both, f"{where}wrong.port names '{next(iter(both), '')}', which is allowed too")
    need_sentences(exercise.sentences | hose.sentences, ("right", "wrong"), f"{where}sentences")


def _can_be_done(exercise: ExerciseRubric) -> bool:
    return right_hook_up(exercise) is not None


def right_hook_up(exercise: ExerciseRubric) -> dict[str, str] | None:
    """One way to connect every hose to an allowed port, or None where there is none."""

    def placed(hoses: tuple[Hose, ...], taken: frozenset[str]) -> dict[str, str] | None:
        if not hoses:
            return {}
        for port in hoses[0].allowed:
            rest = placed(hoses[1:], taken | _claimed(exercise, port)) if port not in taken else None
            if rest is not None:
                return {hoses[0].id: port} | rest
        return None

    return placed(exercise.hoses, frozenset())


def _claimed(exercise: ExerciseRubric, port: str) -> frozenset[str]:
    return frozenset() if port in (*ENDS_OF_THEIR_OWN, *exercise.shared_ports) else frozenset({port})


def parts_of_hook_up(exercise: ExerciseRubric) -> Parts:
    """Every hose, with an equal share of the points."""
    shares = shared_out(exercise.points, len(exercise.hoses))
    return [
        (f"{exercise.id}.{hose.id}", f"Hose {hose.label}", share)
        for hose, share in zip(exercise.hoses, shares, strict=True)
    ]


def read_hook_up(exercise: ExerciseRubric, value, _unit: str | None) -> dict[str, str | None]:
    """The port of every hose; None for one that is not connected."""
    found = parts_in(value, dict, "A table of hoses")
    hoses = {hose.id: hose for hose in exercise.hoses}
    if set(found) != set(hoses):
        raise AnswerError(f"The hoses {', '.join(hoses)} were wanted and {', '.join(found)[:80]} were found.")
    taken: dict[str, str] = {}
    for name, port in found.items():
        if port is None:
            continue
        if port not in exercise.ports:
            raise AnswerError(f"'{str(port)[:40]}' is none of the ports of this exercise.")
        if port in taken and _claimed(exercise, port):
            raise AnswerError(
                f"One fitting takes one hose: '{hoses[taken[port]].label}' and '{hoses[name].label}' are both on the "
                f"{PORTS[port]}; move one of them."
            )
        taken[port] = name
    if not any(found.values()):
        raise AnswerError("No hose is connected yet: connect at least one.")
    return found


def judge_hook_up(exercise: ExerciseRubric, answer: dict, _card) -> list[CriterionOutcome]:
    """Every hose by itself."""
    return [
        _judged(part, hose, exercise.sentences | hose.sentences, answer[hose.id])
        for part, hose in zip(parts_of_hook_up(exercise), exercise.hoses, strict=True)
    ]


def _judged(part, hose: Hose, sentences: dict[str, str], port: str | None) -> CriterionOutcome:
    if port is None:
        return missing_part(part, NOT_CONNECTED)
    if port in hose.allowed:
        return part_outcome(part, 1.0, sentences["right"])
    for wrong in hose.wrong:
        if wrong.port == port:
            return part_outcome(part, 0.0, wrong.sentence, wrong.misconception)
    return part_outcome(part, 0.0, sentences["wrong"])


HOOK_UP = Kind(
    frozenset({"ports", "shared_ports", "hoses", "sentences"}),
    check_hook_up,
    read_hook_up,
    judge_hook_up,
    parts_of_hook_up,
)
