"""The engines of an owner: one file each in the folder `my_engines` beside the lessons, with what was typed and could
not be taken yet, and the sentences of its answer."""

from __future__ import annotations

import json
import os
import re
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from engine_sim import TimingCourseError, folded_name
from engine_sim.owned.description import OwnedEngine, as_toml, load_owned, owned_from_toml

FOLDER = "my_engines"
ENDING = ".toml"
FIRST = ".practise"  # names the engine that is practised at first
NAME = re.compile(r"[a-z0-9][a-z0-9_]{0,39}")
LARGEST_FILE_BYTES = 200_000
WITHOUT_NAME = "engine"


class OwnedFileError(TimingCourseError):
    """A file of an engine cannot be kept, found or read."""


@dataclass(frozen=True)
class KeptEngine:
    """One file: the `name` under which it is kept, and its title, or what is wrong with it."""

    name: str
    title: str
    problem: str = ""


class KeptEngines:
    """The engines beside the lessons of a learner's folder. Files are written whole or not at all."""

    def __init__(self, folder: Path):
        self.folder = Path(folder) / FOLDER

    def listed(self) -> list[KeptEngine]:
        """Every engine, by its name."""
        return [self._listed(path) for path in sorted(self.folder.glob(f"*{ENDING}"))]

    def path(self, name: str) -> Path:
        """Where an engine's file lies. Raises OwnedFileError for a name that is none."""
        if not NAME.fullmatch(name):
            raise OwnedFileError(f"'{name[:40]}' is not the name of an engine: choose one of the list.")
        return self.folder / f"{name}{ENDING}"

    def load(self, name: str) -> OwnedEngine:
        """An engine. Raises OwnedFileError or DescriptionError."""
        path = self.path(name)
        if not path.is_file():
            raise OwnedFileError(f"There is no engine '{name}' here: choose one of the list.")
        return load_owned(path)

    def keep(self, name: str, engine: OwnedEngine) -> Path:
        """Write an engine's file and forget what was typed before it; return its path. Raises OSError."""
        path = self.path(name)
        _write(path, as_toml(engine))
        self._draft(name).unlink(missing_ok=True)
        return path

    def add(self, engine: OwnedEngine) -> str:
        """Keep a further engine under a name made from its title; return that name."""
        words = (re.sub(r"[^a-z0-9]", "", folded_name(word)) for word in engine.identity.title.split())
        stem = "_".join(filter(None, words))[:30].strip("_")
        name = self._free(stem if NAME.fullmatch(stem) else WITHOUT_NAME)
        self.keep(name, engine)
        return name

    def take_in(self, content: bytes) -> str:
        """Keep an engine that somebody mailed; return its name. Raises OwnedFileError or DescriptionError."""
        if len(content) > LARGEST_FILE_BYTES:
            raise OwnedFileError("The file is too large to describe an engine: choose the .toml file that was mailed.")
        try:
            text = content.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise OwnedFileError("The file is not a text: choose the .toml file that was mailed.") from None
        return self.add(owned_from_toml(text))

    def keep_typed(self, name: str, typed: Mapping[str, str]) -> None:
        """Keep what was typed and could not be taken, so that nothing of it is lost."""
        _write(self._draft(name), json.dumps(dict(typed), ensure_ascii=False, indent=0))

    def typed(self, name: str) -> dict[str, str] | None:
        """What was typed and could not be taken; None where there is nothing."""
        return _texts(self._draft(name))

    def keep_answer(self, name: str, sentences: Mapping[str, str]) -> None:
        """Keep the sentences of the answer about an engine, by their heading's id."""
        self.path(name)
        _write(self._answer(name), json.dumps(dict(sentences), ensure_ascii=False, indent=1))

    def answer(self, name: str) -> dict[str, str]:
        """The sentences of the answer, by their heading's id."""
        self.path(name)
        return _texts(self._answer(name)) or {}

    def _listed(self, path: Path) -> KeptEngine:
        if not NAME.fullmatch(path.stem):
            said = "Give the file a name of small letters, digits and _, and it can be opened."
            return KeptEngine(path.stem, path.name, said)
        try:
            return KeptEngine(path.stem, load_owned(path).identity.title or path.stem)
        except TimingCourseError as error:
            return KeptEngine(path.stem, path.stem, str(error))

    def _free(self, stem: str) -> str:
        names = (stem, *(f"{stem}_{number}" for number in range(2, 1000)))
        return next(name for name in names if not self.path(name).exists())

    def _draft(self, name: str) -> Path:
        self.path(name)
        return self.folder / f".{name}.typed.json"

    def _answer(self, name: str) -> Path:
        return self.folder / f".{name}.answer.json"


def _texts(path: Path) -> dict[str, str] | None:
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    if not isinstance(found, dict):
        return None
    return {str(key): value for key, value in found.items() if isinstance(value, str)}


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.NamedTemporaryFile("w", encoding="utf-8", dir=path.parent, suffix=".part", delete=False) as part:
        part.write(text)
    os.replace(part.name, path)
