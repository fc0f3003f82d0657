"""Checks declare what they can find, read and fill in: they keep to it, and every rubric is held to it when read."""

from __future__ import annotations

import ast
import copy
import functools
import inspect
import json
import random
import string
import tomllib
from collections.abc import Iterator
from types import ModuleType

import pytest

from graders.bench.attempt import CHECKS, MISSING, Check, CheckFinding, UndeclaredError
from graders.exercises.loader import (
    RubricError,
    lessons_with_rubrics,
    load_rubric,
    rubric_for,
    rubric_from,
    rubric_path,
)
from graders.exercises.packing import ENDING, packed
from graders.judge import judge_lesson
from graders.outcome import Outcome
from tests.every_case import check_every
from tests.scripted_learner import BENCH, ENGINES, LESSON, Habits, evidence_by

SEED = 20260117


def table_of(lesson: str) -> dict:
    """The course's rubric of a lesson as TOML has it."""
    return tomllib.loads(rubric_path(lesson).read_text(encoding="utf-8"))


def benches() -> Iterator[tuple[dict, dict]]:
    """Every exercise at the bench, after the table of its lesson."""
    for lesson in lessons_with_rubrics():
        table = table_of(lesson)
        yield from ((table, one) for one in table["exercises"] if one["kind"] == "bench")


def part(table: dict, exercise: str, criterion: str) -> dict:
    """One criterion of a rubric's table."""
    found = next(item for item in table["exercises"] if item["id"] == exercise)
    return next(item for item in found["criteria"] if item["id"] == criterion)


# ---- the declaration and the source ----------------------------------------------------------------------------------


@functools.cache
def parsed(module: ModuleType) -> ast.Module:
    """The parsed source of a module of checks."""
    return ast.parse(inspect.getsource(module))


class Source:
    """What the source of a check can return, reads and fills in, with the functions of its module that it calls."""

    def __init__(self, check: Check):
        module = parsed(inspect.getmodule(check.function))
        functions = {one.name: one for one in module.body if isinstance(one, ast.FunctionDef)}
        self.findings: dict[str, set[tuple[str, ...]]] = {}
        self.tolerances: set[str] = set()
        self._seen: set[str] = set()
        self._read(functions[check.function.__name__], functions)

    def _read(self, function: ast.FunctionDef, functions: dict[str, ast.FunctionDef]) -> None:
        self._seen.add(function.name)
        tables = {
            node.targets[0].id: node.value
            for node in ast.walk(function)
            if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name)
        }
        for node in [node for statement in function.body for node in ast.walk(statement)]:
            match node:
                case ast.Name(id="MISSING"):
                    self.findings.setdefault(MISSING.name, set()).add(())
                case ast.Call(func=ast.Name(id="CheckFinding"), args=[_, name, *more]):
                    given = more[1] if len(more) > 1 else ast.Dict([], [])
                    filled = tables[given.id] if isinstance(given, ast.Name) else given
                    values = tuple(sorted(key.value for key in filled.keys))
                    for found in constants(name):
                        self.findings.setdefault(found, set()).add(values)
                case ast.Call(func=ast.Name(id=name)) if name in functions and name not in self._seen:
                    self._read(functions[name], functions)
                case ast.Subscript(value=ast.Name(id="tolerances"), slice=key):
                    self.tolerances.update(constants(key))


def constants(node: ast.expr) -> list[str]:
    """Every text that an expression can be; a finding has to be spelt out."""
    if isinstance(node, ast.IfExp):
        return constants(node.body) + constants(node.orelse)
    assert isinstance(node, ast.Constant) and isinstance(node.value, str), ast.unparse(node)
    return [node.value]


def test_a_check_declares_exactly_what_its_source_holds():
    """Findings, tolerances, and the values that each finding fills in, no more and no fewer."""

    def check(one):
        source = Source(one)
        assert {finding: {tuple(sorted(one.values.get(finding, ())))} for finding in one.findings} == source.findings
        assert set(one.tolerances) == source.tolerances
        assert len(set(one.findings)) == len(one.findings) and {"met", "missing"} <= set(one.findings)
        assert set(one.values) <= set(one.findings)
        assert not {*one.retired} & {*one.findings, *one.tolerances} and set(one.usual) <= set(one.tolerances)

    check_every(check, CHECKS.items())


@pytest.mark.parametrize(
    ("found", "wanted"),
    [
        (CheckFinding(0.0, "cool"), "found 'cool'"),
        (CheckFinding(0.0, "cold"), "coldest"),
        (CheckFinding(0.0, "cold", None, {"coldest": 3.0, "more": 1.0}), "more"),
        (CheckFinding(0.0, "cold", None, {"coldest": "3"}), "coldest"),
        (CheckFinding(1.0, "met", None, {"coldest": 3.0}), "coldest"),
    ],
)
def test_a_check_that_does_something_undeclared_fails(found, wanted):
    """Another finding, a value left out, added or of another type is never passed on."""
    declared = CHECKS["was_warm"]
    spoiled = Check(
        function=lambda attempt, tolerances: found,
        findings=declared.findings,
        tolerances=declared.tolerances,
        values=declared.values,
        retired=(),
    )
    with pytest.raises(UndeclaredError, match=wanted):
        spoiled(None, {"coolant_c": 78.0})


def test_a_check_sees_only_the_tolerances_that_it_declares():
    """One that reads another number fails, although the rubric has that number."""
    reads = Check(
        function=lambda attempt, tolerances: CheckFinding(tolerances["undeclared"], "met"),
        findings=("met", "missing"),
        tolerances=("declared",),
        values={},
        retired=(),
    )
    with pytest.raises(KeyError, match="undeclared"):
        reads(None, {"declared": 1.0, "undeclared": 1.0})


@pytest.mark.parametrize(
    "habits",
    [
        Habits(),
        Habits(backs_off_with="nothing"),
        Habits(backs_off_with="idle_screw"),
        Habits(hose="off and open"),
        Habits(gauge="ported"),
        Habits(warms_up=False),
        Habits(tightens=False),
        Habits(retrims=False, makes_safe=False),
        Habits(turns_wrong_way=True, reconnects=False),
        Habits(stops_short=True, drives=False),
    ],
    ids=str,
)
def test_what_learners_do_is_always_judged(tmp_path, habits):
    """Good and bad work at the bench: no check does anything undeclared, and every sentence can be filled in."""
    result = judge_lesson(LESSON, evidence_by(tmp_path / "evidence.jsonl", "anna", habits), ENGINES).exercise(BENCH)
    assert not result.needs_person
    assert all(one.sentence and one.outcome is not Outcome.COULD_NOT_BE_JUDGED for one in result.criteria)


# ---- slips in a rubric -----------------------------------------------------------------------------------------------

SLIPS = [
    (
        ("l04_base_timing", "l04_set_base_timing", "warm"),
        lambda one: one["sentences"].pop("cold"),
        r"criteria\.warm\.sentences has no sentence for 'cold'.*add it",
    ),
    (
        ("l04_base_timing", "l04_set_base_timing", "clamp"),
        lambda one: one["sentences"].update({"not red": one["sentences"].pop("not read")}),
        r"criteria\.clamp\.sentences has 'not red', and the check 'clamped_and_read_again' finds .*: write 'not read'",
    ),
    (
        ("l04_base_timing", "l04_set_base_timing", "clamp"),
        lambda one: one["sentences"].update(broken="The clamp is broken."),
        r"criteria\.clamp\.sentences has 'broken', .*: take it out\.$",
    ),
    (
        ("l04_base_timing", "l04_set_base_timing", "clamp"),
        lambda one: one["sentences"].update(broken=""),
        r"criteria\.clamp\.sentences has 'broken', .*: take it out\.$",
    ),
    (
        ("l04_base_timing", "l04_set_base_timing", "peak"),
        lambda one: one["sentences"].update(met="  "),
        r"criteria\.peak\.sentences has no sentence for 'met'",
    ),
    (
        ("l05_road_check", "l05_two_fuels", "steps"),
        lambda one: one.update(tolerances={"step_degrees": 1.0}),
        r"criteria\.steps\.tolerances has 'step_degrees', and the check 'small_steps' reads .*: write 'step_deg'",
    ),
    (
        ("l05_road_check", "l05_two_fuels", "steps"),
        lambda one: one.pop("tolerances"),
        r"criteria\.steps\.tolerances has no number for 'step_deg'.*add it",
    ),
    (
        ("l04_base_timing", "l04_set_base_timing", "hose_plugged"),
        lambda one: one.update(tolerances={"far": 2.0}),
        r"criteria\.hose_plugged\.tolerances has 'far', .* reads none: take it out",
    ),
    (
        ("l04_base_timing", "l04_set_base_timing", "warm"),
        lambda one: one.update(tolerances={"coolant_c": "hot"}),
        r"tolerances, coolant_c \(in 'warm'\): .*number; 'hot' was found",
    ),
    (
        ("l04_base_timing", "l04_set_base_timing", "warm"),
        lambda one: one.update(tolerances={"coolant_c": True}),
        r"tolerances, coolant_c \(in 'warm'\): .*number",
    ),
    (
        ("l07_altitude_weather_fuel", "l07_at_home", "reading"),
        lambda one: one["sentences"].update(met="You read {vaccum:.1f} inHg."),
        r"criteria\.reading\.sentences\.met has \{vaccum:\.1f\}, .* given \{vacuum\}: write \{vacuum:\.1f\}",
    ),
    (
        ("l03_getting_it_to_start", "l03_static", "timing"),
        lambda one: one["sentences"].update(off="It ended {off:.0f} degrees {side:.1f}."),
        r"criteria\.timing\.sentences\.off has \{side:\.1f\}, whose form does not fit a value such as 'early'",
    ),
    (
        ("l03_getting_it_to_start", "l03_static", "timing"),
        lambda one: one["sentences"].update(off="It ended {off:d} degrees off."),
        r"criteria\.timing\.sentences\.off has \{off:d\}, whose form does not fit .* write \{off:\.0f\}",
    ),
    (
        ("l03_getting_it_to_start", "l03_static", "timing"),
        lambda one: one["sentences"].update(missing="Off by {off:.0f}."),
        r"criteria\.timing\.sentences\.missing has \{off:\.0f\}, and nothing fills it in: take it out",
    ),
    (
        ("l03_getting_it_to_start", "l03_static", "timing"),
        lambda one: one["sentences"].update(off="Off by {off:.0f degrees."),
        r"criteria\.timing\.sentences\.off has a brace without its other half",
    ),
    (
        ("l03_getting_it_to_start", "l03_static", "timing"),
        lambda one: one["sentences"].update(off="Off by {} degrees."),
        r"criteria\.timing\.sentences\.off has \{\}",
    ),
    (
        ("l03_getting_it_to_start", "l03_static", "timing"),
        lambda one: one["sentences"].update(off="Off by {off.real} degrees."),
        r"criteria\.timing\.sentences\.off has \{off\.real\}, .* \{off\}, \{side\}: write one of these or take it out",
    ),
    (
        ("l08_not_the_timing", "l08_truck", "truck_budget"),
        lambda one: one["sentences"].update(over="It took {minute} minutes."),
        r"criteria\.truck_budget\.sentences\.over has \{minute\}.*write \{minutes\}",
    ),
    (
        ("l08_not_the_timing", "l08_truck", "truck_budget"),
        lambda one: one["sentences"].update(over="It took {minutes} of {budget:.0f} minutes."),
        r"criteria\.truck_budget\.sentences\.over has \{budget:\.0f\}, whose form",
    ),
]


@pytest.mark.parametrize("file", ["course", "class", "packed"])
def test_a_slip_is_refused_with_the_criterion_and_the_field(tmp_path, file):
    """In the course's rubric, in a class's own, and in one that was handed out: one sentence, when it is read."""

    def check(folder, place, slip, sentence):
        lesson, exercise, criterion = place
        table = table_of(lesson)
        table["exercises"] = [item for item in table["exercises"] if item["id"] == exercise]
        slip(part(table, exercise, criterion))
        text = as_toml(table).encode("utf-8")
        folder.mkdir()
        with pytest.raises(RubricError, match=sentence) as refused:
            if file == "course":
                rubric_from(table, f"{lesson}.toml")
            elif file == "class":
                (folder / f"{lesson}.toml").write_bytes(text)
                rubric_for(lesson, folder)
            else:
                (folder / f"{lesson}{ENDING}").write_bytes(packed(text))
                rubric_for(lesson, folder)
        assert str(refused.value).startswith(f"{lesson}") and exercise in str(refused.value)
        assert "\n" not in str(refused.value)

    check_every(check, ((f"slip {number}", tmp_path / f"{number}", *slip) for number, slip in enumerate(SLIPS)))


def as_toml(table: dict) -> str:
    """A rubric's table as the text of a file."""
    return "".join(f"{json.dumps(name)} = {_value(value)}\n" for name, value in table.items())


def _value(value) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(name)} = {_value(one)}" for name, one in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    return json.dumps(value, ensure_ascii=False)


def test_a_rubric_written_out_is_the_same_one():
    """The slips above are slips of the test's, not of its writing."""
    table = table_of(LESSON)
    assert tomllib.loads(as_toml(table)) == table


def test_a_rubric_of_an_earlier_edition_still_loads():
    """A class may hold l03 as one edition had it: a sentence and a tolerance more, which nothing reads today."""
    table = table_of("l03_getting_it_to_start")
    part(table, "l03_static", "lamp")["sentences"]["backwards"] = "The crank was brought to the mark backwards."
    part(table, "l03_will_not_start", "starter")["tolerances"]["crank_s"] = 10.5
    assert set(rubric_from(table, "l03.toml").exercises) == set(load_rubric("l03_getting_it_to_start").exercises)


def misspelt(name: str, known: set[str], dice: random.Random) -> str:
    """A name with one letter changed, left out, doubled or swapped, which is none of the known ones."""
    while True:
        at = dice.randrange(len(name))
        letter = dice.choice(string.ascii_lowercase)
        slips = (
            name[:at] + letter + name[at + 1 :],
            name[:at] + name[at + 1 :],
            name[: at + 1] + name[at:],
            name[:at] + name[at : at + 2][::-1] + name[at + 2 :],
        )
        slip = dice.choice(slips)
        if slip not in known:
            return slip


def small_slips(criterion: dict, dice: random.Random):
    """Every sentence and tolerance of a criterion left out and misspelt, every brace misspelt: the field that has the
    slip, and the criterion with it. A tolerance that has a usual value may be left out."""
    for field in ("sentences", "tolerances"):
        names = criterion.get(field, {})
        for name in names:
            without = {other: value for other, value in names.items() if other != name}
            if name not in CHECKS[criterion["check"]].usual:
                yield field, criterion | {field: without}
            yield field, criterion | {field: without | {misspelt(name, set(names), dice): names[name]}}
    for name, sentence in criterion["sentences"].items():
        braces = {brace for _, brace, _, _ in string.Formatter().parse(sentence) if brace}
        for brace in sorted(braces):
            spoiled = sentence.replace(f"{{{brace}", f"{{{misspelt(brace, {'off', 'side', *braces}, dice)}", 1)
            yield "sentences", criterion | {"sentences": criterion["sentences"] | {name: spoiled}}


def test_any_small_slip_in_a_bench_criterion_is_refused():
    """Left out or misspelt, a sentence, a tolerance or a brace: the seed draws the letters, no slip gets through."""

    def check(whole, bench):
        dice, file = random.Random(f"{SEED} {bench['id']}"), f"{whole['lesson']}.toml"
        alone = whole | {"exercises": [bench]}
        assert rubric_from(copy.deepcopy(alone), file).exercises
        for place, criterion in enumerate(bench["criteria"]):
            for field, spoiled in small_slips(criterion, dice):
                criteria = [*bench["criteria"][:place], spoiled, *bench["criteria"][place + 1 :]]
                table = whole | {"exercises": [bench | {"criteria": criteria}]}
                with pytest.raises(RubricError) as refused:
                    rubric_from(copy.deepcopy(table), file)
                assert f"{bench['id']}: criteria.{criterion['id']}.{field}" in str(refused.value), spoiled

    check_every(check, ((bench["id"], table, bench) for table, bench in benches()))


def test_a_rubric_that_a_class_made_before_still_loads():
    """Without the tolerances that have a usual value, with one that nothing reads today, and without the label."""
    table = table_of(LESSON)
    table["exercises"][0].pop("guessable")
    back_off, setting = (part(table, BENCH, name) for name in ("back_off", "setting"))
    back_off["tolerances"] = {"drop_rpm": 25.0}
    setting["tolerances"] = {"window_deg": 2.0, "retard_for_ping_deg": 6.0}
    setting["sentences"] = {name: sentence.replace(" {label}", "") for name, sentence in setting["sentences"].items()}
    assert rubric_from(table, "l04.toml").exercises[BENCH].guessable


def test_an_engine_with_a_fault_to_find_has_a_label_that_holds():
    """A fault and a label that is to be doubted are two things at once: refused with what to take out."""
    table = table_of(LESSON)
    table["exercises"][0]["faults"] = ["damper_slipped"]
    with pytest.raises(RubricError, match="guessable = false is for sound engines: take it out, or take out faults"):
        rubric_from(table, "l04.toml")


def test_a_brace_that_no_engine_fills_is_refused():
    """Also where the numbers depend on the learner's engine, so that no formula can be worked out beforehand."""
    table = table_of("l07_altitude_weather_fuel")
    item = next(one for one in table["exercises"] if one.get("answer_from") == "octane_at_altitude")
    item["question"] += " {asked_at_altitud}"
    with pytest.raises(
        RubricError, match=r"question: the text names \{asked_at_altitud\}; there are .*asked_at_altitude"
    ):
        rubric_from(table, "l07.toml")


def test_a_slip_in_a_curves_sentence_is_refused():
    """The judge of a drawn curve declares what fills its sentences, as a check at the bench does."""
    table = table_of("l06_advance_curve")
    checks = next(one for one in table["exercises"] if one["kind"] == "curve")["checks"]
    judged = next(one for one in checks if one.get("judge_with"))
    judged["sentences"]["pings"] = "It pings at {sped:.0f} rpm."
    with pytest.raises(RubricError, match=r"sentences\.pings has \{sped:\.0f\}.*write \{speed:\.0f\}"):
        rubric_from(table, "l06.toml")
