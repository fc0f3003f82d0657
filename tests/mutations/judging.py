"""What becomes of each mutation: the kind of test that notices it, or nothing."""

from __future__ import annotations

import json
import queue
import tempfile
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from .copies import NO_TESTS_COLLECTED, CannotJudge, Copy, Reach
from .drawing import Mutation
from .reach import KINDS, should_notice

SURVIVORS = Path(__file__).with_name("survivors.toml")
NOTHING_NOTICED = "nothing"
SLOWER = 10.0  # a changed engine may never come to rest: tests that take so many times as long have noticed
LEAST_WAIT_S = 120.0
TOO_LONG = "took too long"
UNREADABLE = "the tests could not be read"
NOTHING_CHANGED = "# nothing is changed\n"


@dataclass(frozen=True)
class Verdict:
    """The kind of test that noticed a mutation first, outside values before all, and the test."""

    key: str
    rule: str
    path: str
    kind: str
    test: str = ""


class Workshop:
    """Copies of the checkout, one for each worker."""

    def __init__(self, copies: Sequence[Copy]):
        self._proven: set[tuple[str, str]] = set()
        self._free: queue.SimpleQueue[Copy] = queue.SimpleQueue()
        for one in copies:
            self._free.put(one)
        self.workers = len(copies)

    @contextmanager
    def copy(self) -> Iterator[Copy]:
        """One copy for as long as wanted."""
        taken = self._free.get()
        try:
            yield taken
        finally:
            self._free.put(taken)

    def reaches(self, files: Sequence[str], say: Callable[[str], None]) -> dict[str, Reach]:
        """Files of tests on the source as it is. Raises CannotJudge where one fails."""

        def one(file: str) -> Reach:
            with self.copy() as copy:
                return copy.reach(file)

        return dict(self._all(one, files, lambda file, reach: say(f"{reach.seconds:6.1f} s  {file}")))

    def verdicts(
        self, mutations: Sequence[Mutation], files: Mapping[str, str], say: Callable[[str], None]
    ) -> list[Verdict]:
        """What notices each mutation, kind after kind: later kinds meet what the earlier ones let through.

        Raises CannotJudge where a test fails on the source as it is, or where one that notices does so at a comment.
        """
        found = {one: Verdict(one.key, one.rule, one.path, NOTHING_NOTICED) for one in mutations}
        for kind in KINDS:
            left = [one for one, it in found.items() if it.kind == NOTHING_NOTICED]
            of_kind = [file for file, its in files.items() if its == kind]
            if left and of_kind:
                found |= self._verdicts_of(kind, left, self.reaches(of_kind, say), say)
        for it in found.values():
            if it.kind == NOTHING_NOTICED:
                say(f"{it.kind:8}  {it.key}")
        return [found[mutation] for mutation in mutations]

    def _verdicts_of(
        self, kind: str, mutations: Sequence[Mutation], reaches: Mapping[str, Reach], say: Callable[[str], None]
    ) -> dict[Mutation, Verdict]:
        def one(mutation: Mutation) -> str | None:
            with self.copy() as copy:
                test = noticed_by(copy, mutation, reaches)
                if test and (test, mutation.path) not in self._proven:
                    prove(copy, mutation, test)
                    self._proven.add((test, mutation.path))
                return test

        def show(mutation: Mutation, test: str | None) -> None:
            if test:
                say(f"{kind:8}  {mutation.key}  {test}")

        return {
            mutation: Verdict(mutation.key, mutation.rule, mutation.path, kind, test)
            for mutation, test in self._all(one, mutations, show)
            if test
        }

    def _all(self, work, items, say) -> Iterator[tuple]:
        with ThreadPoolExecutor(self.workers) as pool:
            futures = {pool.submit(work, item): item for item in items}
            try:
                for future in as_completed(futures):
                    say(futures[future], future.result())
                    yield futures[future], future.result()
            except BaseException:
                pool.shutdown(wait=False, cancel_futures=True)
                raise


def noticed_by(copy: Copy, mutation: Mutation, reaches: Mapping[str, Reach]) -> str | None:
    """The test of these files that fails first where the source has the change, or None."""
    chosen = should_notice(mutation, reaches)
    if not chosen:
        return None
    with copy.changed(mutation):
        within_s = max(LEAST_WAIT_S, SLOWER * sum(reaches[file].seconds for file in chosen))
        status, said = copy.pytest(chosen, within_s)
    if status is None:
        return TOO_LONG
    return None if status in (0, NO_TESTS_COLLECTED) else first_failure(said)


def prove(copy: Copy, mutation: Mutation, test: str) -> None:
    """See that a test passes where the same file has nothing but a comment more. Raises CannotJudge."""
    if test in (TOO_LONG, UNREADABLE):
        return
    with copy.changed(replace(mutation, rule="control", start=0, before="", after=NOTHING_CHANGED)):
        status, _ = copy.pytest([test], LEAST_WAIT_S * SLOWER)
    if status != 0:
        raise CannotJudge(f"{test} fails although only a comment was added to {mutation.path}: it can judge no change.")


def first_failure(said: str) -> str:
    """The test that failed first, as pytest's summary names it."""
    for line in said.splitlines():
        if line.startswith(("FAILED ", "ERROR ")):
            return line.split(" ", 1)[1].partition(" - ")[0]
    return UNREADABLE


def known_survivors() -> dict[str, str]:
    """Why each mutation that nothing notices is let be, by key: "equivalent because ..." or "open: ..."."""
    return {row["key"]: row["why"] for row in tomllib.loads(SURVIVORS.read_text(encoding="utf-8"))["survivors"]}


def written(verdicts: Sequence[Verdict], path: Path) -> None:
    """Write verdicts down, one a line."""
    path.write_text("".join(json.dumps(asdict(one)) + "\n" for one in verdicts), encoding="utf-8")


def read(path: Path) -> list[Verdict]:
    """Verdicts that were written down."""
    return [Verdict(**json.loads(line)) for line in path.read_text(encoding="utf-8").splitlines()]


@contextmanager
def workshop(workers: int) -> Iterator[Workshop]:
    """Copies for so many workers, in a folder that goes when the work is done."""
    with tempfile.TemporaryDirectory(prefix="mutations-", ignore_cleanup_errors=True) as folder:
        places = [Path(folder) / str(number) for number in range(workers)]
        for place in places:
            place.mkdir()
        yield Workshop([Copy(place) for place in places])
