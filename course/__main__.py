"""`python3 -m course`: set the course up where it lies and start it, or run `timing-course` with what follows."""

import sys

from course import bootstrap

if __name__ == "__main__":
    sys.exit(bootstrap.main(sys.argv[1:] or ["start"]))
