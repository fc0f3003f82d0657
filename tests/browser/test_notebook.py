"""The bench as a guest in JupyterLab: its keys, its kernel, its reloads."""

from __future__ import annotations

import pytest

from tests.browser.bench_hands import use

SOURCES = "() => window.jupyterapp.shell.currentWidget.content.widgets.map((cell) => cell.model.sharedModel.source)"
LETTERS = "xabcdvzmyrl0"  # cut, insert, copy, delete, paste, undo, change a cell, stop and restart the kernel

# Of all parts that take the keys: those without the attribute that keeps the letters off, and where the first of each
# sort stands among them, by its element, its role and the form or bench that it belongs to.
TAKE_KEYS = ":is(.engine-bench, .course-form) :is(button, input, select, textarea, [tabindex='0'])"
UNGUARDED = (
    """parts => parts.filter((part) => part.dataset.lmSuppressShortcuts !== 'true').map((part) => part.outerHTML)"""
)
ONE_OF_EACH = """parts => {
    const sorts = parts.map((part) => part.checkVisibility({visibilityProperty: true}) && !part.disabled ? [
        part.tagName, part.type, part.getAttribute('role'), part.closest('.engine-bench, .course-form').className
    ].join(' ') : '');
    return sorts.flatMap((sort, place) => sort && sorts.indexOf(sort) === place ? [place] : []); }"""

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


@pytest.fixture(scope="module")
def left_bench(open_bench):
    """The bench with ten seconds and a turn behind it, in other units than the usual; and how much of its strip is
    drawn."""
    bench = open_bench.locator(".engine-bench").first
    use(bench, "distributor", "[data-by='0.25']")
    bench.locator("[data-control=wait]").click()
    open_bench.wait_for_function("document.querySelector('.eb-message').textContent.includes('Ten seconds')")
    for unit in ("kPa", "°C"):
        bench.get_by_role("button", name=unit, exact=True).click()
    open_bench.wait_for_timeout(1000)
    before = drawn(open_bench, "vacuum")
    assert before > 0
    return open_bench, before


def stands_as_it_was_left(page, before: int) -> None:
    """Wait until bench and strip show what was done, and the engine runs on."""
    # Its text, whether or not JupyterLab has scrolled the cell out of sight.
    page.wait_for_function("document.querySelector('.eb-row-turn .eb-where').textContent.startsWith('0.25')")
    page.wait_for_function("document.querySelector('.eb-state').textContent === 'Running'")
    wait_until_drawn(page, "vacuum", 0.5 * before)
    wait_until_drawn(page, "speed", 0)
    for control, value in (("brake", "on"), ("chocks", "in place"), ("clamp", "loose")):
        part = page.locator(f"[data-control={control}][data-value='{value}']")
        assert part.get_attribute("aria-pressed") == "true"
    assert page.locator(".eb-record li").count() >= 8


def test_a_learner_sees_no_tool_of_the_instructor(open_bench):
    """The settings that the course opens JupyterLab with leave out nbgrader's own menus; the notebook's are there."""
    commands = open_bench.evaluate("window.jupyterapp.commands.listCommands()")
    assert not [name for name in commands if name.startswith("nbgrader:")]
    assert [name for name in commands if name.startswith("notebook:run-all")]


def test_one_letter_commands_do_not_fire(open_bench):
    """Every part of bench and forms that takes the keys keeps JupyterLab's one-letter commands off, and with the focus
    on one of each sort they leave the notebook alone."""
    before = open_bench.evaluate(SOURCES)
    parts = open_bench.locator(TAKE_KEYS)
    assert parts.evaluate_all(UNGUARDED) == []
    places = parts.evaluate_all(ONE_OF_EACH)
    assert len(places) > 8
    for place in places:
        parts.nth(place).focus()
        open_bench.keyboard.type(LETTERS)
    assert open_bench.evaluate(SOURCES) == before
    assert open_bench.locator(".jp-Dialog").count() == 0


def test_letters_reach_the_notebook_where_nothing_keeps_them_off(open_bench):
    """The check above can fail: the same letters change the notebook when a cell has the focus."""
    before = open_bench.evaluate(SOURCES)
    open_bench.evaluate("window.jupyterapp.shell.currentWidget.content.node.focus()")
    open_bench.keyboard.type("b")
    open_bench.wait_for_function(f"count => ({SOURCES})().length === count", arg=len(before) + 1)
    open_bench.evaluate("window.jupyterapp.commands.execute('notebook:undo-cell-action')")
    open_bench.wait_for_function(f"count => ({SOURCES})().length === count", arg=len(before))


def test_a_restarted_kernel_finds_the_bench_as_it_was_left(left_bench, notebook):
    """What hands did is in the evidence: after a restart bench and strip stand as they were left and go on from
    there."""
    page, before = left_bench
    page.evaluate("window.jupyterapp.shell.currentWidget.sessionContext.restartKernel()")
    notebook.run_again(page, ".engine-bench")
    stands_as_it_was_left(page, before)


def test_a_reloaded_page_finds_engine_and_units_as_they_were(left_bench, lab_of_module, notebook):
    """A page that was loaded again shows the same bench and strip, still running, in the units that were chosen."""
    page, before = left_bench
    lab_of_module.load(page)
    notebook.run_all(page, ".engine-bench")
    page.wait_for_function("document.querySelector('.eb-vacuum .eb-dial-unit').textContent === 'kPa'")
    page.wait_for_function("document.querySelector('.eb-coolant-words').textContent.includes('°C')")
    stands_as_it_was_left(page, before)
