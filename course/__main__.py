"""`python3 -m course`: set the course up where it lies and start it, or run `timing-course` with what follows."""

import sys

from course import bootstrap


def command(python):
    """The command line for the arguments that were given; `start` where there were none."""
    return [python, "-c", "from course.cli import main; main()", *(sys.argv[1:] or ["start"])]


if __name__ == "__main__":
    sys.exit(bootstrap.main(command))
