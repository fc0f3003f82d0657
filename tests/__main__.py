"""`python3 -m tests`: set the course up with what its tests need, and run them.

Without arguments: all tests, on two workers. Arguments go to pytest (`-m benchmark -s` runs the benchmarks, which
measure time and want the machine to themselves).
"""

import sys

from course import bootstrap

# The tests of a file share what is dear: a class run, a page of the browser. In the order of the folders the browser's
# few long files come early; by the number of their tests they would come last, with one worker idle.
PARALLEL = ["-n", "2", "--dist", "loadfile", "--no-loadscope-reorder", "--durations", "60"]


def command(python, arguments):
    """The pytest run that the arguments ask for."""
    return [python, "-m", "pytest", "--rootdir", bootstrap.CHECKOUT, *(arguments or PARALLEL)]


def main(arguments):
    """Set up, run, and return the exit status."""
    try:
        python = bootstrap.python_for("test")
    except bootstrap.CannotBegin as reason:
        print(reason, file=sys.stderr)
        return 1
    return bootstrap.run(command(python, arguments))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
