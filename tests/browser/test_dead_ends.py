"""Nobody is left standing: a kernel that is slow or gone, an engine that nobody watches, a lesson opened twice."""

from __future__ import annotations

import time

import pytest

from course.authoring.placeholder_outputs import SENTENCE
from engine_sim import read_evidence
from tests.browser.bench_hands import choose, use
from tests.browser.conftest import let_time_pass

IMPORT = "from course.widgets import bench"
SHOW = 'bench("l04_set_base_timing")'
SHORT_WATCH = "from course.widgets.bench import engine_clock as clock\nclock.WATCHED_FOR_S = 2.5\n" + IMPORT


def test_a_busy_kernel_is_called_slow_and_a_dead_one_is_told_with_its_mending(lab, server, lesson, desk, notebook):
    """While something keeps the kernel busy the bench says so and takes it back; when the kernel is gone it says how
    to mend that, and shows no reading that nobody answers for."""
    notebook.write(lesson / "busy.ipynb", IMPORT, SHOW)
    lab.open(desk, "busy.ipynb")
    notebook.run_all(desk, ".engine-bench")
    lab.occupy_kernel(desk)
    brake = desk.locator(".engine-bench [data-control=brake]").first
    brake.click()
    let_time_pass(desk, 5_000)
    notice = desk.locator(".eb-kernel")
    notice.wait_for(state="visible", timeout=15_000)
    assert "busy or slow" in notice.inner_text()
    lab.free_kernel()
    notice.wait_for(state="hidden", timeout=15_000)
    server.end_sessions()
    brake.click()
    let_time_pass(desk, 25_000)
    desk.wait_for_function("document.querySelector('.eb-kernel').textContent.includes('Restart Kernel')")
    assert desk.locator(".eb-speed .eb-needle").evaluate("needle => getComputedStyle(needle).visibility") == "hidden"


def test_an_engine_that_nobody_watches_stops_and_says_so(lab, lesson, desk, notebook):
    """A notebook that was left for longer than the limit (shortened here) finds its engine off, and reads why."""
    notebook.write(lesson / "left.ipynb", SHORT_WATCH, SHOW)
    lab.open(desk, "left.ipynb")
    notebook.run_all(desk, ".engine-bench")
    bench = desk.locator(".engine-bench")
    for control, value in notebook.made_ready:
        choose(bench, control, value)
    bench.locator("[data-control=starter]").click()
    desk.wait_for_function("document.querySelector('.eb-state').textContent === 'Running'", timeout=30_000)
    desk.goto("about:blank")
    until = time.monotonic() + 20
    while (last := read_evidence(lesson / "evidence.jsonl").events[-1].control) != "stop":
        assert time.monotonic() < until, f"the engine runs on unseen, the last that was done is '{last}'"
        time.sleep(0.1)
    lab.open(desk, "left.ipynb")
    notebook.run_all(desk, ".engine-bench")
    desk.wait_for_function("document.querySelector('.eb-state').textContent === 'Engine stopped'")
    assert "Nobody watched the engine" in desk.locator(".eb-message").inner_text()


def test_a_notebook_opened_without_its_kernel_says_how_to_run_it(lab, server, desk, notebook):
    """A saved lesson that is opened on another day shows one sentence in each exercise's place, and no dead widget."""
    lab.open(desk)
    notebook.run_all(desk, ".cf-choice")
    desk.evaluate("window.jupyterapp.shell.currentWidget.context.save()")
    server.end_sessions()
    lab.load(desk)
    desk.wait_for_selector(".jp-RenderedMarkdown.jp-OutputArea-output", state="attached")
    shown = desk.locator(".jp-OutputArea-output").all_text_contents()
    wanted = SENTENCE.replace("**", "")
    assert len(shown) >= 5
    assert {text.strip() for text in shown} == {wanted}


@pytest.fixture(scope="module")
def second_window(jupyterlab):
    """Another window of the same browser."""
    window = jupyterlab[0].context.new_page()
    yield window
    window.close()


def test_the_same_notebook_opened_twice_shows_one_engine(lab, lesson, desk, second_window, notebook):
    """Two windows on one notebook share its kernel: what one does the other shows, and it is written once."""
    notebook.write(lesson / "twice.ipynb", IMPORT, SHOW)
    for window in (desk, second_window):
        lab.open(window, "twice.ipynb")
        notebook.run_all(window, ".engine-bench")
    choose(desk, "clamp", "loose")
    use(desk, "distributor", "[data-by='0.25']")
    second_window.wait_for_function(
        "document.querySelector('.eb-row-turn .eb-where').textContent.startsWith('0.25')", timeout=10_000
    )
    turns = [event for event in read_evidence(lesson / "evidence.jsonl").events if event.control == "distributor"]
    assert [event.value for event in turns] == [0.25]


def test_two_lessons_side_by_side_keep_their_own_evidence(lab, server, lesson, desk, second_window, notebook):
    """Two benches in two lesson folders, used in turn: each evidence holds what was done at its own bench."""
    other = lesson.parent / "again" / lesson.name
    other.mkdir(parents=True)
    (other / "learner.toml").write_text('name = "Sam Reed"\n', encoding="utf-8")
    for folder in (lesson, other):
        notebook.write(folder / "bench.ipynb", IMPORT, SHOW)
    for window, its_lab in ((desk, lab), (second_window, type(lab)(server, other))):
        its_lab.open(window, "bench.ipynb")
        notebook.run_all(window, ".engine-bench")
    done = {lesson: [], other: []}
    turns = ((0, "brake", "on"), (1, "chocks", "in place"), (1, "brake", "on"), (0, "ventilation", "on"))
    for turn, control, value in turns:
        window, folder = ((desk, lesson), (second_window, other))[turn]
        choose(window, control, value)
        window.wait_for_function(
            f"document.querySelector(`[data-control={control}][data-value='{value}']`).ariaPressed === 'true'"
        )
        done[folder].append((control, value))
    for folder, acts in done.items():
        evidence = read_evidence(folder / "evidence.jsonl")
        assert [(event.control, event.value) for event in evidence.events] == acts
    assert {read_evidence(folder / "evidence.jsonl").header.learner for folder in done} == {"Robin Vale", "Sam Reed"}


def test_a_spoilt_record_is_a_sentence_on_the_bench(lab, lesson, desk, notebook):
    """Evidence that cannot be believed shows as a sentence in the bench, not as a traceback."""
    (lesson / "evidence.jsonl").write_text("not evidence\n", encoding="utf-8")
    lab.open(desk)
    notebook.run_all(desk, ".engine-bench")
    assert "The record of your work, line 1" in desk.locator(".eb-problem").text_content()
    assert desk.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
