"""A class's own rubric packed into one file, to be handed out beside a lesson: the learner's own check goes by it.

Packed, not locked: it keeps answers out of clear text beside the notebook. Whoever means to read them can, as in the
rubrics of the installed course.
"""

from __future__ import annotations

import zlib
from pathlib import Path

from graders.schema import RubricError

ENDING = ".rubric"
LONGEST_BYTES = 2_000_000
_FIRST_LINE = b"timing-course: a packed rubric, 1\n"


def packed(text: bytes) -> bytes:
    """The content of a packed rubric whose TOML is `text`."""
    return _FIRST_LINE + zlib.compress(text, 9)


def unpacked(path: Path) -> bytes:
    """The TOML of a packed rubric. Raises RubricError in one sentence where the file cannot be read."""
    try:
        content = path.read_bytes()
        stream = zlib.decompressobj()
        text = stream.decompress(content.removeprefix(_FIRST_LINE), LONGEST_BYTES)
    except (OSError, zlib.error) as error:
        raise RubricError(_sentence(path, error)) from None
    if not content.startswith(_FIRST_LINE) or len(text) == LONGEST_BYTES:
        raise RubricError(_sentence(path, "not packed by this edition"))
    if not stream.eof:
        raise RubricError(_sentence(path, "its end is missing"))
    return text


def _sentence(path: Path, reason: object) -> str:
    return (
        f"{path.name}, the rubric that your class handed out with this lesson, cannot be read ({reason}): take "
        "that file from your class again."
    )
