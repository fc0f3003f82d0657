"""One hand-in with everything that its verdict depends on, and the key by which a verdict is known again."""

from __future__ import annotations

import functools
import hashlib
from dataclasses import dataclass
from pathlib import Path

import engine_sim

from . import hand_in
from .roster import Roster, whose
from .rubrics import rubric_path

OWN_RUBRICS = "rubrics"
# Modules of graders/ that no verdict depends on: whatever else is there or comes is part of the key.
_NO_VERDICT = {
    "classroom.py",
    "report.py",
    "report_pictures.py",
    "ahead.py",
    "gradebook.py",
    "palette.py",
    "rubric_check.py",
    "reference_try.py",
    "nbgrader_collect.py",
}


@dataclass(frozen=True)
class ToJudge:
    """A learner's hand-in: `name` is how its evidence calls the learner, `rubrics` the folder of the class's own."""

    learner: str
    lesson: str
    found: hand_in.HandIn
    name: str
    engines: Path
    rubrics: Path | None = None

    @property
    def has_rubric(self) -> bool:
        """Whether the judge judges this lesson: one without a rubric is an instructor's own, with code to be run."""
        return rubric_path(self.lesson, self.rubrics).is_file()

    @property
    def arguments(self) -> tuple:
        """What judge_lesson takes."""
        return self.lesson, self.found.evidence, self.engines, self.name, self.rubrics

    def key(self) -> str:
        """A digest of the hand-in, the name, the rubric, the engine cards and the code: the same, the same verdict."""
        total = hashlib.sha256(f"{self.found.digest()}\n{self.name}\n{_code()}".encode("utf-8", "surrogatepass"))
        for path in (rubric_path(self.lesson, self.rubrics), *sorted(self.engines.glob("*.toml"))):
            total.update(path.read_bytes() if path.is_file() else b"none")
        return total.hexdigest()[:32]


def own_rubrics(root: Path) -> Path | None:
    """The folder of the class's own rubrics, or None where it has none."""
    folder = Path(root) / OWN_RUBRICS
    return folder if folder.is_dir() else None


def to_judge(root: Path, submitted: str, learner: str, lesson: str, engines: Path) -> ToJudge:
    """The hand-in in the learner's own folder, as nbgrader's own command finds it."""
    found = hand_in.look_at(root, submitted, learner, lesson)
    name = whose(Roster.of(root, [learner]), learner, found.folder).name
    return ToJudge(learner, lesson, found, name, engines, own_rubrics(root))


@functools.cache
def _code() -> str:
    """A digest of the code and the tables that a verdict is worked out with: the engine's and the judge's."""
    engine, judge = Path(engine_sim.__file__).parent, Path(__file__).parent
    code = [path for folder in (engine, judge) for path in folder.rglob("*.py") if path.parent.name != "tries"]
    files = [path for path in (*code, *engine.glob("*.toml")) if path.name not in _NO_VERDICT]
    total = hashlib.sha256()
    for path in sorted(files):
        total.update(path.name.encode() + b"\n" + path.read_bytes())
    return total.hexdigest()
