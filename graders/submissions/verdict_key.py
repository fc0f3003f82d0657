"""One hand-in with everything that its verdict depends on, and the key that identifies a verdict."""

from __future__ import annotations

import functools
import hashlib
from dataclasses import dataclass
from pathlib import Path

import engine_sim
import graders
from engine_sim import TimingCourseError
from engine_sim.version import code_digest
from graders.exercises.loader import OWN_RUBRICS, cards_folder, own_cards, rubric_path

from .folder import Submission, look_at
from .roster import Roster, whose

# Rooms of graders/ that no verdict depends on, and the rubrics, of which each key holds its own.
NO_VERDICT = {"classroom", "model_answers", "palette", "rubrics"}


@dataclass(frozen=True)
class ToJudge:
    """A learner's hand-in: `name` is how its evidence calls the learner, `rubrics` the folder of the class's own (and
    beside it that of its own engine cards)."""

    learner: str
    lesson: str
    found: Submission
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
        """What the class gave, and a digest of the edition that judges it (the course's rubric, the engine cards and
        the code), with a dot between them: the same key, the same verdict."""
        edition = hashlib.sha256(_code().encode())
        for path in (rubric_path(self.lesson), *sorted(self.engines.glob("*.toml"))):
            edition.update(path.read_bytes() if path.is_file() else b"none")
        return f"{self.given()}.{edition.hexdigest()[:32]}"

    def given(self) -> str:
        """A digest of what the class gave: the hand-in, the name, and a rubric and engine cards of its own."""
        total = hashlib.sha256(f"{self.found.digest()}\n{self.name}\n".encode("utf-8", "surrogatepass"))
        own = rubric_path(self.lesson, self.rubrics)
        total.update(own.read_bytes() if own != rubric_path(self.lesson) else b"none")
        for card in _cards(self.lesson, self.rubrics):
            total.update(card.read_bytes())
        return total.hexdigest()[:32]


def own_rubrics(root: Path) -> Path | None:
    """The folder of the class's own rubrics, or None where it has neither rubrics nor engine cards of its own."""
    folder = Path(root) / OWN_RUBRICS
    return folder if folder.is_dir() or cards_folder(folder).is_dir() else None


def to_judge(root: Path, submitted: str, learner: str, lesson: str, engines: Path) -> ToJudge:
    """The hand-in in the learner's own folder, as nbgrader's own command finds it."""
    found = look_at(root, submitted, learner, lesson)
    name = whose(Roster.of(root, [learner]), learner, found.folder).name
    return ToJudge(learner, lesson, found, name, engines, own_rubrics(root))


def verdict_code(engine: Path, judge: Path) -> list[Path]:
    """The parts of the packages engine_sim and graders, in these folders, that a verdict is worked out with: all but
    the rooms of NO_VERDICT, so that a new module or room is among them without being named."""
    return [engine, *(path for path in sorted(judge.iterdir()) if path.name not in NO_VERDICT)]


def _cards(lesson: str, own: Path | None) -> list[Path]:
    """The class's own cards of a lesson; none where its rubric cannot be used, which is said elsewhere."""
    try:
        return own_cards(lesson, own)
    except TimingCourseError:
        return []


@functools.cache
def _code() -> str:
    return code_digest(verdict_code(Path(engine_sim.__file__).parent, Path(graders.__file__).parent))
