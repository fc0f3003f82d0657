"""`python -m tests.mutations`: change the physics and the judge line by line, and see which kind of test notices.

The draw is printed with its seed. Every mutation meets first the tests against values from outside that go through its
line, then those of the method, then our own frozen figures, then the judge's and the course's; the first kind of which
a test fails has noticed it. What nothing notices must be in `survivors.toml`, with the reason.
"""

from __future__ import annotations

import argparse
import os
import random
import shlex
import signal
import sys
from collections import Counter
from collections.abc import Sequence
from itertools import zip_longest
from pathlib import Path

from tests.__main__ import processors
from tests.long_run import NoSuchCommit, changed_since
from tests.tiers import quick

from .copies import CannotJudge
from .drawing import EACH, Mutation, of_judge, of_physics
from .judging import NOTHING_NOTICED, Verdict, known_survivors, read, workshop, written
from .reach import KINDS, files_of_tests

SEED = 1
ALL = 10**6


def arguments(given: Sequence[str] | None = None) -> argparse.Namespace:
    """What was asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutations", description=__doc__.partition("\n\n")[0])
    parser.add_argument("of", nargs="?", choices=("physics", "judge"), help="only these; both where nothing is said")
    parser.add_argument("--seed", type=int, default=SEED, help="of the draw")
    parser.add_argument(
        "--each", type=int, default=EACH, help="drawn of every rule that is not gone through as a whole"
    )
    parser.add_argument("--only", default="", help="mutations whose name holds this text")
    parser.add_argument("--since", help="go through all that can be changed in the files that differ from this commit")
    parser.add_argument("--at-most", type=int, help="drawn of all that, from every rule in turn")
    parser.add_argument("--quick", action="store_true", help="ask only the tests of the quick run")
    parser.add_argument("--workers", type=int, default=processors(), help="at the same time")
    parser.add_argument("--list", action="store_true", help="print the draw and run nothing")
    parser.add_argument("--write", type=Path, help="file for the verdicts")
    parser.add_argument("--beside", type=Path, help="file of verdicts from before: name what another kind notices now")
    return parser.parse_args(given)


def drawn(asked: argparse.Namespace) -> list[Mutation]:
    """The mutations that were asked for."""
    each = ALL if asked.since else asked.each
    found = of_physics(asked.seed, each) if asked.of != "judge" else []
    found += of_judge(asked.seed, each) if asked.of != "physics" else []
    if asked.since:
        changed = set(changed_since(asked.since))
        found = [one for one in found if one.path in changed]
    found = [one for one in found if asked.only in one.key]
    return found if asked.at_most is None else few(found, asked.at_most, asked.seed)


def few(found: Sequence[Mutation], at_most: int, seed: int) -> list[Mutation]:
    """At most so many of these, drawn from every rule in turn, in their order."""
    of_rule: dict[str, list[Mutation]] = {}
    for one in random.Random(f"{seed} of all").sample(found, len(found)):
        of_rule.setdefault(one.rule, []).append(one)
    in_turn = [one for each in zip_longest(*of_rule.values()) for one in each if one]
    kept = set(in_turn[:at_most])
    return [one for one in found if one in kept]


def table(verdicts: Sequence[Verdict]) -> str:
    """How many of each rule fell to which kind of test."""
    kinds = [*KINDS, NOTHING_NOTICED]
    counts = Counter((one.rule, one.kind) for one in verdicts)
    rules = sorted({one.rule for one in verdicts})
    lines = [f"{'':20}" + "".join(f"{kind:>9}" for kind in kinds) + f"{'all':>9}"]
    for rule in rules:
        row = [counts[rule, kind] for kind in kinds]
        lines.append(f"{rule:20}" + "".join(f"{count:9}" for count in (*row, sum(row))))
    whole = [sum(counts[rule, kind] for rule in rules) for kind in kinds]
    lines.append(f"{'all':20}" + "".join(f"{count:9}" for count in (*whole, sum(whole))))
    return "\n".join(lines)


def unexplained(verdicts: Sequence[Verdict], survivors: dict[str, str]) -> list[str]:
    """What nothing noticed and nobody explained, and what is explained although something notices it."""
    unnoticed = {one.key for one in verdicts if one.kind == NOTHING_NOTICED}
    noticed = {one.key: one.kind for one in verdicts if one.kind != NOTHING_NOTICED}
    return [
        *(f"NOT NOTICED, and not in survivors.toml: {key}" for key in sorted(unnoticed - set(survivors))),
        *(
            f"noticed ({noticed[key]}): take it out of survivors.toml: {key}"
            for key in sorted(set(survivors) & set(noticed))
        ),
    ]


def moved(before: Sequence[Verdict], now: Sequence[Verdict]) -> list[str]:
    """The mutations of both runs that another kind of test notices now."""
    was = {one.key: one.kind for one in before}
    return [f"{was[one.key]} -> {one.kind}: {one.key}" for one in now if was.get(one.key, one.kind) != one.kind]


def still_noticed(before: Sequence[Verdict], now: Sequence[Verdict]) -> str:
    """How many of the mutations that something noticed before something notices now."""
    noticed = {one.key for one in before if one.kind != NOTHING_NOTICED} & {one.key for one in now}
    still = noticed & {one.key for one in now if one.kind != NOTHING_NOTICED}
    return f"{len(still)} of the {len(noticed)} that were noticed before are noticed now"


def say(line: str) -> None:
    """Show how the work goes on."""
    print(line, flush=True)


def main(given: Sequence[str] | None = None) -> int:
    """Draw, run, tell; 1 where something survives without a reason or another kind notices, 2 where tests fail."""
    asked = arguments(given)
    try:
        mutations = drawn(asked)
    except NoSuchCommit as reason:
        say(str(reason))
        return 2
    say(f"{len(mutations)} mutations, seed {asked.seed}")
    if asked.list or not mutations:
        say("\n".join(one.key for one in mutations))
        return 0
    files = files_of_tests()
    if asked.quick:
        files = {file: kind for file, kind in files.items() if file in quick()}
        left_out = [option for option in quick() if option.startswith("-")]
        os.environ["PYTEST_ADDOPTS"] = shlex.join(left_out)  # read by every pytest that is started from here
    signal.signal(signal.SIGINT, signal.default_int_handler)  # ignored behind a shell's &, and some tests send it
    try:
        with workshop(asked.workers) as shop:
            verdicts = shop.verdicts(mutations, files, say)
    except CannotJudge as failure:
        say(str(failure))
        return 2
    if asked.write:
        written(verdicts, asked.write)
    survivors = known_survivors()
    for one in verdicts:
        if one.kind == NOTHING_NOTICED and one.key in survivors:
            say(f"survives, {survivors[one.key]}: {one.key}")
    wrong = [] if asked.quick else unexplained(verdicts, survivors)  # the quick run need not see everything
    if asked.beside:
        before = read(asked.beside)
        wrong += [] if asked.quick else moved(before, verdicts)
        say(still_noticed(before, verdicts))
    say("\n".join(wrong))
    say(table(verdicts))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
