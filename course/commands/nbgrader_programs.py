"""nbgrader's own programs on a class, run by the Python that runs the course: none of them need be on the path."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from graders.nbgrader_bridge.course_config import NbgraderCourse


def run(folder: Path, arguments: Sequence[str]) -> int:
    """Run `nbgrader` with these arguments in the folder of the class; return its exit status."""
    return subprocess.call([sys.executable, "-m", "nbgrader", *arguments], cwd=NbgraderCourse(folder).root)
