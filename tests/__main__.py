"""`python3 -m tests [quick|long] [ARGUMENTS]`: set the course up with what its tests need, and run them.

Alone, all that a change must pass before it lands, on all processors; arguments go to pytest, and one that is no option
names what to run, in one process. With `quick`, what sees most within a minute, for while one writes. With `long`, what
takes too long for every change (tests/long_run.py).
"""

import os
import signal
import sys

from course import bootstrap
from tests import tiers

# The tests of a file share what is dear: a class run, a page of the browser. In the order of the folders the browser's
# few long files come early; by the number of their tests they would come last, with one worker idle.
WHOLE = ["--no-loadscope-reorder", "--durations", "60"]

FRONT_END_TOOLS = bootstrap.CHECKOUT / "tests" / "course" / "front_end_tools.py"


def processors():
    """How many processors this process may use; at least two workers, since one waits while the other works."""
    allowed = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return max(allowed or 1, 2)


def command(python, arguments):
    """The run that the arguments ask for."""
    if arguments[:1] == ["long"]:
        return [python, "-m", "tests.long_run", *arguments[1:]]
    pytest = [python, "-m", "pytest", "--rootdir", bootstrap.CHECKOUT]
    on_all = ["-n", str(processors()), "--dist", "loadfile"]
    if arguments[:1] == ["quick"]:
        return [*pytest, *on_all, "-q", *tiers.quick(), *arguments[1:]]
    if all(argument.startswith("-") for argument in arguments):
        return [*pytest, *on_all, *WHOLE, *arguments]
    return [*pytest, *arguments]


def main(arguments):
    """Set up, run, and return the exit status."""
    # A shell's & has the key Ctrl+C ignored, in every program below, and some tests press it.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    # Hundreds of kernels, servers and commands are started: each would compile every module once more.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    try:
        python = bootstrap.python_for("test")
    except bootstrap.CannotBegin as reason:
        print(reason, file=sys.stderr)
        return 1
    if not os.environ.get("TIMING_COURSE_HERE"):
        bootstrap.run([python, FRONT_END_TOOLS])
    return bootstrap.run(command(python, arguments))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
