"""Which tests the quick run has: those that see most within a minute.

`python -m tests.tiers` says which modules it never comes to. But for that, standard library only: `python3 -m tests`
reads this before there is an environment.
"""

from __future__ import annotations

import ast
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Set
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("engine_sim", "graders", "course")

# Left out is what takes long for what it alone sees: browsers, class runs, boxes, the needle's sixty settings, whole
# learners at the bench, the linters.
QUICK = {
    "published": "atmosphere burn crossley_cook distributor every_engine fuel_and_gas healthy_engine heat_and_friction "
    "ignition knock rated_power throttle_and_residual units",
    "numerics": "companions cycle map one_definition roots",
    "regression": "frozen",
    "engine_sim": "adjustments card cranking cylinder_ripple dynamics engine evidence free_revving limits mixture "
    "owned_altitude owned_description owned_expect owned_likelihood owned_starting owned_tables road_check session "
    "small_parts starting",
    "graders": "call_filter criteria_alone faults_to_find individualise instrument judge kinds marking nbgrader_bridge "
    "own_engine palette predictions question_banks report_items roster rubric_faults trace tries",
    "lessons": "cautions l00 l01 l03 l10 l11 slips words_for_people",
    "course": "bench book bootstrap chosen_units curve_pull engine_card_form forms forms_at_an_engine forms_of_parts "
    "nbgrader_programs one_journey outline owner_answer owner_form owner_pages owner_sheet placeholder_outputs "
    "plain_page recent_past schemas showing "
    "tool_readings",
    "hub": "parts",
    "repository": "code_style dependencies examples imports kinds_of_exercises numbers",
}


def quick() -> list[str]:
    """The files of the quick run, as paths within the checkout."""
    return [f"tests/{folder}/test_{name}.py" for folder, names in QUICK.items() for name in names.split()]


def untouched(lines: Mapping[str, Set[int]]) -> list[str]:
    """The modules of the three packages in which no line of a function was run.

    `lines`: the numbers of the lines that were run, by path within the checkout. A module without functions counts
    as touched where any line of it was run.
    """
    missed = []
    for path in sorted(one for package in PACKAGES for one in (ROOT / package).rglob("*.py")):
        bodies = [
            range(statement.lineno, statement.end_lineno + 1)
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.FunctionDef)
            for statement in node.body[ast.get_docstring(node) is not None :]
        ]
        ran = lines.get(path.relative_to(ROOT).as_posix(), frozenset())
        if path.stat().st_size and not (any(ran & set(body) for body in bodies) if bodies else ran):
            missed.append(path.relative_to(ROOT).as_posix())
    return missed


def main() -> int:
    """Run the quick tests and say which modules they never come to; 1 where there are some, or a test fails."""
    from tests.mutations.copies import lines_run

    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "lines"
        watched = ["-m", "coverage", "run", f"--source={','.join(PACKAGES)}", f"--data-file={data}"]
        status = subprocess.call([sys.executable, *watched, "-m", "pytest", "-q", *quick()], cwd=ROOT)
        lines = lines_run(data, ROOT)
    missed = untouched(lines)
    print("\n".join(f"never touched: {path}" for path in missed) or "every module is touched")
    return 1 if missed or status else 0


if __name__ == "__main__":
    sys.exit(main())
