"""The picture of a try on the learner's page: it shows what was done, in words too, and nothing but numbers gets in."""

from __future__ import annotations

import json
import re
from dataclasses import asdict, replace

import pytest
from bs4 import BeautifulSoup
from nbformat.v4 import new_code_cell, new_notebook

from engine_sim import read_evidence
from graders.bench.trace import MOST_POINTS, trace_of
from graders.exercises.kinds.bench import best_attempt
from graders.exercises.loader import load_rubric
from graders.judge import judge_exercise
from graders.nbgrader_bridge.feedback_page import FeedbackPageExporter
from graders.nbgrader_bridge.trace_picture import in_words, trace_picture
from graders.outcome import Trace
from tests.lessons.working import ENGINES
from tests.scripted_learner import Habits, evidence_by

LESSON, BENCH = "l04_base_timing", "l04_set_base_timing"
DRAWN = Trace("timing", (0.0, 10.0, 30.0, 20.0), (17.0, 18.5, 19.0, 18.8), (700.0, 760.0, 800.0, 790.0), 25.0)
OF_THE_ENGINE = {
    "method": 18.0,
    "left_at": 20.0,
    "own_line": ((0.0, 17.0, 700.0), (25.0, 19.0, 800.0), (40.0, 18.0, 820.0)),
    "flat_from": 19.0,
    "pings_from": 28.0,
}
RUN = Trace("time", (3.0, 4.0, 600.0), (12.0, 18.0, 18.5), (650.0, 800.0, 750.0), None, (3.0, 90.0))


@pytest.fixture(scope="module")
def search(tmp_path_factory):
    """A faultless try of the method, and its case."""
    path = evidence_by(tmp_path_factory.mktemp("trace") / "evidence.jsonl", "ada", Habits())
    evidence = read_evidence(path)
    attempt, _ = best_attempt(load_rubric(LESSON).exercises[BENCH].judged_attempts(evidence, ENGINES))
    return attempt, judge_exercise(BENCH, evidence, ENGINES).trace


def test_the_trace_is_the_search_from_where_it_was_found(search):
    """It goes past the peak of this engine and ends where the try did, counted from where the timing was found."""
    attempt, trace = search
    found = attempt.trajectory.samples[0].base_timing_deg
    assert trace.over == "timing" and len(trace.along) <= MOST_POINTS + 1
    assert max(trace.along) > trace.peak == pytest.approx(attempt.reference.method.peak_timing_deg - found, abs=0.01)
    assert trace.along[-1] == pytest.approx(attempt.search[-1].base_timing_deg - found, abs=0.01)
    assert max(trace.vacuum_inhg) == pytest.approx(max(one.vacuum_inhg for one in attempt.search), abs=0.3)


def test_other_work_at_the_bench_is_traced_over_time(search):
    """Where no timing is looked for, the line runs over the time in which the engine ran, with a stroke an act."""
    attempt, _ = search
    exercise = next(one for one in load_rubric("l02_what_the_gauges_say").exercises.values() if one.kind == "bench")
    trace = trace_of(exercise.criteria, attempt)
    assert trace.over == "time" and trace.peak is None and list(trace.along) == sorted(trace.along)
    assert trace.acts and trace.along[0] <= trace.acts[0] <= trace.acts[-1] <= trace.along[-1]


def points(svg, kind: str) -> list[tuple[float, float]]:
    """The corners of a line of the picture."""
    return [
        tuple(map(float, pair.split(",")))
        for pair in svg.find("polyline", class_=lambda name: name == kind)["points"].split()
    ]


@pytest.mark.parametrize("trace", [DRAWN, RUN], ids=["timing", "time"])
def test_the_lines_go_as_the_numbers_do(trace):
    """More is further right or higher up, each line has all its points, and all of them lie inside the picture."""
    svg = BeautifulSoup(trace_picture(trace), "html.parser").svg
    wide, high = map(float, svg["viewbox"].split()[2:])
    for kind, values in (("vacuum", trace.vacuum_inhg), ("speed", trace.speed_rpm)):
        drawn = points(svg, kind)
        assert len(drawn) == len(values) and all(0 < x < wide and 0 < y < high for x, y in drawn)
        order = sorted(range(len(values)), key=values.__getitem__)
        assert [drawn[place][1] for place in order] == sorted((y for _, y in drawn), reverse=True)
        order = sorted(range(len(values)), key=trace.along.__getitem__)
        assert [drawn[place][0] for place in order] == sorted(x for x, _ in drawn)
    assert len(svg.find_all("line", class_="peak")) == (2 if trace.peak is not None else 0)
    assert len(svg.find_all("line", class_="act")) == 2 * len(trace.acts)


def test_the_words_say_what_the_picture_shows():
    """How far, where the peak lies, where it ended; over time: how long, and from what speed to what."""
    said = in_words(DRAWN)
    assert "as far as +30 crank degrees" in said and "at +25" in said and "ended at +20" in said
    assert "19.0 inHg (64 kPa)" in said
    assert "10 minutes" in in_words(RUN) and "from 650 to 800 rpm" in in_words(RUN)
    assert BeautifulSoup(trace_picture(DRAWN), "html.parser").svg["aria-label"] == said


def test_the_engine_itself_stands_behind_what_was_done(search):
    """The engine's own curve, the place of the method, where it was left and the hatched ping are drawn in both panels,
    said in words, and survive JSON."""
    _, trace = search
    svg = BeautifulSoup(trace_picture(trace), "html.parser").svg
    wide, _ = map(float, svg["viewbox"].split()[2:])
    assert len(trace.own_line) > 10 and len(svg.find_all("polyline", class_="own")) == 2
    for name in ("method", "left"):
        assert len(svg.find_all("line", class_=name)) == 2
    hatched = points(svg, "hatch")
    assert len(svg.find_all("polyline", class_="hatch")) == 2 and all(0 < x < wide for x, _ in hatched)
    method = float(svg.find("line", class_="method")["x1"])
    clockwise = trace.body_per_crank > 0.0
    assert (min(x for x, _ in hatched) > method) if clockwise else (max(x for x, _ in hatched) < method)
    said = in_words(trace)
    assert "The method ends at" in said and "you left the timing there" in said and "hatched" in said
    assert trace_picture(json.loads(json.dumps(asdict(trace)))) == trace_picture(trace)


@pytest.mark.parametrize(("per_crank", "way"), [(0.5, "clockwise"), (-0.5, "anticlockwise")])
def test_it_lies_over_the_turn_of_the_body(per_crank, way):
    """Clockwise is to the right, whichever way is earlier; degrees are those of the body, in picture and words; ping is
    hatched on the side of earlier."""
    trace = replace(DRAWN, body_per_crank=per_crank, **OF_THE_ENGINE)
    svg = BeautifulSoup(trace_picture(trace), "html.parser").svg
    assert "anticlockwise ← degrees of the body" in svg.get_text()
    drawn = [x for x, _ in points(svg, "vacuum")]
    assert (drawn[0] < drawn[1] < drawn[2]) is (per_crank > 0.0)
    assert (min(x for x, _ in points(svg, "hatch")) > drawn[1]) is (per_crank > 0.0)
    said = in_words(trace)
    assert f"as far as 15° {way}" in said and f"The method ends at 9° {way}" in said
    assert f"{way.capitalize()} is earlier on this engine" in said and "2 crank degrees earlier" in said


def test_what_the_engine_does_is_shown_only_where_the_try_is_done():
    """Neither curve nor peak, method, flat top or ping before; what was done is drawn, and it says when more is."""
    trace = replace(DRAWN, body_per_crank=0.5, **OF_THE_ENGINE)
    before = trace_picture(trace, done=False)
    svg = BeautifulSoup(before, "html.parser").svg
    assert svg.find(class_=["own", "peak", "method", "hatch"]) is None
    assert not re.search("peak|method|flat top|pings|highest vacuum<", before)
    assert "once you close the exercise or earn all of its points" in before
    assert len(points(svg, "vacuum")) == len(trace.along)
    assert "12.5° clockwise" in trace_picture(trace, done=True)


def test_a_record_of_an_earlier_edition_is_drawn_without_the_engine():
    """What an earlier edition wrote has no curve and no ping mark, and keeps its picture."""
    told = asdict(DRAWN)
    for name in ("own_line", "flat_from", "pings_from", "body_per_crank"):
        del told[name]
    assert trace_picture(told) == trace_picture(DRAWN) and "hatch" not in trace_picture(told)


def test_it_survives_json_and_is_the_same_to_the_byte():
    """What a judged notebook holds draws the same picture."""
    assert trace_picture(json.loads(json.dumps(asdict(RUN)))) == trace_picture(RUN)


@pytest.mark.parametrize(
    "change",
    [
        {"over": "<script>"},
        {"along": ["<b>"] * 4},
        {"along": [1.0]},
        {"along": []},
        {"peak": "x"},
        {"peak": float("nan")},
        {"speed_rpm": [float("inf")] * 4},
        {"acts": None},
        {"own_line": [["<b>", 18.0, 700.0]]},
        {"own_line": [[1.0, 18.0]]},
        {"pings_from": float("nan")},
    ],
    ids=str,
)
def test_nothing_but_numbers_gets_in(change):
    """A record that holds anything else has no picture."""
    assert trace_picture({**asdict(DRAWN), **change}) == ""


def test_no_trace_is_no_picture():
    """A question has none."""
    assert trace_picture(None) == ""


def test_a_still_engine_can_be_drawn():
    """Lines without any rise, and a single point, fit into the picture."""
    still, point = (18.0, 18.0), Trace("timing", (0.0,), (18.0,), (750.0,), 0.0)
    for trace in (Trace("time", (1.0, 2.0), still, still), point):
        assert not re.search("nan|inf", trace_picture(trace).replace("inHg", ""))


@pytest.mark.parametrize("done", [True, False])
def test_the_feedback_page_keeps_the_curve_until_the_try_is_done(done):
    """The learner's printed page draws the engine's own curve from the judge's record only where the record says that
    the exercise was closed or earned all."""
    cell = new_code_cell("", metadata={"nbgrader": {"grade": True, "grade_id": BENCH, "points": 20, "solution": False}})
    trace = asdict(replace(DRAWN, body_per_crank=0.5, **OF_THE_ENGINE))
    record = {"exercises": {BENCH: {"title": "Set it", "trace": trace, "done": done}}}
    resources = {"nbgrader": {"assignment": LESSON, "student": "ada", "score": 3.0, "max_score": 20.0, "late": ""}}
    notebook = new_notebook(cells=[cell], metadata={"timing_course": record})
    page, _ = FeedbackPageExporter().from_notebook_node(notebook, resources)
    figure = BeautifulSoup(page, "html.parser").figure
    assert figure is not None
    assert (figure.find("polyline", class_="own") is not None) is done
