"""A rubric that was spoiled says so in one sentence: which file, which exercise, which field, and what is wanted."""

from __future__ import annotations

import copy
import tomllib

import pytest

from graders.exercises.loader import RubricError, rubric_from, rubric_in
from tests.graders.instrument import TRIAL

TABLE = tomllib.loads((TRIAL / "l97_forms.toml").read_text(encoding="utf-8"))
SEVERAL, ORDER, SUM, HOSES, CURVE, BODY, ALTITUDE, LABEL, CRUISE = (item["id"] for item in TABLE["exercises"])

FAULTS = [
    # of every kind
    (SEVERAL, lambda item: item.pop("title"), "title", "required"),
    (SEVERAL, lambda item: item.update(title=3), "title", "string"),
    (SEVERAL, lambda item: item.update(kind="essay"), "essay", "there are bench, choice"),
    (SEVERAL, lambda item: item.update(kind=["several"]), "several", "there are bench, choice"),
    (SEVERAL, lambda item: item.pop("kind"), "kind", "required; there are bench, choice"),
    (SEVERAL, lambda item: item.update(colour="red"), "colour", "no such field"),
    (SEVERAL, lambda item: item.update(colour="red", tolerance=1), "colour", "no such field"),
    (SEVERAL, lambda item: item.update(steps=[], tolerance=1), "steps, tolerance", "does not belong to kind 'several'"),
    (SEVERAL, lambda item: item.update(faults=["none"]), "faults", "does not belong to kind 'several'"),
    (SEVERAL, lambda item: item.update(draw={}), "draw", "does not belong to kind 'several'"),
    (SEVERAL, lambda item: item.update(points="three"), "points", "number"),
    (SEVERAL, lambda item: item.update(points=True), "points", "number"),
    (SEVERAL, lambda item: item.update(points=float("nan")), "points", "finite"),
    (SEVERAL, lambda item: item.update(points=-1), "points", "more than none"),
    (SEVERAL, lambda item: item.pop("points"), "points", "missing"),
    (SEVERAL, lambda item: item.update(tolerance=1), "tolerance", "does not belong to kind 'several'"),
    (CURVE, lambda item: item.update(points=3), "points", "keep one of the two"),
    # several
    (SEVERAL, lambda item: item["choices"][0].update(right="yes"), "choices, number 1, right", "boolean"),
    (SEVERAL, lambda item: item["choices"][0].pop("sentence"), "choices, number 1, sentence", "required"),
    (SEVERAL, lambda item: item.update(choices=item["choices"][:3]), "choices", "right = false"),
    (SEVERAL, lambda item: item["choices"][1].update(id="chocks"), "choices", "'chocks' twice"),
    (SEVERAL, lambda item: item["sentences"].pop("wrong"), "sentences", "'wrong'"),
    (SEVERAL, lambda item: item["choices"][0].update(misconception="unheard_of"), "unheard_of", "add it"),
    # order
    (ORDER, lambda item: item.update(before=[]), "before", "every order would be right"),
    (ORDER, lambda item: item["before"].append(["road", "warm"]), "before", "circle"),
    (ORDER, lambda item: item["before"].append(["road", "lunch"]), "before", "lunch"),
    (ORDER, lambda item: item["before"].append(["road"]), "before, number 6, then", "required"),
    (ORDER, lambda item: item["steps"].append({"id": "road", "text": "Again."}), "steps", "'road' twice"),
    # sum
    (SUM, lambda item: item.update(fields=item["fields"][:1]), "fields", "two lines"),
    (SUM, lambda item: item["fields"][0].update(value=8), r"fields\.base", "either a value or a formula"),
    (SUM, lambda item: item["fields"][0].pop("formula"), r"fields\.base", "either a value or a formula"),
    (SUM, lambda item: item["fields"][0].update(unit="inHg"), r"fields\.base\.unit", "inHg"),
    (SUM, lambda item: item["fields"][0].update(tolerance=-1), r"fields\.base\.tolerance", "negative"),
    (SUM, lambda item: item["fields"][0].update(sign="?"), r"fields\.base\.sign", r"\?"),
    (
        SUM,
        lambda item: item["fields"][0].update(formula="base + odd"),
        r"fields\.base\.formula",
        "names 'odd'; there are base, canister, weights",
    ),
    (SUM, lambda item: item["fields"][0].update(formula="base.real"), r"fields\.base\.formula", "a formula may hold"),
    (SUM, lambda item: item["sentences"].pop("wrong unit"), r"fields\.base\.sentences", "'wrong unit'"),
    (SUM, lambda item: item.update(question="From {start} on"), "question", r"\{start\}; there are base"),
    (SUM, lambda item: item["draw"].update(base={"low": 6, "high": 12}), r"draw\.base", "low, high and step"),
    (SUM, lambda item: item["draw"].update(Base={"from": [1]}), r"draw\.Base", "small letters"),
    (SUM, lambda item: item["draw"].update(max={"from": [1]}), r"draw\.max", "functions"),
    (
        SUM,
        lambda item: item["fields"][1]["wrong"][0].update(formula="weights * 2"),
        r"fields\.centrifugal\.wrong 1",
        "right answer",
    ),
    (SUM, lambda item: item["draw"].update(weights={"low": 0, "high": 4, "step": 1}), "weights = 0", "right answer"),
    # numbers
    (BODY, lambda item: item.update(formula="found / (wanted - 7)"), "formula", "where found = 13, wanted = 7"),
    (ALTITUDE, lambda item: item.update(answer_from="moon"), "answer_from", "standard_atmosphere"),
    (ALTITUDE, lambda item: item["draw"].pop("altitude_ft"), "altitude_ft", "drawn"),
    (ALTITUDE, lambda item: item["draw"].update(altitude_ft={"from": [90000]}), "altitude_ft = 90000", "11,000|11000"),
    (LABEL, lambda item: item.pop("engine"), "answer_from", "engine"),
    (
        CRUISE,
        lambda item: item["worked_out"].update(all="base + later", later="1"),
        r"worked_out\.all",
        "names 'later'; there are",
    ),
    # hook-up
    (HOSES, lambda item: item.update(ports=["manifold", "exhaust"]), "ports", "exhaust"),
    (HOSES, lambda item: item["hoses"][0].update(start="radiator"), r"hoses\.gauge\.start", "radiator"),
    (HOSES, lambda item: item["hoses"][0].update(allowed=["second_manifold"]), r"hoses\.gauge\.allowed", "there are"),
    (HOSES, lambda item: item["hoses"][0].update(allowed=["ported"]), r"hoses\.gauge\.wrong", "allowed too"),
    (HOSES, lambda item: item["hoses"][1].update(allowed=["manifold"], wrong=[]), "hoses", "at once"),
    (HOSES, lambda item: item["hoses"][1].update(start="gauge"), r"hoses\.start", "twice"),
    # curve
    (CURVE, lambda item: item.pop("axes"), "axes", "missing"),
    (CURVE, lambda item: item["axes"].update(rpm=[500]), "axes, rpm, number 2", "required"),
    (CURVE, lambda item: item["checks"][0].update(never_falls=True), r"checks\.idle", "wants one of"),
    (CURVE, lambda item: [item["checks"][0].pop(name) for name in ("low", "high")], r"checks\.idle", "no limit"),
    (CURVE, lambda item: item["checks"][0]["sentences"].pop("low"), r"checks\.idle\.sentences", "'low'"),
    (CURVE, lambda item: item.update(reference=[[500, 0], [4000, 40]]), "reference", "does not meet"),
    (CURVE, lambda item: item.update(start=[[500, 0]]), "start", "points were wanted"),
    (CURVE, lambda item: item["examples"].pop(), "examples", "distributor_for_crank"),
    (CURVE, lambda item: item["checks"][3].update(never_falls=False, judge_with="oracle"), "judge_with", "engine"),
]


@pytest.mark.parametrize(
    ("exercise", "spoil", "field", "wanted"), FAULTS, ids=[f"{number}-{one[2]}" for number, one in enumerate(FAULTS)]
)
def test_one_sentence_names_file_exercise_and_field(exercise, spoil, field, wanted):
    """What was found and what is wanted, in one line."""
    table = copy.deepcopy(TABLE)
    spoil(next(item for item in table["exercises"] if item["id"] == exercise))
    with pytest.raises(RubricError, match=field) as caught:
        rubric_from(table, "l97_forms.toml")
    text = str(caught.value)
    assert text.startswith(f"l97_forms.toml: {exercise}: ") and "\n" not in text and text.endswith(".")
    caught.match(wanted)


def test_the_unspoiled_rubric_is_taken():
    """The faults above are faults of the spoiling."""
    assert rubric_from(copy.deepcopy(TABLE), "l97_forms.toml") == rubric_in(TRIAL / "l97_forms.toml")


def test_two_exercises_of_one_name_are_refused():
    """An id stands for one exercise."""
    table = copy.deepcopy(TABLE)
    table["exercises"].append(copy.deepcopy(table["exercises"][0]))
    with pytest.raises(RubricError, match=f"'{SEVERAL}' twice"):
        rubric_from(table, "l97_forms.toml")


def test_a_file_that_is_no_rubric_says_so(tmp_path):
    """TOML that cannot be read, and tables without their parts, are sentences too."""
    path = tmp_path / "l98_torn.toml"
    for text, wanted in (
        ("lesson = ", "not readable"),
        ("title = 'x'", "exercises"),
        ("exercises = 3", "wrong form"),
        ("exercises = [3]\n", "exercise 1"),
    ):
        path.write_text(text, encoding="utf-8")
        with pytest.raises(RubricError, match=wanted) as caught:
            rubric_in(path)
        assert str(caught.value).startswith("l98_torn.toml")
