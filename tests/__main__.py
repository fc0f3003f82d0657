"""`python3 -m tests`: set the course up with what its tests need, and run them; arguments go to pytest."""

import sys

from course import bootstrap


def command(python):
    """pytest on two workers, tests of one group together, unless the arguments say otherwise."""
    arguments = sys.argv[1:]
    chosen = any(argument.startswith(("-n", "-p")) for argument in arguments)
    workers = [] if chosen else ["-n", "2", "--dist", "loadgroup"]
    return [python, "-m", "pytest", "--rootdir", bootstrap.CHECKOUT, *workers, *arguments]


if __name__ == "__main__":
    sys.exit(bootstrap.main(command, extra="test"))
