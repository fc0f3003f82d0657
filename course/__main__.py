"""`python3 -m course`: set the course up where it lies and start it, or run `timing-course` with what follows.

Options alone, such as `python3 -m course --notebook`, are options of `start`.
"""

import sys

from . import bootstrap


def command_line(arguments: list[str]) -> list[str]:
    """The arguments of `timing-course` that the arguments of `python3 -m course` stand for."""
    starts = not arguments or (arguments[0].startswith("-") and arguments[0] not in ("--help", "-h", "--version"))
    return ["start", *arguments] if starts else arguments


if __name__ == "__main__":
    sys.exit(bootstrap.main(command_line(sys.argv[1:])))
