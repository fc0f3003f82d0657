"""What hostile and unlucky hand-ins of lesson l04 are made of, and the list on which each builder puts itself.

Their sound evidence holds the four answers that need no person and the written one, and no work at the bench, so that
each is written in a moment; what they may earn is these four answers' points or nothing. The evidence is written here
from its description (a digest chained through SHA-256, first 32 hexadecimal digits), not by the course's own writer:
whoever forges a file is not held to that writer's rules.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import course
from engine_sim import MODEL_VERSION
from tests import scripted_learner

LESSON, BENCH = "l04_base_timing", "l04_set_base_timing"
PAGE, EVIDENCE = f"{LESSON}.ipynb", "evidence.jsonl"
ANSWERS = tuple((exercise, value, unit) for exercise, value, unit in scripted_learner.RIGHT_ANSWERS)
SCRIPT = (
    "<script>alert(1)</script><img src=x onerror=alert(4)> [x](javascript:alert(2)) $\\href{javascript:alert(3)}{x}$"
)
ANSWERED, CHOSEN, NOTHING = "the answers", "the choices", "nothing"
WAITS = "written answer waits"

LayDown = Callable[[Path, str, str], None]


@dataclass(frozen=True)
class Hostile:
    """One hand-in: how it is laid down, in a folder of what name, what it earns, and words that the summary says of it.

    `judged` is False where the folder's name cannot be a learner's id, so that the gradebook has no line for it.
    """

    lay_down: LayDown
    learner: str
    earns: str
    says: str
    judged: bool = True


HOSTILE: list[Hostile] = []


def hostile(earns: str, says: str = WAITS, learner: str = "", judged: bool = True):
    """Put a builder on the list; it is handed in by `learner`, or by somebody of the builder's own name."""

    def put(function: LayDown) -> LayDown:
        HOSTILE.append(Hostile(function, learner or function.__name__, earns, says, judged))
        return function

    return put


def beside_honest_work(says: str = WAITS):
    """Put a builder on the list that does something to a folder in which the right answers were laid down, which must
    earn their points all the same."""

    def put(function: Callable[[Path], None]) -> LayDown:
        def lay_down(folder: Path, learner: str, class_id: str) -> None:
            answered(folder, learner, class_id)
            function(folder)

        HOSTILE.append(Hostile(lay_down, function.__name__, ANSWERED, says))
        return lay_down

    return put


def source_of_one_lesson(folder: Path, lesson: str = LESSON) -> Path:
    """A folder of lessons that holds one alone, for classes in which the other lessons would only cost time."""
    shutil.copytree(course.SOURCE / lesson, folder / lesson)
    return folder


def header(learner: str, class_id: str, **changes) -> dict:
    """The first line of a learner's evidence."""
    digest = scripted_learner.engine_of(learner, class_id).card.digest
    return {
        "learner": learner,
        "lesson": LESSON,
        "class_id": class_id,
        "engine": digest,
        "schema": 1,
        "created": scripted_learner.CREATED,
        "model": MODEL_VERSION,
    } | changes


def answer(exercise: str, value, unit: str | None = None, time_s: float = 1.0, control: str = "answer") -> dict:
    """One event."""
    return {"time_s": time_s, "exercise": exercise, "control": control, "value": value, "unit": unit}


def chained(contents: Iterable[Mapping]) -> list[bytes]:
    """Lines with their digests, as somebody who knows the format can write them."""
    digest, lines = "", []
    for content in contents:
        text = json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        digest = hashlib.sha256((digest + text).encode()).hexdigest()[:32]
        lines.append(
            json.dumps(
                {**content, "digest": digest}, sort_keys=True, ensure_ascii=False, separators=(",", ":")
            ).encode()
            + b"\n"
        )
    return lines


def right_answers() -> list[dict]:
    """The events of all answers, right ones."""
    return [answer(exercise, value, unit) for exercise, value, unit in ANSWERS]


def answered(folder: Path, learner: str, class_id: str, *more: Mapping, **changes) -> list[bytes]:
    """Write evidence of the right answers and `more` events under a header with `changes`; return its lines."""
    lines = chained([header(learner, class_id, **changes), *right_answers(), *more])
    (folder / EVIDENCE).write_bytes(b"".join(lines))
    return lines


def rewritten(folder: Path, lines: Iterable[bytes]) -> None:
    """Put other lines in the place of the evidence."""
    (folder / EVIDENCE).write_bytes(b"".join(lines))


def change(folder: Path, alter: Callable[[dict], object]) -> None:
    """Let `alter` change the notebook's JSON."""
    content = json.loads((folder / PAGE).read_text(encoding="utf-8"))
    alter(content)
    (folder / PAGE).write_text(json.dumps(content), encoding="utf-8")


def change_marks(folder: Path, alter: Callable[[dict], object]) -> None:
    """Let `alter` change nbgrader's marks of every cell that has some."""
    change(
        folder,
        lambda content: [
            alter(cell["metadata"]["nbgrader"]) for cell in content["cells"] if "nbgrader" in cell["metadata"]
        ],
    )


def trap_of(folder: Path) -> Path:
    """The file that exists if code of this hand-in was run: in the class folder, named for the learner."""
    return folder.parents[2] / f"was_run_by_{folder.parent.name}"


def code_everywhere(folder: Path, source: str) -> None:
    """Put code that springs the trap and then does `source` into every code cell and into a new first one."""
    code = f"open({str(trap_of(folder))!r}, 'w').close()\n{source}"

    def plant(content: dict) -> None:
        for cell in content["cells"]:
            if cell["cell_type"] == "code":
                cell["source"] = code
        content["cells"].insert(
            0,
            {
                "cell_type": "code",
                "id": "first",
                "metadata": {},
                "outputs": [],
                "execution_count": None,
                "source": code,
            },
        )

    change(folder, plant)
