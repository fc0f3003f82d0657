"""`python -m tests.versions lowest|newest|pythons`: the tests with other versions of what the course needs.

`lowest`: the lowest version of every library that pyproject.toml names; `newest`: the newest that it allows; `pythons`:
the newest on every other Python of this machine. Each gets an environment of its own in a temporary folder. Two files
of browser tests come along.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from course.bootstrap import OLDEST
from tests.__main__ import processors
from tests.tiers import ROOT

RESOLUTIONS = {"lowest": "lowest-direct", "newest": "highest", "pythons": "highest"}
IN_A_BROWSER = ("tests/browser/test_late_parts.py", "tests/browser/test_hand_in.py")
NOT_WITH_THE_LOWEST = (
    # what a type checker says of a library's own types is no matter of use
    "tests/repository/test_style.py::test_the_type_checker_finds_nothing",
    # an older ipykernel goes on speaking, so that the cell has its end and its points
    "tests/graders/test_sandboxed_kernel.py::test_a_test_cell_that_never_came_to_its_end_earns_nothing[silenced]",
    # another pydantic puts the same schema in other words
    "tests/course/test_schemas.py::test_the_files_are_up_to_date",
    # JupyterLab 4.2 takes off the page what is out of sight, and this test wants to see all parts together
    "tests/browser/test_late_parts.py::test_every_part_appears_without_a_widget_manager",
)


def pythons(which: str) -> list[str]:
    """The Pythons to try: this one, or every other one from the oldest supported on that is found by its name."""
    if which != "pythons":
        return [sys.executable]
    named = (
        shutil.which(f"python{OLDEST[0]}.{minor}") for minor in range(OLDEST[1], 30) if minor != sys.version_info[1]
    )
    return [path for path in named if path and _starts(path)]


def _starts(python: str) -> bool:
    return subprocess.run([python, "-c", ""], capture_output=True, check=False).returncode == 0


def made(folder: Path, python: str, resolution: str) -> Path:
    """Make an environment with the course and what its tests need; return its Python. Raises CalledProcessError."""
    import uv

    tool, own = uv.find_uv_bin(), folder / "bin" / "python"
    subprocess.run([tool, "venv", "--quiet", "--python", python, str(folder)], check=True)
    wanted = ["--quiet", "--python", str(own), "--resolution", resolution, "--editable", f"{ROOT}[test]"]
    subprocess.run([tool, "pip", "install", *wanted], check=True)
    subprocess.run([own, ROOT / "tests" / "course" / "front_end_tools.py"], check=True)
    return own


def tested(python: Path, which: str) -> int:
    """Run the tests with a Python; return pytest's exit status."""
    command = [python, "-m", "pytest", "-q", "-n", str(processors()), "--dist", "loadfile", "-p", "no:cacheprovider"]
    if which == "lowest":
        command += [f"--deselect={test}" for test in NOT_WITH_THE_LOWEST]
    folders = sorted({path.parent for path in ROOT.glob("tests/*/test_*.py")} - {ROOT / "tests" / "browser"})
    here = {**os.environ, "TIMING_COURSE_HERE": "1"}
    return subprocess.call([*map(str, command), *map(str, folders), *IN_A_BROWSER], cwd=ROOT, env=here)


def main(given: Sequence[str] | None = None) -> int:
    """Make each environment, run the tests in it; 1 where some fail or an environment cannot be made."""
    parser = argparse.ArgumentParser(prog="python -m tests.versions", description=__doc__.partition("\n\n")[0])
    parser.add_argument("which", choices=RESOLUTIONS)
    which = parser.parse_args(given).which
    found = pythons(which)
    print(f"{which}: {', '.join(found) or 'no other Python on this machine'}", flush=True)
    failed = []
    for python in found:
        with tempfile.TemporaryDirectory(prefix="versions-") as folder:
            try:
                own = made(Path(folder) / "environment", python, RESOLUTIONS[which])
            except subprocess.CalledProcessError as failure:
                print(f"The environment for {python} could not be made: {failure}", file=sys.stderr)
                failed.append(python)
                continue
            if tested(own, which):
                failed.append(python)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
