"""Nobody is left standing: a page opened again, a kernel that is slow or gone, an engine that nobody watches."""

from __future__ import annotations

from course.authoring.placeholder_outputs import SENTENCE
from engine_sim import read_evidence

IMPORT = "from course.widgets import bench"
SHOW = 'bench("l04_set_base_timing")'
SHORT_WATCH = "from course.widgets.bench import engine_clock as clock\nclock.WATCHED_FOR_S = 2.5\n" + IMPORT
OCCUPY = """() => { window.jupyterapp.shell.currentWidget.sessionContext.session.kernel
    .requestExecute({code: 'import time; time.sleep(6)'}); }"""

# How much of the strip's left two thirds is drawn in the colour of a line.
DRAWN = """tone => {
    const strip = document.querySelector('.eb-strip');
    if (!strip || !strip.width) return 0;
    const pen = strip.getContext('2d'), ratio = window.devicePixelRatio || 1;
    const from = Math.round(60 * ratio), to = Math.round(strip.width * 0.93);
    const probe = document.createElement('span');
    probe.style.color = getComputedStyle(strip).getPropertyValue('--eb-' + tone);
    strip.parentElement.append(probe);
    const wanted = getComputedStyle(probe).color.match(/\\d+/g).map(Number);
    probe.remove();
    const {data} = pen.getImageData(from, Math.round(20 * ratio), to - from, strip.height - Math.round(40 * ratio));
    let count = 0;
    for (let i = 0; i < data.length; i += 4)
        if (data[i + 3] > 200 && [0, 1, 2].every((part) => Math.abs(data[i + part] - wanted[part]) < 12)) count += 1;
    return count;
}"""


def drawn(page, tone: str) -> int:
    """Points of the strip drawn in the colour of speed or vacuum, its newest part left out."""
    return page.evaluate(DRAWN, tone)


def wait_until_drawn(page, tone: str, more_than: float) -> None:
    """Wait until that much is drawn: the last minutes come with the kernel's answer, whenever that is."""
    page.wait_for_function(
        f"wanted => ({DRAWN})(wanted.tone) > wanted.points", timeout=30_000, arg={"tone": tone, "points": more_than}
    )


def saved(page) -> None:
    """Save the notebook and wait until it is saved."""
    page.evaluate("window.jupyterapp.shell.currentWidget.context.save()")


def test_the_last_minutes_are_there_after_reload_and_restart(lab, page, running_bench, notebook):
    """The strip shows what was done before the page was loaded again, and before the kernel was restarted."""
    bench = running_bench(lab, page)
    bench.locator("[data-control=wait]").click()
    page.wait_for_function("document.querySelector('.eb-message').textContent.includes('Ten seconds')")
    page.wait_for_timeout(3000)
    before = drawn(page, "vacuum")
    assert before > 0
    lab.open(page)
    notebook.run_all(page, ".engine-bench")
    wait_until_drawn(page, "vacuum", 0.5 * before)
    wait_until_drawn(page, "speed", 0)
    page.evaluate("window.jupyterapp.shell.currentWidget.sessionContext.restartKernel()")
    page.evaluate("window.jupyterapp.commands.execute('notebook:clear-all-cell-outputs')")
    notebook.run_all(page, ".engine-bench")
    wait_until_drawn(page, "vacuum", 0.5 * before)


def test_a_busy_kernel_is_called_slow_and_a_dead_one_is_told_with_its_mending(lab, server, lesson, page, notebook):
    """While something keeps the kernel busy the bench says so and takes it back; when the kernel is gone it says how
    to mend that, and shows no reading that nobody answers for."""
    notebook.write(lesson / "busy.ipynb", IMPORT, SHOW)
    lab.open(page, "busy.ipynb")
    notebook.run_all(page, ".engine-bench")
    page.evaluate(OCCUPY)
    brake = page.locator(".engine-bench [data-control=brake]").first
    brake.click()
    notice = page.locator(".eb-kernel")
    notice.wait_for(state="visible", timeout=15_000)
    assert "busy or slow" in notice.inner_text()
    notice.wait_for(state="hidden", timeout=15_000)
    server.end_sessions()
    brake.click()
    page.wait_for_function(
        "document.querySelector('.eb-kernel').textContent.includes('Restart Kernel')", timeout=40_000
    )
    assert page.locator(".eb-speed .eb-needle").evaluate("needle => getComputedStyle(needle).visibility") == "hidden"


def test_an_engine_that_nobody_watches_stops_and_says_so(lab, lesson, page, notebook):
    """A page that was left for longer than the limit (shortened here) finds its engine off, and reads why."""
    notebook.write(lesson / "left.ipynb", SHORT_WATCH, SHOW)
    lab.open(page, "left.ipynb")
    notebook.run_all(page, ".engine-bench")
    bench = page.locator(".engine-bench")
    for control, value in notebook.made_ready:
        bench.locator(f"[data-control={control}][data-value='{value}']").click()
    bench.locator("[data-control=starter]").click()
    page.wait_for_function("document.querySelector('.eb-state').textContent === 'Running'", timeout=30_000)
    page.goto("about:blank")
    page.wait_for_timeout(4500)
    lab.open(page, "left.ipynb")
    notebook.run_all(page, ".engine-bench")
    page.wait_for_function("document.querySelector('.eb-state').textContent === 'Engine stopped'")
    assert "Nobody watched the engine" in page.locator(".eb-message").inner_text()
    assert read_evidence(lesson / "evidence.jsonl").events[-1].control == "stop"


def test_a_notebook_opened_without_its_kernel_says_how_to_run_it(lab, server, page, running_bench):
    """A saved lesson that is opened on another day shows one sentence in each exercise's place, and no dead widget."""
    running_bench(lab, page)
    saved(page)
    server.end_sessions()
    lab.open(page)
    page.wait_for_selector(".jp-RenderedMarkdown.jp-OutputArea-output", state="attached")
    shown = page.locator(".jp-OutputArea-output").all_text_contents()
    wanted = SENTENCE.replace("**", "")
    assert len(shown) >= 9
    assert {text.strip() for text in shown} == {wanted}


def test_the_same_notebook_opened_twice_shows_one_engine(lab, lesson, page, browser, running_bench, notebook):
    """Two windows on one notebook share its kernel: what one does the other shows, and it is written once."""
    running_bench(lab, page)
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    second = context.new_page()
    lab.open(second)
    notebook.run_all(second, ".engine-bench")
    page.locator("[data-control=distributor][data-by='0.25']").first.click()
    second.wait_for_function(
        "document.querySelector('.eb-row-turn .eb-where').textContent.startsWith('0.25')", timeout=10_000
    )
    turns = [event for event in read_evidence(lesson / "evidence.jsonl").events if event.control == "distributor"]
    assert [event.value for event in turns] == [0.25]
    context.close()


def test_two_lessons_side_by_side_keep_their_own_evidence(lab, server, lesson, page, browser, notebook, tmp_path):
    """Two benches in two lesson folders, used in turn: each evidence holds what was done at its own bench."""
    other = lesson.parent / "again" / lesson.name
    other.mkdir(parents=True)
    (other / "learner.toml").write_text('name = "Sam Reed"\n', encoding="utf-8")
    for folder in (lesson, other):
        notebook.write(folder / "bench.ipynb", IMPORT, SHOW)
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    second = context.new_page()
    lab.open(page, "bench.ipynb")
    type(lab)(server, other).open(second, "bench.ipynb")
    for tab in (page, second):
        notebook.run_all(tab, ".engine-bench")
    done = {lesson: [], other: []}
    turns = ((0, "brake", "on"), (1, "chocks", "in place"), (1, "brake", "on"), (0, "ventilation", "on"))
    for turn, control, value in turns:
        tab, folder = ((page, lesson), (second, other))[turn]
        tab.locator(f"[data-control={control}][data-value='{value}']").click()
        tab.wait_for_function(
            f"document.querySelector(`[data-control={control}][data-value='{value}']`).ariaPressed === 'true'"
        )
        done[folder].append((control, value))
    for folder, acts in done.items():
        evidence = read_evidence(folder / "evidence.jsonl")
        assert [(event.control, event.value) for event in evidence.events] == acts
    assert {read_evidence(folder / "evidence.jsonl").header.learner for folder in done} == {"Robin Vale", "Sam Reed"}
    context.close()
