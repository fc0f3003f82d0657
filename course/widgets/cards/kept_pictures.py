"""A lesson's pictures as a page shows them, drawn once on this computer and kept beside the response maps.

To load the library that draws takes most of a second and to draw a picture a third of one, in every lesson that is
opened. What was drawn holds as long as the code and the tables are the same that it was drawn with.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import json
import os
import tempfile
from dataclasses import asdict, dataclass
from importlib.metadata import version
from pathlib import Path

from course import ENGINES, HERE
from engine_sim.model.response_map import cache_folder
from engine_sim.version import code_digest

FOLDER = "pictures"
MOST_KEPT = 200  # some 20 MB; the oldest make room


@dataclass(frozen=True)
class ShownPicture:
    """A picture with its title, as SVG for a page and, in `narrow`, for a phone, and in words."""

    title: str
    svg: str
    narrow: str
    words: str


def shown_picture(name: str) -> ShownPicture:
    """The picture of that name, as it was kept, or drawn and kept. A file that cannot be read is drawn again; a folder
    that cannot be written costs the time of drawing again. Raises LessonPictureError for a name that there is not."""
    path = cache_folder() / FOLDER / f"{hashlib.sha256(f'{_drawn_with()}|{name}'.encode()).hexdigest()[:24]}.json"
    with contextlib.suppress(OSError, ValueError, TypeError):
        return _checked(json.loads(path.read_text(encoding="utf-8")))
    from course.authoring.lesson_pictures import picture_named  # loads the library

    found = picture_named(name)
    shown = ShownPicture(found.title, found.svg, found.narrow_svg, found.drawn.words)
    _keep(path, shown)
    return shown


def _checked(content: dict) -> ShownPicture:
    """What a file holds. Raises TypeError where that is no picture."""
    shown = ShownPicture(**content)
    if not all(isinstance(part, str) for part in asdict(shown).values()):
        raise TypeError
    return shown


@functools.cache
def _drawn_with() -> str:
    """Tells programs apart that may draw a picture differently."""
    packages = HERE.parent / "engine_sim", HERE.parent / "graders"
    return f"{code_digest([*packages, HERE / 'authoring' / 'lesson_pictures', ENGINES])} {version('matplotlib')}"


def _keep(path: Path, shown: ShownPicture) -> None:
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile("w", encoding="utf-8", dir=path.parent, suffix=".part", delete=False) as part:
            json.dump(asdict(shown), part)
        os.replace(part.name, path)
        for old in sorted(path.parent.glob("*.json"), key=lambda kept: kept.stat().st_mtime)[:-MOST_KEPT]:
            old.unlink(missing_ok=True)
