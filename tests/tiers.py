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


# Of these files, what takes seconds and sees little that the others do not: it waits for the whole run.
LEFT_TO_THE_WHOLE = (
    "course/test_bootstrap.py::test_the_program_prints_commands_as_it_was_called",
    "course/test_one_journey.py::test_faultless_work_earns_all_that_a_machine_judges[l02_what_the_gauges_say]",
    "course/test_one_journey.py::test_faultless_work_earns_all_that_a_machine_judges[l05_road_check]",
    "course/test_one_journey.py::test_faultless_work_earns_all_that_a_machine_judges[l06_advance_curve]",
    "course/test_outline.py::test_a_lesson_takes_the_minutes_that_it_promises[l03_getting_it_to_start]",
    "course/test_outline.py::test_a_lesson_takes_the_minutes_that_it_promises[l04_base_timing]",
    "course/test_outline.py::test_a_lesson_takes_the_minutes_that_it_promises[l07_altitude_weather_fuel]",
    "course/test_outline.py::test_a_lesson_takes_the_minutes_that_it_promises[l09_answer_the_letter]",
    "course/test_outline.py::test_a_lesson_takes_the_minutes_that_it_promises[l11_no_figure]",
    "course/test_schemas.py::test_every_rubric_fits_its_schema",
    "course/test_showing.py::test_every_engine_and_day_can_be_shown",
    "engine_sim/test_free_revving.py::test_every_drawn_engine_ends_in_float_a_dying_spark_and_damage",
    "engine_sim/test_owned_altitude.py::test_nothing_else_takes_the_lost_pressure_away",
    "engine_sim/test_owned_expect.py::test_a_band_that_tells_nothing_is_not_shown",
    "engine_sim/test_owned_expect.py::test_small_a_band_holds_most_hidden_engines",
    "engine_sim/test_owned_expect.py::test_what_narrows_most_is_asked_next",
    "engine_sim/test_owned_likelihood.py::test_what_says_nothing_on_this_engine_is_left_out",
    "engine_sim/test_owned_starting.py::test_no_figure_without_papers_is_above_practice",
    "engine_sim/test_owned_starting.py::test_the_bands_lie_within_practice_and_follow_the_fuel",
    "engine_sim/test_owned_starting.py::test_the_simulation_only_lowers",
    "engine_sim/test_owned_tables.py::test_a_late_engine_gains_more_from_advance_and_a_leak_lowers_the_starters_vacuum",
    "engine_sim/test_owned_tables.py::test_the_same_seed_draws_the_same_engine_and_another_seed_another",
    "engine_sim/test_road_check.py::test_every_route_can_be_driven_by_every_vehicle",
    "engine_sim/test_road_check.py::test_the_judge_knows_where_the_pull_goes_silent",
    "engine_sim/test_starting.py::test_no_later_timing_starts_sooner",
    "graders/test_nbgrader_bridge.py::test_nbgraders_own_run_over_all_judges_the_same_and_leaves_out_what_it_must_not_touch",
    "graders/test_roster.py::test_whoever_typed_another_name_gets_full_credit",
    "graders/test_trace.py::test_the_trace_is_the_search_from_where_it_was_found",
    "hub/test_parts.py::test_the_button_of_a_lesson_uses_the_exchange",
    "hub/test_parts.py::test_the_desk_does_one_thing_at_a_time",
    "lessons/test_l01.py::test_the_lesson_followed_scores_full_marks",
    "lessons/test_l11.py::test_each_mistake_without_a_figure_costs_its_own_and_is_named",
    "lessons/test_l11.py::test_from_no_figure_to_the_road_scores_full_marks",
    "numerics/test_companions.py::test_in_company_as_alone",
    "repository/test_dependencies.py::test_every_import_of_the_course_is_declared",
    "repository/test_dependencies.py::test_every_import_of_the_tests_is_declared",
    "repository/test_dependencies.py::test_nothing_is_declared_for_nothing",
    "repository/test_imports.py::test_a_learner_needs_nothing_that_is_for_classes",
)


def quick() -> list[str]:
    """What the quick run is asked for: files, as paths within the checkout, and what of them is left out."""
    files = [f"tests/{folder}/test_{name}.py" for folder, names in QUICK.items() for name in names.split()]
    return [*files, *(f"--deselect=tests/{name}" for name in LEFT_TO_THE_WHOLE)]


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
