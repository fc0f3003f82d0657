"""The bench as a guest in JupyterLab: its keys, its kernel, its reloads."""

from __future__ import annotations

SOURCES = "() => window.jupyterapp.shell.currentWidget.content.widgets.map((cell) => cell.model.sharedModel.source)"
LETTERS = "xabcdvzmyrl0"  # cut, insert, copy, delete, paste, undo, change a cell, stop and restart the kernel


def test_a_learner_sees_no_tool_of_the_instructor(lab, page):
    """The settings that the course opens JupyterLab with leave out nbgrader's own menus; the notebook's are there."""
    lab.open(page)
    commands = page.evaluate("window.jupyterapp.commands.listCommands()")
    assert not [name for name in commands if name.startswith("nbgrader:")]
    assert [name for name in commands if name.startswith("notebook:run-all")]


def test_one_letter_commands_do_not_fire(lab, page, running_bench):
    """With the focus anywhere in bench or forms, JupyterLab's one-letter commands leave the notebook alone."""
    running_bench(lab, page)
    before = page.evaluate(SOURCES)
    takes_keys = "button, input, select, textarea, [tabindex='0']"
    parts = page.locator(f":is(.engine-bench, .course-form) :is({takes_keys})")
    for index in range(parts.count()):
        if parts.nth(index).is_visible():
            parts.nth(index).focus()
            for letter in LETTERS:
                page.keyboard.press(letter)
    after = page.evaluate(SOURCES)
    assert after == before
    assert page.locator(".jp-Dialog").count() == 0


def test_a_restarted_kernel_finds_the_bench_as_it_was_left(lab, page, running_bench, notebook):
    """What hands did is in the evidence: after a restart the bench stands as it was left and goes on from
    there."""
    bench = running_bench(lab, page)
    bench.locator("[data-control=distributor][data-by='0.25']").click()
    page.wait_for_function("document.querySelector('.eb-row-turn .eb-where').textContent.startsWith('0.25')")
    page.evaluate("""async () => {
        const panel = window.jupyterapp.shell.currentWidget;
        await panel.sessionContext.restartKernel();
        await window.jupyterapp.commands.execute('notebook:clear-all-cell-outputs'); }""")
    page.wait_for_selector(".engine-bench", state="detached")
    notebook.run_all(page, ".engine-bench")
    page.wait_for_function("document.querySelector('.eb-row-turn .eb-where').textContent.startsWith('0.25')")
    for control, value in (("brake", "on"), ("chocks", "in place"), ("clamp", "loose")):
        part = page.locator(f"[data-control={control}][data-value='{value}']")
        assert part.get_attribute("aria-pressed") == "true"
    assert page.locator(".eb-record li").count() >= 8


def test_a_reloaded_page_finds_engine_and_units_as_they_were(lab, page, running_bench, notebook):
    """A page that was loaded again shows the same bench, still running, in the units that were chosen."""
    bench = running_bench(lab, page)
    bench.get_by_role("button", name="kPa", exact=True).click()
    bench.get_by_role("button", name="°C", exact=True).click()
    lab.open(page)
    notebook.run_all(page, ".engine-bench")
    page.wait_for_function("document.querySelector('.eb-vacuum .eb-dial-value').textContent.endsWith('kPa')")
    # Its text, whether or not JupyterLab has scrolled the cell out of sight.
    page.wait_for_function("document.querySelector('.eb-coolant-words').textContent.includes('°C')")
    page.wait_for_function("document.querySelector('.eb-state').textContent === 'Running'")


def test_a_spoilt_record_is_a_sentence_on_the_bench(lab, lesson, page, notebook):
    """Evidence that cannot be believed shows as a sentence in the bench, not as a traceback."""
    (lesson / "evidence.jsonl").write_text("not evidence\n", encoding="utf-8")
    lab.open(page)
    notebook.run_all(page, ".engine-bench")
    assert "evidence.jsonl" in page.locator(".eb-problem").text_content()
    assert page.locator(".jp-RenderedText[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
