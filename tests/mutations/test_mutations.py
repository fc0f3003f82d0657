"""The tool that changes the code line by line changes what it says, and tells the truth of what noticed it."""

from __future__ import annotations

import ast
from contextlib import contextmanager

import pytest

from tests.long_run import git
from tests.mutations import __main__ as tool
from tests.mutations.copies import COPIED, CannotJudge, Reach
from tests.mutations.drawing import (
    CHECKOUT,
    JudgeRules,
    Mutation,
    PhysicsRules,
    in_rubric,
    in_source,
    of_judge,
    of_physics,
)
from tests.mutations.judging import NOTHING_NOTICED, Verdict, Workshop, first_failure, known_survivors
from tests.mutations.reach import files_of_tests, should_notice

SOURCE = '''"""A module."""

WARM_C = 80.0  # from here on the oil is thin
STEPS = 3
LIMITS = (0.3, -5)
TWICE = 2.0 * WARM_C


def factor(coolant_c, speed):
    """Words with 1.5 and a + b stay as they are."""
    if speed < 0:
        raise ValueError(f"{speed - 1.0} is below nothing")
    return atan2(coolant_c, -speed) + 0.5 * (WARM_C - coolant_c) / max(speed, 1)
'''
CHANGES = {
    "constant: 80.0 -> 96.0",
    "constant: 3 -> 4",
    "constant: (0.3, -5) -> (0.36, -6)",
    "constant: 2.0 * WARM_C -> 1.2 * (2.0 * WARM_C)",
    "sign: + -> -",
    "sign: - -> +",
    "sign: -speed -> (speed)",
    "swapped: coolant_c, -speed -> -speed, coolant_c",
    "number: 0.5 -> 0.6",
    "dropped: WARM_C - coolant_c -> (WARM_C)",
    "dropped: 0.5 * (WARM_C - coolant_c) / max(speed, 1) -> (0.5 * (WARM_C - coolant_c))",
    "dropped: atan2(coolant_c, -speed) + 0.5 * (WARM_C - coolant_c) / max(speed, 1) -> (atan2(coolant_c, -speed))",
}
JUDGED = """def check(found, wanted):
    if 0 <= found < wanted and found is not None:
        return min(found, 1)
    return found == wanted or found in (1, 2)
"""
INVERTED = {
    "inverted: == -> !=",
    "inverted: in -> not in",
    "bound dropped: < wanted -> (nothing)",
    "bound dropped: 0 <= found < wanted and found is not None -> ((0 <= found < wanted))",
    "bound dropped: found == wanted or found in (1, 2) -> ((found == wanted))",
    "bound dropped: min(found, 1) -> (found)",
}
RUBRIC = """[[exercises.criteria]]
id = "safe"
tolerances = { few_stops = 0, window_deg = 2.75 }

[[exercises.parts]]
id = "drop"
tolerance = 0.1
points = 2
"""


def changes(mutations) -> set[str]:
    """What each mutation does, without where."""
    return {one.key.partition(" | ")[2] for one in mutations}


def test_every_rule_of_the_physics_changes_what_it_says():
    """Constants, signs, numbers, terms and arguments of a module; no text, no error, no docstring."""
    assert changes(in_source("a.py", SOURCE, PhysicsRules)) == CHANGES


def test_every_rule_of_the_judge_changes_what_it_says():
    """Comparisons are inverted, the last of several bounds goes."""
    assert changes(in_source("a.py", JUDGED, JudgeRules)) == INVERTED


def test_tolerances_of_a_rubric_are_doubled():
    """Each by the id that it belongs to; where none is granted, one is; points stay."""
    assert [one.key for one in in_rubric("l04.toml", RUBRIC)] == [
        "l04.toml safe | tolerance doubled: few_stops = 0 -> few_stops = 1",
        "l04.toml safe | tolerance doubled: window_deg = 2.75 -> window_deg = 5.5",
        "l04.toml drop | tolerance doubled: tolerance = 0.1 -> tolerance = 0.2",
    ]


def test_every_drawn_change_is_another_program():
    """Each changed module of the checkout can be parsed, and is not the one that it was; keys are not given twice."""
    drawn = of_physics(2) + [one for one in of_judge(2) if one.path.endswith(".py")]
    for one in drawn[::5]:
        text = (CHECKOUT / one.path).read_text(encoding="utf-8")
        assert ast.dump(ast.parse(one.applied(text))) != ast.dump(ast.parse(text)), one.key
    assert len({one.key for one in drawn}) == len(drawn) > 200


def test_the_same_seed_draws_the_same():
    """A draw is repeated by its seed, and another seed draws others."""
    assert of_physics(7) == of_physics(7) and of_judge(7) == of_judge(7)
    assert of_physics(7) != of_physics(8)


def test_few_are_drawn_from_every_rule():
    """The same few for the same seed, in the order of the draw, none of a rule twice before every rule has one."""
    all_of_them = of_physics(1) + of_judge(1)
    found = tool.few(all_of_them, 10, seed=1)
    rules = {one.rule for one in all_of_them}
    assert len(found) == 10 and found == [one for one in all_of_them if one in found]
    assert {one.rule for one in found} == rules and found == tool.few(all_of_them, 10, seed=1)
    assert tool.few(all_of_them, 10**6, seed=1) == all_of_them


def test_a_change_of_other_text_is_refused():
    """A mutation is not applied to a file that has changed since it was drawn."""
    one = Mutation("a.py", "sign", "f", 4, "+", "-")
    assert one.applied("a = + b") == "a = - b"
    with pytest.raises(ValueError, match="draw the mutations again"):
        one.applied("a == b")


REACHES = {
    "tests/published/test_burn.py": Reach(9.0, {"engine_sim/physics/burn.py": frozenset(range(1, 200))}),
    "tests/numerics/test_map.py": Reach(2.0, {"engine_sim/physics/burn.py": frozenset(range(1, 200))}),
    "tests/engine_sim/test_card.py": Reach(1.0, {"engine_sim/model/card.py": frozenset(range(1, 200))}),
    "tests/graders/test_instrument.py": Reach(1.0, {}),
    "tests/lessons/test_l04.py": Reach(1.0, {}),
    "tests/lessons/test_l05.py": Reach(1.0, {}),
}


def test_the_tests_that_go_through_a_line_are_asked_quickest_first():
    """By the lines that read a constant, by a statement's own lines, and by the lesson of a rubric."""
    burn = [one for one in of_physics(1) if one.path.endswith("burn.py") and one.function == "WIEBE_A"]
    assert should_notice(burn[0], REACHES) == ["tests/numerics/test_map.py", "tests/published/test_burn.py"]
    rubric = Mutation("graders/rubrics/l04_base_timing.toml", "tolerance doubled", "peak", 0, "", "")
    assert should_notice(rubric, REACHES) == ["tests/graders/test_instrument.py", "tests/lessons/test_l04.py"]


class Stand:
    """Instead of a copy of the checkout: tests of one file fail."""

    def __init__(self, failing: str, status: int | None = 1, at_a_comment: bool = False):
        self.failing, self.status, self.at_a_comment = failing, status, at_a_comment
        self.changes: list[str] = []

    @contextmanager
    def changed(self, mutation):
        """Nothing is changed, and what would have been is kept."""
        self.changes.append(mutation.key)
        yield

    def reach(self, file):
        """What the file goes through."""
        return REACHES[file]

    def pytest(self, files, within_s):
        """As pytest's summary has it."""
        fails = self.at_a_comment or "nothing is changed" not in self.changes[-1]
        if not fails or not any(file.partition("::")[0] == self.failing for file in files):
            return 0, "2 passed"
        return self.status, f"..F\nFAILED {self.failing}::test_one - assert 1 == 2\n"


def judged_by(stand: Stand, mutations) -> list[Verdict]:
    """The verdicts of one stand-in instead of copies."""
    files = {file: kind for file, kind in files_of_tests().items() if file in REACHES}
    return Workshop([stand]).verdicts(mutations, files, print)


@pytest.mark.parametrize(
    ("failing", "status", "kind", "test"),
    (
        ("tests/published/test_burn.py", 1, "outside", "tests/published/test_burn.py::test_one"),
        ("tests/numerics/test_map.py", 1, "method", "tests/numerics/test_map.py::test_one"),
        ("tests/numerics/test_map.py", None, "method", "took too long"),
        ("tests/engine_sim/test_card.py", 1, NOTHING_NOTICED, ""),
    ),
)
def test_the_first_kind_that_notices_is_named(failing, status, kind, test):
    """Values from outside before the method; tests that do not come through the line are not asked."""
    stand = Stand(failing, status)
    burn = next(one for one in of_physics(1) if one.function == "WIEBE_A")
    (found,) = judged_by(stand, [burn])
    assert (found.kind, found.test) == (kind, test)
    # What a kind has noticed goes to no later one.
    assert stand.changes.count(burn.key) == (1 if kind == "outside" else 2)


def test_tests_that_fail_at_a_comment_judge_nothing():
    """A test that fails although nothing but a comment was added ends the work by name."""
    burn = next(one for one in of_physics(1) if one.function == "WIEBE_A")
    with pytest.raises(CannotJudge, match=r"test_burn\.py::test_one fails although only a comment"):
        judged_by(Stand("tests/published/test_burn.py", at_a_comment=True), [burn])


def test_a_failure_that_cannot_be_read_is_said_to_be_one():
    """Where pytest names no test, the verdict says so."""
    assert first_failure("ERROR tests/a.py - ImportError") == "tests/a.py"
    assert first_failure("Killed") == "the tests could not be read"


def test_survivors_need_a_reason_and_a_reason_needs_a_survivor():
    """What nothing noticed is named until it is explained, and an explanation goes with its survivor."""
    found = [Verdict("a", "sign", "x.py", NOTHING_NOTICED), Verdict("b", "sign", "x.py", "method")]
    assert tool.unexplained(found, {"a": "equivalent because ..."}) == []
    assert len(tool.unexplained(found, {})) == 1 and "NOT NOTICED" in tool.unexplained(found, {})[0]
    assert "take it out" in tool.unexplained(found, {"a": "", "b": ""})[0]


def test_another_kind_than_before_is_named():
    """A mutation that fell to a value from outside and falls to a frozen figure now is told."""
    before = [Verdict("a", "sign", "x.py", "outside"), Verdict("gone", "sign", "x.py", "outside")]
    assert tool.moved(before, [Verdict("a", "sign", "x.py", "frozen")]) == ["outside -> frozen: a"]
    assert tool.moved(before, [Verdict("a", "sign", "x.py", "outside")]) == []


def test_what_is_noticed_still_is_counted():
    """Of what something noticed before, and is judged now, as many as something notices now."""
    before = [Verdict("a", "sign", "x.py", "outside"), Verdict("b", "sign", "x.py", "judge")]
    before += [Verdict("c", "sign", "x.py", NOTHING_NOTICED), Verdict("gone", "sign", "x.py", "outside")]
    now = [Verdict("a", "sign", "x.py", "method"), Verdict("b", "sign", "x.py", NOTHING_NOTICED)]
    now.append(Verdict("c", "sign", "x.py", "outside"))
    assert tool.still_noticed(before, now).startswith("1 of the 2 ")


def test_the_table_counts_every_verdict():
    """Rules down, kinds across, sums at the edges."""
    rows = tool.table([Verdict("a", "sign", "x.py", "outside"), Verdict("b", "number", "x.py", NOTHING_NOTICED)])
    assert [row.split() for row in rows.splitlines()][-1] == ["all", "1", "0", "0", "0", "0", "1", "2"]


def test_every_survivor_has_a_reason_and_is_still_there():
    """Each is called equivalent or open, with why, and its change can still be made."""
    possible = {one.key for one in of_physics(0, each=10**6) + of_judge(0, each=10**6)}
    for key, why in known_survivors().items():
        assert why.startswith(("equivalent because ", "open: ")) and key in possible, key


def test_a_copy_holds_all_that_tests_read():
    """Every file and folder at the top of the checkout is copied, or named here as read by no test of a mutation."""
    read_by_none = {".ci", ".git-blame-ignore-revs", ".gitignore", "CHANGELOG.md", "LICENSE"}
    tracked = {path.partition("/")[0] for path in git("ls-files")}
    if not tracked:
        pytest.skip("no git here to say what belongs to the checkout")
    assert tracked - read_by_none == set(COPIED)
