"""Which edition and engine model this is, and whether two programs are the same one."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

COURSE_VERSION = "1.0.0"  # of the course as a whole; pyproject.toml takes it from here
# Of physics and workshop rules: work at an engine of another version is recognised, and not replayed by this one.
MODEL_VERSION = "5"
CODE_ENDINGS = (".py", ".toml")


@dataclass(frozen=True)
class Edition:
    """An edition of the course: its version, and that of its engine model."""

    course: str
    model: str

    @classmethod
    def here(cls) -> Edition:
        """The edition that is running."""
        return cls(COURSE_VERSION, MODEL_VERSION)

    @classmethod
    def of(cls, content: object) -> Edition | None:
        """The edition that a table with the keys `course` and `model` names; None where it names none."""
        if not isinstance(content, Mapping):
            return None
        course, model = content.get("course"), content.get("model")
        return cls(course, model) if isinstance(course, str) and isinstance(model, str) else None

    def __str__(self) -> str:
        return f"edition {self.course} of the course (engine model {self.model})"

    @property
    def install_command(self) -> str:
        """The command that installs this edition."""
        return f'python -m pip install "timing-course=={self.course}"'


def code_files(parts: Iterable[Path]) -> dict[str, Path]:
    """Every file of code and tables below `parts`, modules or whole folders, by its name as seen from its part."""
    found = {}
    for part in parts:
        for path in part.rglob("*") if part.is_dir() else [part]:
            if path.suffix in CODE_ENDINGS:
                found[path.relative_to(part.parent).as_posix()] = path
    return dict(sorted(found.items()))


def code_digest(parts: Iterable[Path]) -> str:
    """A digest of the files that `parts` hold, 64 hexadecimal digits: the same digest, the same program.

    It is the key of every result that is kept: response maps and verdicts. Where the parts lie on the disk does not
    matter. Raises OSError where a file cannot be read.
    """
    total = hashlib.sha256()
    for name, path in code_files(parts).items():
        content = path.read_bytes()
        total.update(f"{name} {len(content)}\n".encode() + content)
    return total.hexdigest()
