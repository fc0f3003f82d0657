"""`python3 -m tests`: set the course up with what its tests need, and run them.

Without arguments: all tests on two workers, then the benchmarks alone, since they measure time. Arguments go to pytest.
"""

import sys

from course import bootstrap

PARALLEL = ["-n", "2", "--dist", "loadgroup"]


def commands(python, arguments):
    """The pytest runs that the arguments ask for."""
    pytest = [python, "-m", "pytest", "--rootdir", bootstrap.CHECKOUT]
    if arguments:
        return [[*pytest, *arguments]]
    return [[*pytest, *PARALLEL, "-m", "not benchmark"], [*pytest, "-m", "benchmark"]]


def main(arguments):
    """Set up, run, and return the first exit status that is not 0."""
    try:
        python = bootstrap.python_for("test")
    except bootstrap.CannotBegin as reason:
        print(reason, file=sys.stderr)
        return 1
    statuses = [bootstrap.run(command) for command in commands(python, arguments)]
    return next((status for status in statuses if status), 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
