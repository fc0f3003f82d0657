"""What hand-ins of one lesson have in common that two people's work hardly has, as remarks for the instructor.

Nobody loses a point by them: two may have worked side by side, and a program that works for a learner may be a tool
that this learner needs. The lines are compared as they are written, without the seal of each, so that a class of
hundreds is looked through in a second.
"""

from __future__ import annotations

import hashlib
import re
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from engine_sim import LARGEST_FILE_BYTES

FEWEST_ACTS = 8  # of one exercise, with their times, that two people hardly have in common
FEWEST_EXERCISES = 3  # answered within one second, which no hand does
AT_ONCE_S = 1.0
_SEAL = re.compile(rb'"digest":"[0-9a-f]{32}",?')
_EXERCISE = re.compile(rb'"exercise":"([^"\\]{1,80})"')
_TIME = re.compile(rb'"time_s":([0-9.]{1,12})')
_BEGIN, _ANSWER = b'"control":"begin"', b'"control":"answer"'


@dataclass(frozen=True)
class Traits:
    """Of one hand-in: a digest of each exercise's acts with their times, and what was answered when."""

    acts: Mapping[str, str]
    at_once: tuple[str, ...] = ()


def traits_of(path: Path) -> Traits:
    """Read one file of evidence as bytes; one that cannot be read, lies behind a link or is too large has no traits."""
    try:
        is_linked = any(place.is_symlink() for place in (path, path.parent, path.parent.parent))
        if is_linked or not path.is_file() or path.stat().st_size > LARGEST_FILE_BYTES:
            return Traits({})
        lines = path.read_bytes().split(b"\n")[1:]
    except OSError:
        return Traits({})
    digests: dict[str, hashlib._Hash] = defaultdict(hashlib.sha256)
    counts: dict[str, int] = defaultdict(int)
    times: dict[str, list[float]] = defaultdict(list)
    for line in lines:
        exercise, time_s = _EXERCISE.search(line), _TIME.search(line)
        if not exercise or not time_s or _BEGIN in line:
            continue
        name = exercise[1].decode("utf-8", "replace")
        digests[name].update(_SEAL.sub(b"", line))
        counts[name] += 1
        if _ANSWER in line and _seconds(time_s[1]) > 0.0:  # a computer whose clock went back writes noughts
            times[name].append(_seconds(time_s[1]))
    acts = {name: digest.hexdigest() for name, digest in digests.items() if counts[name] >= FEWEST_ACTS}
    return Traits(acts, _at_once(times))


def _seconds(text: bytes) -> float:
    try:
        return float(text)
    except ValueError:
        return 0.0


def _at_once(times: Mapping[str, list[float]]) -> tuple[str, ...]:
    """The most exercises that were wholly answered within one second of the page's clock."""
    spans = sorted((found[0], found[-1], name) for name, found in times.items() if found[-1] - found[0] < AT_ONCE_S)
    best: list[str] = []
    for first, _, _ in spans:
        inside = [name for begin, end, name in spans if first <= begin and end < first + AT_ONCE_S]
        best = max(best, inside, key=len)
    return tuple(best) if len(best) >= FEWEST_EXERCISES else ()


def remarks_on(hand_ins: Mapping[str, Path]) -> dict[str, tuple[str, ...]]:
    """Sentences by learner, from the path of each learner's evidence."""
    traits = {learner: traits_of(path) for learner, path in hand_ins.items()}
    alike: dict[tuple[str, str], list[str]] = defaultdict(list)
    for learner, found in traits.items():
        for one in found.acts.items():
            alike[one].append(learner)
    remarks: dict[str, list[str]] = defaultdict(list)
    with_others: dict[str, dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    for (exercise, _), learners in alike.items():
        for learner in learners if len(learners) > 1 else ():
            others = ", ".join(other for other in learners if other != learner)
            with_others[learner][others].append(exercise)
    for learner, by_others in with_others.items():
        for others, exercises in by_others.items():
            remarks[learner].append(
                f"Every act in {', '.join(exercises)} has the same time and value as in the work of {others}: ask both "
                "to show how they did it."
            )
    for learner, found in traits.items():
        if found.at_once:
            remarks[learner].append(
                f"{len(found.at_once)} exercises were answered within one second: {', '.join(found.at_once)}. A "
                "program may have answered; ask how it was done."
            )
    return {learner: tuple(sentences) for learner, sentences in remarks.items()}
