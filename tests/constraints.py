"""`python -m tests.constraints`: write the versions that the set-up installs, a file for each Python, from the newest.

Every version that pyproject.toml allows and that a Python has wheels for is found by uv; a file has one line for a
library, for Linux, Windows and macOS together. Run the tests with them before they land (`python3 -m tests` sets
itself up by them); `python -m tests.versions newest` tries the newest without writing anything.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from course.bootstrap import CONSTRAINTS, OLDEST
from tests.tiers import ROOT

PYTHONS = tuple(f"{OLDEST[0]}.{minor}" for minor in range(OLDEST[1], 15))
PLATFORMS = ("linux", "windows", "macos")
HEADER = (
    "# The versions that the course was tried with, for the set-up alone. Written by `python -m tests.constraints`.\n"
)


class DifferentVersionsError(Exception):
    """A library has another newest version on another system, so that one file cannot name it."""


def resolved(python: str, platform: str) -> dict[str, str]:
    """The newest versions for a Python on a platform, by library, without installing. Raises CalledProcessError."""
    import uv

    command = [uv.find_uv_bin(), "pip", "compile", "--quiet", "--extra", "test"]
    command += ["--no-header", "--no-annotate", "--no-emit-index-url", "--no-emit-find-links", "--only-binary", ":all:"]
    command += ["--python-version", python, "--python-platform", platform, str(ROOT / "pyproject.toml")]
    said = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT).stdout
    return dict(line.split("==") for line in said.splitlines() if "==" in line)


def merged(found: list[dict[str, str]]) -> dict[str, str]:
    """One version a library. Raises DifferentVersionsError."""
    versions: dict[str, str] = {}
    for platform in found:
        for library, version in platform.items():
            if versions.setdefault(library, version) != version:
                raise DifferentVersionsError(f"{library} is {versions[library]} on one system and {version} on another")
    return versions


def write(python: str) -> Path:
    """Write the file for a Python; return its path."""
    versions = merged([resolved(python, platform) for platform in PLATFORMS])
    path = ROOT / CONSTRAINTS / f"python{python}.txt"
    path.parent.mkdir(exist_ok=True)
    lines = "".join(f"{library}=={versions[library]}\n" for library in sorted(versions))
    path.write_text(HEADER + lines, encoding="utf-8", newline="\n")
    return path


def main() -> int:
    """Write the file of every Python that has wheels of everything; 1 where one has not."""
    failed = False
    for python in PYTHONS:
        try:
            print(f"written: {write(python).relative_to(ROOT)}")
        except (subprocess.CalledProcessError, DifferentVersionsError) as reason:
            failed = True
            said = reason.stderr if isinstance(reason, subprocess.CalledProcessError) else reason
            print(f"no file for Python {python}: {said}", file=sys.stderr)
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
