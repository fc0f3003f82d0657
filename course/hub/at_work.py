"""The live view: at which lesson and exercise each learner is, and who does not get on; steps only, no answers.

Off unless the room was opened with --live. A learner's server reads the end of its own evidence when that has grown,
and tells the desk where the learner is; whose report it is, the hub says by the server's token.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import time
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from tornado import httpclient

from course.learner.lesson_folder import EVIDENCE_NAME

DESK = "TIMING_COURSE_DESK"  # where reports go
LOOKED_EVERY_S = 15.0
STUCK_AFTER_S = 600.0
STUCK_AFTER_TIMES = 5
LATEST_ACTS = 12  # among which the same act again and again shows
LAST_BYTES = 20_000
LONGEST_WORD = 80
FREE = frozenset({"read_gauges", "wait", "answer", "debriefed"})  # to do these again tells nothing


@dataclass(frozen=True)
class LearnersStep:
    """Where a learner is: lesson and exercise of the last act, how many acts the file holds, and the act that was done
    again and again, with how often, or nothing."""

    lesson: str
    exercise: str
    bytes: int
    again: str = ""
    times: int = 0


def step_in(folder: Path) -> LearnersStep | None:
    """The step of the evidence that grew last below a learner's folder; None where there is none. What was answered is
    left out."""
    files = [(path.stat().st_mtime, path) for path in folder.glob(f"*/{EVIDENCE_NAME}") if path.is_file()]
    if not files:
        return None
    _, path = max(files)
    with path.open("rb") as file:
        size = file.seek(0, os.SEEK_END)
        file.seek(max(size - LAST_BYTES, 0))
        lines = file.read().splitlines()
    events = [event for event in map(_event, lines) if event is not None]
    if not events:
        return LearnersStep(path.parent.name, "", size)
    exercise = events[-1][0]
    acts = [(control, repr(value)) for of, control, value in events[-LATEST_ACTS:] if of == exercise]
    counted = Counter(act for act in acts if act[0] not in FREE)
    ((control, _), times), *_ = counted.most_common(1) or [(("", ""), 0)]
    often = times >= STUCK_AFTER_TIMES
    return LearnersStep(path.parent.name, exercise, size, control if often else "", times if often else 0)


def _event(line: bytes) -> tuple[str, str, object] | None:
    try:
        found = json.loads(line)
        return str(found["exercise"]), str(found["control"]), found.get("value")
    except (ValueError, KeyError, TypeError, AttributeError):
        return None


async def tell_desk(folder: Path, told: Callable[[], None] = lambda: None) -> None:
    """Tell the desk each new step, for as long as the server runs; a learner at rest sends nothing."""
    before: LearnersStep | None = None
    client = httpclient.AsyncHTTPClient()
    while True:
        with contextlib.suppress(OSError, httpclient.HTTPError):  # the desk may be away; the next look tells it
            step = step_in(folder)
            if step is not None and step != before:
                await client.fetch(
                    os.environ[DESK],
                    method="POST",
                    headers={"Authorization": f"token {os.environ['JUPYTERHUB_API_TOKEN']}"},
                    body=json.dumps(asdict(step)),
                )
                before = step
                told()
        await asyncio.sleep(LOOKED_EVERY_S)


@dataclass(frozen=True)
class Seen:
    """A learner's latest step, when it came, and since when the learner is at that exercise [s, by one clock]."""

    step: LearnersStep
    at_s: float
    since_s: float

    def followed_by(self, step: LearnersStep, now_s: float) -> Seen:
        """The same learner at a later step."""
        stays = (step.lesson, step.exercise) == (self.step.lesson, self.step.exercise)
        return Seen(step, now_s, self.since_s if stays else now_s)

    def trouble(self, now_s: float) -> str:
        """Why somebody might go and look; nothing where there is no reason."""
        if self.step.times >= STUCK_AFTER_TIMES:
            return f"the same act {self.step.times} times: {self.step.again}"
        if now_s - self.at_s >= STUCK_AFTER_S:
            return "nothing done since"
        return ""


class WhoIsWhere:
    """What is known of everybody, for the desk; kept nowhere."""

    def __init__(self, now: Callable[[], float] = time.monotonic):
        self._now = now
        self._seen: dict[str, Seen] = {}

    def heard(self, learner: str, report: bytes) -> None:
        """Take in a learner's report. Raises ValueError where it is none."""
        step, now_s = _checked(json.loads(report)), self._now()
        before = self._seen.get(learner)
        self._seen[learner] = before.followed_by(step, now_s) if before else Seen(step, now_s, now_s)

    def rows(self) -> list[dict[str, Any]]:
        """A row for each learner, those first who do not get on."""
        now_s = self._now()
        rows = [
            {
                "learner": learner,
                "lesson": one.step.lesson,
                "exercise": one.step.exercise,
                "minutes_here": int((now_s - one.since_s) / 60),
                "minutes_quiet": int((now_s - one.at_s) / 60),
                "trouble": one.trouble(now_s),
            }
            for learner, one in self._seen.items()
        ]
        return sorted(rows, key=lambda row: (not row["trouble"], row["learner"]))


def _checked(found: Any) -> LearnersStep:
    if not isinstance(found, Mapping):
        raise ValueError("no report")
    words = [found.get(name, "") for name in ("lesson", "exercise", "again")]
    numbers = [found.get(name, 0) for name in ("bytes", "times")]
    if not all(isinstance(word, str) and word.isprintable() and len(word) <= LONGEST_WORD for word in words):
        raise ValueError("no report")
    if not all(isinstance(number, int) and 0 <= number < 1e9 for number in numbers):
        raise ValueError("no report")
    return LearnersStep(words[0], words[1], numbers[0], words[2], numbers[1])
