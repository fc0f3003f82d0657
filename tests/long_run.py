"""`python3 -m tests long`: what takes too long to wait for with every change, step by step.

`--changed` runs only the steps that the latest change concerns, each in its small form, as `.ci/run` does: the quickest
first. What would take longer than a person waits, by the plan or by the clock, is named, to be asked for by its name.
The change is what came after the commit in TIMING_COURSE_SINCE; without it, after the newest commit that is four hours
older than the latest.
"""

from __future__ import annotations

import argparse
import itertools
import math
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from tests.tiers import ROOT

ONE_CHANGE_S = 4 * 3600
WAITED_MINUTES = 30
MUTATIONS_OF_A_CHANGE = 6
FUZZED_MINUTES, FUZZED_OF_A_CHANGE = "10", "1"  # of processor time
PYTEST = (sys.executable, "-m", "pytest", "-q", "-s")
FAILED = "FAILED"
Command = Sequence[str]


@dataclass(frozen=True)
class Step:
    """One part of the long run.

    `concerned_by` names beginnings of paths; a change of one of them makes the step part of `--changed`. `commands`
    takes the commit before the change, "" where that is not known, or None where all of the step is wanted. `minutes`
    is about what the small form takes on two slow processors.
    """

    what: str
    concerned_by: tuple[str, ...]
    commands: Callable[[str | None], list[Command]]
    minutes: float = 0.0


def _mutations(since: str | None) -> list[Command]:
    command = [sys.executable, "-m", "tests.mutations"]
    if since:
        command += ["--since", since]
    if since is not None:
        command += ["--at-most", str(MUTATIONS_OF_A_CHANGE)]
    return [command]


def _fuzz(since: str | None) -> list[Command]:
    return [(sys.executable, "-m", "tests.fuzz", FUZZED_MINUTES if since is None else FUZZED_OF_A_CHANGE)]


def _engines(since: str | None) -> list[Command]:
    of = ("engine_sim", "graders", "lessons", "numerics", "published", "targets")
    folders = [f"tests/{name}" for name in of]
    fewer = "not five_hundred_hidden_engines"  # which are looked at with the owners
    if since is not None:
        fewer += " and not a_thousand_engines and not a_hundred_engines"
    return [(*PYTEST, "-m", "benchmark or further", "-k", fewer, *folders, "tests/benchmarks/bench_engine.py")]


def _load(since: str | None) -> list[Command]:
    if since is not None:
        return [(sys.executable, "-m", "tests.benchmarks.test_class_growth", "10", "30")]
    return [(*PYTEST, "-m", "benchmark", "tests/benchmarks", "tests/browser")]


def _owners(since: str | None) -> list[Command]:
    looked = ("tests/benchmarks/test_owned_benchmark.py", "tests/engine_sim/test_owned_expect.py")
    return [(*PYTEST, *(() if since is not None else ("-m", "benchmark")), *looked)]


def _hub(since: str | None) -> list[Command]:
    apart = (sys.executable, "-m", "tests.hub.namespace")
    load = [(*apart, sys.executable, "-m", "tests.hub.load")]
    return [(*apart, *PYTEST, "tests/hub"), *(load if since is None else [])]


def _versions(which: str) -> Callable[[str | None], list[Command]]:
    return lambda _since: [(sys.executable, "-m", "tests.versions", which)]


STEPS = {
    "mutations": Step(
        "lines of physics and judge changed one by one, and which test notices",
        (
            *("engine_sim/physics/", "engine_sim/model/"),
            *("graders/bench/", "graders/exercises/kinds/", "graders/judge/__init__.py", "graders/rubrics/"),
        ),
        _mutations,
        minutes=26,
    ),
    "fuzz": Step(
        "evidence, archives, notebooks, lists, rubrics and cards that nobody wrote",
        ("engine_sim/", "graders/", "tests/fuzz/"),
        _fuzz,
        minutes=2,
    ),
    "engines": Step(
        "a thousand learners' engines, faultless work on them, further engines of every rule, the engine's speed",
        ("engine_sim/", "course/engines/"),
        _engines,
        minutes=11,
    ),
    "load": Step(
        "class runs of ten to three hundred, the bench's speed, beside what they are compared with",
        ("graders/classroom/", "graders/nbgrader_bridge/"),
        _load,
        minutes=3,
    ),
    "lessons": Step(
        "further lessons, hands and lights in the browser, beside those that the whole run has of each kind",
        ("course/source/", "course/widgets/", "course/jupyter/", "course/authoring/", "graders/rubrics/"),
        lambda _since: [(*PYTEST, "-m", "further", "tests/browser")],
        minutes=6,
    ),
    "lighthouse": Step(
        "Lighthouse's accessibility score of the pages, a hundred each",
        ("course/widgets/", "course/jupyter/", "tests/browser/lighthouse"),
        lambda _since: [(sys.executable, "-m", "tests.browser.lighthouse")],
        minutes=6,
    ),
    "owners": Step(
        "two thousand owners of engines that the comparison of readings does not know, and five hundred bands",
        ("engine_sim/owned/",),
        _owners,
        minutes=2,
    ),
    "hub": Step(
        "a real hub with real accounts on a machine of its own, an instructor and three learners in Chromium",
        ("course/hub/", "course/jupyter/", "course/marking/", "course/widgets/cards/", "tests/hub/"),
        _hub,
        minutes=15,
    ),
    "lowest": Step(
        "the lowest versions of all libraries",
        ("pyproject.toml", "tests/versions.py"),
        _versions("lowest"),
        minutes=20,
    ),
    "quick": Step(
        "whether the quick run comes to every module",
        ("tests/tiers.py",),
        lambda _since: [(sys.executable, "-m", "tests.tiers")],
        minutes=20,
    ),
    "newest": Step("the newest versions of all libraries", (), _versions("newest")),
    "pythons": Step("every Python on this machine", (), _versions("pythons")),
}


class NoSuchCommit(Exception):
    """A change was to begin at a commit that is not there."""


def git(*words: str) -> list[str]:
    """The lines that git answers; none where there is no git or no such commit."""
    if shutil.which("git") is None:
        return []
    asked = subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=False)
    return asked.stdout.splitlines() if asked.returncode == 0 else []


def commit_before_the_change() -> str:
    """The commit that the latest change began from, or "" where none is known."""
    if named := os.environ.get("TIMING_COURSE_SINCE"):
        return named
    (latest_s, *_) = git("log", "-1", "--format=%ct") or ["0"]
    older = git("rev-list", "-1", f"--before={int(latest_s) - ONE_CHANGE_S}", "HEAD")
    return older[0] if older else ""


def changed_since(commit: str) -> list[str]:
    """The files that differ from a commit, with what is not committed yet. Raises NoSuchCommit."""
    if not git("rev-parse", "--verify", "--quiet", f"{commit}^{{commit}}"):
        raise NoSuchCommit(f"'{commit}' is no commit of this checkout: name one that `git log` shows.")
    return git("diff", "--name-only", commit)


def concerned(changed: Iterable[str]) -> list[str]:
    """The names of the steps that changed files concern."""
    changed = tuple(changed)
    return [name for name, step in STEPS.items() if any(path.startswith(step.concerned_by) for path in changed)]


def in_the_time(names: Sequence[str], minutes: float = WAITED_MINUTES) -> list[str]:
    """Those of these steps that fit into a time by the plan, the quickest first."""
    by_minutes = sorted(names, key=lambda name: STEPS[name].minutes)
    ends = itertools.accumulate(STEPS[name].minutes for name in by_minutes)
    return [name for name, end in zip(by_minutes, ends, strict=True) if end <= minutes]


def run(names: Iterable[str], since: str | None, waited_s: float = math.inf) -> int:
    """Run the steps one after the other, say at the end how each went; 1 where one failed.

    A step that by the plan would end later than `waited_s` after the first began, what ran before having taken longer
    than planned, is named and not begun.
    """
    ended: list[tuple[str, float, str]] = []
    first = time.monotonic()
    for name in names:
        began = time.monotonic()
        if began - first + 60.0 * STEPS[name].minutes > waited_s:
            ended.append((name, 0.0, "NOT RUN: run it by its name before this lands"))
            continue
        print(f"\n=== {name}: {STEPS[name].what}", flush=True)
        statuses = [subprocess.call(command, cwd=ROOT) for command in STEPS[name].commands(since)]
        ended.append((name, time.monotonic() - began, FAILED if any(statuses) else "ok"))
    print("\n" + "\n".join(f"{name:10} {seconds:7.0f} s  {how}" for name, seconds, how in ended))
    return 1 if any(how == FAILED for _, _, how in ended) else 0


def main(given: Sequence[str] | None = None) -> int:
    """Run the steps that were asked for."""
    parser = argparse.ArgumentParser(prog="python3 -m tests long", description=__doc__.partition("\n\n")[0])
    parser.add_argument("steps", nargs="*", metavar="STEP", help=", ".join(STEPS))
    parser.add_argument(
        "--changed", action="store_true", help="only what the latest change concerns, in its small form"
    )
    parser.add_argument(
        "--within",
        type=float,
        default=WAITED_MINUTES,
        metavar="MINUTES",
        help="that `--changed` may take (%(default)s)",
    )
    asked = parser.parse_args(given)
    unknown = sorted(set(asked.steps) - set(STEPS))
    if unknown:
        parser.error(f"no such step: {', '.join(unknown)}; there are {', '.join(STEPS)}")
    if not asked.changed:
        return run(asked.steps or STEPS, None)
    since = commit_before_the_change()
    try:
        changed = changed_since(since) if since else []
    except NoSuchCommit as reason:
        parser.error(str(reason))
    names = concerned(changed) if since else [name for name, step in STEPS.items() if step.concerned_by]
    names = [name for name in names if name in asked.steps] if asked.steps else names
    print(f"Since {since[:10] or 'nobody knows when'}: {', '.join(names) or 'nothing that a long run would look at'}")
    kept = names if asked.steps else in_the_time(names, asked.within)
    if left := [name for name in names if name not in kept]:
        print(
            f"Left out, since all would take more than {max(asked.within, 0.0):g} minutes: {', '.join(left)}. Run "
            f"`python3 -m tests long --changed {' '.join(left)}` before this lands."
        )
    return run(kept, since, math.inf if asked.steps else 60.0 * asked.within)


if __name__ == "__main__":
    sys.exit(main())
