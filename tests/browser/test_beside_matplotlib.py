"""The bench beside the same vacuum gauge redrawn by matplotlib, in one run, one browser and one engine: it prints.

Each is measured in a notebook of its own with the same engine running at the bench's own pace: from key to picture,
what a step costs the kernel, how many steps there are in a second, how busy the page's main thread is.
"""

from __future__ import annotations

import json
import os

import pytest

from tests.browser.conftest import MOVING

PRESSES, LOAD_FOR_MS = 40, 8000
PREPARE = """
import time
from course.widgets import bench
engine = bench("l04_set_base_timing")
spent = []
plain_step = engine.step
def timed_step(elapsed_s):
    began = time.perf_counter()
    plain_step(elapsed_s)
    spent.append((began, time.perf_counter() - began))
engine.clock._step = timed_step
for control, value in {ready}:
    engine.act(control, value)
engine.act("starter")
for _ in range(200):
    plain_step(0.04)
engine.act("clamp", "loose")
"""
SHOW_BENCH = "engine"
SHOW_MATPLOTLIB = """
import asyncio, io, math
import ipywidgets
from matplotlib.figure import Figure

figure = Figure(figsize=(2.7, 2.7), dpi=100)
dial = figure.add_axes((0, 0, 1, 1), projection="polar")
way = lambda value: math.radians(135.0 - 270.0 * value / 30.0 + 90.0)
dial.set(ylim=(0, 1), yticks=[], xticks=[way(value) for value in range(0, 31)])
dial.set_xticklabels([str(value) if value % 5 == 0 else "" for value in range(0, 31)])
dial.grid(False)
(needle,) = dial.plot([way(0), way(0)], [0, 0.9], linewidth=3)
picture = ipywidgets.Image(format="png", width=270, height=270)

def redraw(_change=None):
    value = engine.readings["vacuum_inhg"] or 0.0
    needle.set_xdata([way(0), way(value)])
    page = io.BytesIO()
    figure.canvas.print_png(page)
    picture.value = page.getvalue()

def turn(by):
    return lambda _button: engine.act("distributor", by=by)

async def watch():
    while True:
        engine.clock.heartbeat()
        await asyncio.sleep(1.0)

from matplotlib.backends.backend_agg import FigureCanvasAgg
FigureCanvasAgg(figure)
engine.observe(redraw, "readings")
redraw()
watching = asyncio.ensure_future(watch())
on, back = ipywidgets.Button(description="on"), ipywidgets.Button(description="back")
on.on_click(turn(0.25))
back.on_click(turn(-0.25))
ipywidgets.VBox([picture, on, back])
"""
KEEP = "import json; open('spent.json', 'w').write(json.dumps(spent))"
WAIT_FOR_NEXT_PICTURE = """selector => new Promise((done) => {
    const shown = document.querySelector(selector);
    const pressed = () => {
        const began = performance.now();
        const watch = new MutationObserver(() => {
            watch.disconnect();
            const painted = () => requestAnimationFrame(() => done(performance.now() - began));
            if (shown.decode) shown.decode().then(painted, painted); else painted();
        });
        // The first change that can hold the key's own doing: what was on its way already comes sooner than 4 ms.
        setTimeout(() => watch.observe(shown, {attributes: true}), 4);
    };
    document.addEventListener('keydown', pressed, {capture: true, once: true});
    window.armed = true;
})"""


def waits(page, picture: str, buttons) -> list[float]:
    """Press two buttons in turn; the times [ms] from key to the next picture, shortest first."""
    found = []
    for press in range(PRESSES):
        buttons[press % 2].focus()
        page.evaluate("window.armed = false")
        page.evaluate(f"window.next = ({WAIT_FOR_NEXT_PICTURE})({json.dumps(picture)}); null")
        page.keyboard.press("Enter")
        found.append(page.evaluate("window.next"))
        page.wait_for_timeout(37)
    return sorted(found)


def main_thread_load(page) -> float:
    """Share of the time in which the page's main thread was busy, from the browser's own count of it."""
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable")

    def busy_and_now():
        metrics = {one["name"]: one["value"] for one in session.send("Performance.getMetrics")["metrics"]}
        return metrics["TaskDuration"], metrics["Timestamp"]

    busy, since = busy_and_now()
    page.wait_for_timeout(LOAD_FOR_MS)
    later, until = busy_and_now()
    return (later - busy) / (until - since)


def kernel_steps(lesson, page) -> tuple[float, float]:
    """Median time of a step in the kernel [ms], and the steps in a second."""
    page.evaluate(
        """code => window.jupyterapp.shell.currentWidget.sessionContext.session.kernel
        .requestExecute({code}).done""",
        KEEP,
    )
    spent = json.loads((lesson / "spent.json").read_text(encoding="utf-8"))
    took = sorted(seconds for _, seconds in spent)
    return 1000.0 * took[len(took) // 2], (len(spent) - 1) / (spent[-1][0] - spent[0][0])


@pytest.mark.benchmark
def test_the_bench_beside_the_same_dial_by_matplotlib(lab, lesson, browser, notebook):
    """Print key to needle (median, 95 of 100), kernel time a step and main-thread load of both, and their ratios."""
    prepare, measured = PREPARE.format(ready=notebook.made_ready), {}
    for name, show, ready, picture, find in (
        (
            "bench",
            SHOW_BENCH,
            ".eb-state.eb-running",
            ".eb-vacuum .eb-needle",
            ("[data-control=distributor][data-by='0.25']", "[data-control=distributor][data-by='-0.25']"),
        ),
        (
            "matplotlib",
            SHOW_MATPLOTLIB,
            ".widget-image",
            ".widget-image",
            ("button:text-is('on')", "button:text-is('back')"),
        ),
    ):
        (lesson / "evidence.jsonl").unlink(missing_ok=True)
        notebook.write(lesson / f"{name}.ipynb", prepare, show)
        page = browser.new_context(viewport={"width": 1280, "height": 900}, **MOVING).new_page()
        lab.open(page, f"{name}.ipynb")
        notebook.run_all(page, ready)
        page.wait_for_timeout(2000)
        load = main_thread_load(page)
        times = waits(page, picture, [page.locator(one).first for one in find])
        measured[name] = (times[PRESSES // 2], times[int(0.95 * PRESSES)], *kernel_steps(lesson, page), load)
        page.context.close()
        lab.server.end_sessions()
    print(f"\nwith {os.getloadavg()[0]:.1f} programs running on {os.cpu_count()} processors")
    print(
        f"{'':12}{'key to picture':>18}{'95 of 100':>12}{'kernel a step':>16}{'steps a second':>16}{'main thread':>14}"
    )
    for name, (median, late, step, pace, load) in measured.items():
        print(f"{name:12}{median:15.0f} ms{late:9.0f} ms{step:13.2f} ms{pace:16.1f}{100 * load:12.0f} %")
    median, late, step = (
        slow / quick for quick, slow in zip(measured["bench"][:3], measured["matplotlib"][:3], strict=True)
    )
    print(
        f"redrawn by matplotlib: {median:.1f} times as long from key to picture (95 of 100: {late:.1f} times), "
        f"{step:.0f} times the kernel's time"
    )
    assert all(value > 0.0 for row in measured.values() for value in row)
