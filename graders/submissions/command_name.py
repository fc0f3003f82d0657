"""How the course's program was called, so that every command it prints can be typed as it stands."""

from __future__ import annotations

import os
import shlex
import shutil
import sys
from pathlib import Path

PROGRAM = "timing-course"
VARIABLE = "TIMING_COURSE_COMMAND"  # `python3 -m course` leaves here how it was called


def command_name() -> str:
    """The beginning of a command line: `python3 -m course`, `timing-course`, or that program's path where the shell
    does not find it by name."""
    called = os.environ.get(VARIABLE)
    if called:
        return called
    program = Path(sys.argv[0])
    if program.stem == PROGRAM and shutil.which(PROGRAM) is None:
        return shlex.quote(str(program))
    return PROGRAM


def command_line(arguments: str) -> str:
    """A command line of the course with these arguments, which are quoted already."""
    return f"{command_name()} {arguments}"
