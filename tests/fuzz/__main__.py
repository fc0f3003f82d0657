"""`python -m tests.fuzz [MINUTES]`: the readers of files that others wrote, fed with new cases for so many minutes of
processor time (ten), and which of their lines that came through.

Each round has a seed of its own, which is printed: 1, 2, 3 … or from `--seed` on. A round that finds something is
played again by its number, and what it found becomes an `@example` of its test. The first round is the ordinary one.
"""

from __future__ import annotations

import argparse
import ast
import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import coverage

from tests.mutations.copies import lines_run

ROOT = Path(__file__).resolve().parents[2]
LEAST_SHARE = 0.95
CASES = 150  # of each test in a round
# What reads what was handed in or changed by hand: all functions of a module, or those that are named.
READERS: dict[str, dict[str, tuple[str, ...]]] = {
    "evidence": {
        "engine_sim/workshop/evidence.py": (
            *("read_evidence", "_read", "_whole_lines", "first_line", "encoding_of", "_as_utf8", "_parsed"),
            *("_check_schema", "_header", "_check_same_owner", "_event", "_fits_a_float", "_check_clock"),
        ),
        "graders/submissions/folder.py": ("look_at", "_is_ours", "_entries", "_refusal", "printable"),
    },
    "archive": {
        "graders/nbgrader_bridge/collect.py": ("archive_problem", "_problems", "_megabytes", "_unpacked"),
        "graders/classroom/collecting.py": ("_Sorting", "_files_in", "_holds_archives"),
    },
    "notebook": {
        "graders/nbgrader_bridge/notebook.py": (
            *("legible_notebook", "_cells_in", "_legible_cell", "new_cell", "make_ids_differ"),
        ),
    },
    "roster": {
        "graders/submissions/roster.py": (
            *("folded", "read_list", "_names_in", "read_rows", "check_rows", "name_in_evidence", "_in_header"),
            "class_handed_out",
        ),
        "course/commands/school_list.py": (),
    },
    "rubric": {"graders/exercises/loader.py": (), "graders/exercises/packing.py": ()},
    "card": {
        "engine_sim/model/card.py": (
            *("load_card", "card_from", "_sentence", "_section_of", "_wanted", "_text_wanted", "_meant"),
        ),
    },
}


def lines_of(path: Path, names: tuple[str, ...]) -> set[int]:
    """The numbers of the lines in the bodies of a module's functions and classes, of all or of those named."""
    found = ast.parse(path.read_text(encoding="utf-8")).body
    chosen = [
        node for node in found if isinstance(node, ast.FunctionDef | ast.ClassDef) and (not names or node.name in names)
    ]
    missing = set(names) - {node.name for node in chosen}
    assert not missing, f"{path} has no {', '.join(sorted(missing))}: READERS in tests/fuzz/__main__.py names it"
    return {number for node in chosen for one in _bodies(node) for number in range(one.lineno, one.end_lineno + 1)}


def _bodies(node: ast.FunctionDef | ast.ClassDef) -> Iterator[ast.stmt]:
    """The statements inside, without the text at the beginning; those of the methods of a class."""
    for statement in node.body:
        if isinstance(node, ast.ClassDef):
            yield from _bodies(statement) if isinstance(statement, ast.FunctionDef) else ()
        elif not (isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant)):
            yield statement


def report(data: Path) -> bool:
    """Print for each reader how many of its lines were run, and which were not; whether there are enough of each."""
    ran, enough, counter = lines_run(data, ROOT), True, coverage.Coverage(data_file=None)
    for reader, modules in READERS.items():
        met, wanted, missed = 0, 0, []
        for name, functions in modules.items():
            statements = lines_of(ROOT / name, functions) & set(counter.analysis2(str(ROOT / name))[1])
            wanted, met = wanted + len(statements), met + len(statements & ran.get(name, set()))
            missed += [f"{name}:{number}" for number in sorted(statements - ran.get(name, set()))]
        enough = enough and met >= LEAST_SHARE * wanted
        print(
            f"{reader}: {met} of {wanted} lines, {met / wanted:.1%}" + (f"; not {', '.join(missed)}" if missed else "")
        )
    return enough


def spent_s() -> float:
    """Processor seconds of all programs that were started and have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main(minutes: float, seed: int) -> int:
    """Play rounds until the time is spent; return 1 where one found something, or a reader was not gone through."""
    with tempfile.TemporaryDirectory() as folder:
        data, status, number = Path(folder) / "lines", 0, 0
        while number < 2 or spent_s() < 60.0 * minutes:
            chosen = [] if number == 0 else [f"--hypothesis-seed={seed + number - 1}"]
            watched = ("-m", "coverage", "run", "--append", "--source=engine_sim,graders,course", f"--data-file={data}")
            tests = ("-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", "tests/fuzz")
            environment = {**os.environ, "TIMING_COURSE_FUZZ": str(CASES) if chosen else "0"}
            found = subprocess.call([sys.executable, *watched, *tests, *chosen], cwd=ROOT, env=environment)
            print(
                f"{' '.join(chosen) or 'the ordinary cases'}: status {found}, {spent_s():.0f} s of processor",
                flush=True,
            )
            status, number = status or found, number + 1
        enough = report(data)
    return 1 if status or not enough else 0


if __name__ == "__main__":
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("minutes", nargs="?", type=float, default=10.0, help="of processor time")
    parser.add_argument("--seed", type=int, default=1, help="of the first round of new cases")
    given = parser.parse_args()
    sys.exit(main(given.minutes, given.seed))
