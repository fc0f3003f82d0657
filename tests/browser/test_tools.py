"""The bench with every tool, in a real notebook: by pointer, by keys, at 200 %, and for those who hear the page."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.browser.axe import violations
from tests.browser.bench_hands import PHASE_OF, take
from tests.browser.conftest import SCREEN, Lab, choose_theme
from tests.browser.opened_lesson import NOT_REACHED, nameless, walk_with_tab

LESSON = "l95_tools"
TRIAL = Path(__file__).parent / "trial_rubrics"
BENCH = ".engine-bench"
PRESSES_AT_MOST = 200
SAID_MORE = "before => document.querySelector('.eb-message').dataset.number !== before"
STATE_IS = "state => document.querySelector('.eb-state').textContent === state"
SHOWS = """([tool, words]) => document.querySelector(`.eb-tool[data-tool=${tool}] .eb-tool-words`)
    .textContent.includes(words)"""


@pytest.fixture(scope="module")
def tools_page(server, desk_of_module, notebook):
    """One page with a bench that offers every tool, for all tests of this module."""
    folder = notebook.trial_lesson(server, LESSON, "Robin Vale")
    notebook.write(
        folder / "tools.ipynb",
        f"import pathlib, graders.exercises.loader\n"
        f"graders.exercises.loader.FOLDER = pathlib.Path({str(TRIAL)!r})\nfrom course.widgets import bench",
        'bench("l95_all_tools")',
    )
    Lab(server, folder).open(desk_of_module, "tools.ipynb")
    notebook.run_all(desk_of_module, f"{BENCH} [data-control=load_brake]")
    return desk_of_module


@pytest.fixture
def page(tools_page):
    """The page with the engine at rest as it was found; the page wide again after the test."""
    begin_again(tools_page)
    yield tools_page
    tools_page.set_viewport_size(SCREEN)
    choose_theme(tools_page, "JupyterLab Light")


def begin_again(page) -> None:
    """A new try, as the page offers it; by keys, since the page may still move after the test before."""
    before = page.locator(".eb-message").get_attribute("data-number")
    page.get_by_role("button", name="New try").press("Enter")
    page.get_by_role("button", name="Yes, begin again").press("Enter")
    page.wait_for_function(SAID_MORE, arg=before)
    page.wait_for_function(STATE_IS, arg="Engine stopped")


def press(page, selector: str) -> str:
    """Press a part of the bench with the pointer; what the bench says then."""
    before = page.locator(".eb-message").get_attribute("data-number")
    take(page, re.search(r"data-control=(\w+)", selector)[1])
    page.locator(f"{BENCH} {selector}").click()
    page.wait_for_function(SAID_MORE, arg=before, timeout=30_000)
    return page.locator(".eb-message").inner_text()


def choose(page, control: str, value: str) -> str:
    """Set a choice of the bench with the pointer."""
    return press(page, f"[data-control={control}][data-value='{value}']")


def start(page) -> None:
    """Start the engine and wait until it runs."""
    press(page, "[data-control=starter]")
    page.wait_for_function(STATE_IS, arg="Running", timeout=30_000)


def seed_text(page, tool: str) -> str:
    """What a tool shows, in words."""
    return page.locator(f"{BENCH} .eb-tool[data-tool={tool}] .eb-tool-words").inner_text()


def go_to(page, selector: str) -> None:
    """Walk with Tab through the bench until a part of it has the focus, its phase first."""
    phase = page.evaluate(PHASE_OF, f"{BENCH} {selector}")
    if phase:
        go_to(page, f"[data-phase='{phase}']")
        page.keyboard.press("Enter")
    page.locator(BENCH).evaluate("bench => { bench.tabIndex = -1; bench.focus(); bench.removeAttribute('tabindex'); }")
    for _ in range(PRESSES_AT_MOST):
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab did not reach {selector}")


def keyed(page, selector: str, key: str = "Enter") -> str:
    """Press a key on a part of the bench that was reached by Tab; what the bench says then."""
    go_to(page, selector)
    before = page.locator(".eb-message").get_attribute("data-number")
    page.keyboard.press(key)
    page.wait_for_function(SAID_MORE, arg=before, timeout=30_000)
    return page.locator(".eb-message").inner_text()


def outside(page) -> list[str]:
    """Parts of the bench that run out of its frame."""
    return page.locator(BENCH).evaluate("""bench => {
        const frame = bench.getBoundingClientRect();
        const drawn = 'canvas, .eb-face, .eb-pulley, .eb-lamp';
        const parts = [...bench.querySelectorAll(`button, input, label, span, dd, li, ${drawn}`)];
        return parts.filter((part) => {
            const box = part.getBoundingClientRect();
            return box.width && (box.right > frame.right + 1 || box.left < frame.left - 1);
        }).map((part) => part.className + ' ' + part.textContent);
    }""")


def test_the_static_way_by_pointer(page):
    """Crank and lamp tell where the points open: dark well before the spark, lit after it."""
    assert choose(page, "test_lamp", "on").startswith("Stopped, unsafe:")
    choose(page, "coil_lead", "out and earthed")
    choose(page, "test_lamp", "on")
    assert press(page, "[data-control=crank_mark][data-by='5']").startswith("Not possible:")
    choose(page, "spanner", "on")
    assert seed_text(page, "test_lamp") == "dark: the ignition is off"
    choose(page, "ignition_switch", "on")
    for _ in range(6):
        press(page, "[data-control=crank_mark][data-by='5']")
    assert seed_text(page, "crank_mark") == "stands at 30 degrees before top centre by the marks"
    page.wait_for_function(SHOWS, arg=["test_lamp", "dark"])
    assert page.locator(".eb-lamp-cross").get_attribute("visibility") == "visible"
    for _ in range(6):
        press(page, "[data-control=crank_mark][data-by='-5']")
    page.wait_for_function(SHOWS, arg=["test_lamp", "lit"])
    assert page.locator(".eb-lamp-cross").get_attribute("visibility") == "hidden"
    assert page.locator(".eb-lamp-rays").get_attribute("visibility") == "visible"
    assert seed_text(page, "crank_mark") == "stands at top centre by the marks"


def test_light_and_dwell_on_the_running_engine(page):
    """Light and meter are put on at rest, tell when the engine runs, and are read with the gauges."""
    assert seed_text(page, "timing_light") == "not clamped on"
    choose(page, "timing_light", "on")
    choose(page, "dwell_meter", "on")
    start(page)
    page.wait_for_function(SHOWS, arg=["timing_light", "before top centre by the marks"], timeout=10_000)
    page.wait_for_function(SHOWS, arg=["dwell_meter", "distributor degrees"], timeout=10_000)
    assert page.locator("[data-tool=timing_light] .eb-mark").get_attribute("visibility") == "visible"
    assert seed_text(page, "crank_mark") == "turns with the engine"
    said = press(page, "[data-control=read_gauges]")
    assert "Tools: timing light" in said and "dwell meter" in said
    assert choose(page, "timing_light", "off").startswith("Stopped, unsafe:")


def test_the_test_stand_by_keyboard(page):
    """A speed typed and held by keys alone, throttle opened by its end key: the pull is told in both units."""
    keyed(page, "[data-control=starter]")
    page.wait_for_function(STATE_IS, arg="Running", timeout=30_000)
    go_to(page, "input[data-control=load_brake]")
    page.keyboard.press("Control+a")
    page.keyboard.type("2000")
    before = page.locator(".eb-message").get_attribute("data-number")
    page.keyboard.press("Enter")
    page.wait_for_function(SAID_MORE, arg=before)
    assert "2000 rpm" in page.locator(".eb-message").inner_text()
    keyed(page, "input[data-control=throttle]", "End")
    page.wait_for_function(SHOWS, arg=["load_brake", "lbf ft"], timeout=10_000)
    newton_metres, pounds_foot = pulls(page)
    assert newton_metres == pytest.approx(1.3558 * pounds_foot, abs=0.2)  # NIST SP 811 (2008), appendix B.8
    keyed(page, "[data-control=throttle][type=range]", "Home")
    keyed(page, "[data-control=load_brake][data-value=leave]")
    page.wait_for_function(SHOWS, arg=["load_brake", "brake off"])


def pulls(page) -> list[float]:
    """Torque as the tile tells it: N m and lbf ft."""
    return page.locator("[data-tool=load_brake] .eb-tool-words").evaluate(
        "words => words.textContent.match(/-?[\\d.]+/g).map(Number)"
    )


def test_a_held_speed_that_cannot_be_is_refused_in_words(page):
    """Nothing typed is bent into something else: an empty field and a speed beyond the hand are refused."""
    take(page, "hold_speed")
    for typed in ("9000", ""):
        field = page.locator("input[data-control=hold_speed]")
        field.fill(typed)
        before = page.locator(".eb-message").get_attribute("data-number")
        field.press("Enter")
        page.wait_for_function(SAID_MORE, arg=before)
        assert page.locator(".eb-message").inner_text().startswith("Not possible:")
    page.locator("input[data-control=hold_speed]").fill("1500")


@pytest.mark.parametrize("by", ["2", "0.5"])
def test_parts_are_turned_both_ways_by_keyboard(page, by):
    """The vacuum unit's screw goes by fine and coarse turns and stands where it was after the way back."""
    slider = page.locator("input[data-control=canister_screw]")
    keyed(page, f"[data-control=canister_screw][data-by='{by}']")
    assert slider.get_attribute("aria-valuetext") == f"{by} turns stiffer than you found it"
    keyed(page, f"[data-control=canister_screw][data-by='-{by}']")
    assert slider.get_attribute("aria-valuetext") == "as found"


def test_keys_come_to_every_control(page):
    """Tab comes to every control of every tool, and each has a name to be heard."""
    for phase in page.locator(f"{BENCH} .eb-phase").all():
        phase.press("Enter")
        walk_with_tab(page)
        assert page.evaluate(NOT_REACHED) == []
        assert nameless(page) == []


def test_letters_do_nothing_to_the_notebook(page):
    """On every part that takes the keyboard the notebook's one-letter commands stay off."""
    cells = "window.jupyterapp.shell.currentWidget.content.widgets.length"
    before = page.evaluate(cells)
    unguarded = page.locator(BENCH).evaluate("""bench => [...bench.querySelectorAll(
        'button, input, select, textarea, [tabindex]')].filter((part) => !part.dataset.lmSuppressShortcuts)
        .map((part) => part.outerHTML)""")
    assert unguarded == []
    for selector in ("[data-control=fuel]", "input[data-control=load_brake]", ".eb-phase", "[data-control=refit]"):
        go_to(page, selector)
        for letter in "xaby":
            page.keyboard.press(letter)
    assert page.evaluate(cells) == before


def test_one_phase_is_in_hand_and_any_other_is_one_press_away(page):
    """A phase that is not in hand takes no Tab stops; key, reading and waiting are there in every one."""
    for phase in page.locator(f"{BENCH} .eb-phase").all():
        phase.press("Enter")
        assert phase.get_attribute("aria-expanded") == "true"
        assert page.locator(f"{BENCH} .eb-group:visible").count() == 1
        shown = page.locator(f"{BENCH} .eb-group:visible").get_attribute("id")
        assert phase.get_attribute("aria-controls") == shown
        for control in ("starter", "stop", "read_gauges", "wait"):
            assert page.locator(f"{BENCH} [data-control={control}]").is_visible()


def test_the_day_and_the_fuel_stand_on_the_plate(page):
    """Altitude, air, humidity and fuel are told in both systems; what is filled in takes its place."""
    plate = page.locator(".eb-plate")
    words = plate.inner_text()
    for part in ("1200 ft (366 m)", "77 °F (25 °C)", "60 %", "91 RON, 83 MON"):
        assert part in words
    choose(page, "fuel", "98 RON")
    page.wait_for_function("document.querySelector('.eb-plate').textContent.includes('98 RON, 88 MON')")


def test_waiting_shows_that_work_goes_on(page):
    """While a long act is under way, the message line holds a bar that tells so; it goes when the act is done."""
    start(page)
    page.evaluate("""() => {
        window.barSeen = false;
        new MutationObserver(() => { window.barSeen ||= Boolean(document.querySelector('.eb-message progress')); })
            .observe(document.querySelector('.eb-message'), {childList: true});
    }""")
    press(page, "[data-control=wait]")
    assert page.evaluate("window.barSeen")
    assert page.locator(".eb-message progress").count() == 0


@pytest.mark.parametrize("width", [1280, 1024, 640])  # 640 is a screen of 1280 at 200 %
def test_nothing_is_cut_off_with_every_tool(page, width):
    """However many tools there are, nothing of the bench runs out of its frame."""
    page.set_viewport_size({"width": width, "height": 900})
    for phase in page.locator(f"{BENCH} .eb-phase").all():
        phase.click()
        page.wait_for_timeout(200)
        assert outside(page) == []
    assert page.locator(BENCH).evaluate("bench => bench.scrollWidth <= bench.clientWidth + 1")


def test_on_a_narrow_page_the_tools_stay_in_sight_in_short(page):
    """Where the tools are scrolled away, a line below the dials, which stay, tells what they show."""
    page.set_viewport_size({"width": 640, "height": 900})
    choose(page, "timing_light", "on")
    start(page)
    page.wait_for_function("document.querySelector('.eb-brief').textContent.includes('light')", timeout=10_000)
    assert page.locator(".eb-brief").is_visible()


@pytest.mark.parametrize("theme", ["JupyterLab Light", "JupyterLab Dark"])
def test_axe_finds_nothing_with_every_tool(page, theme):
    """No violation on a bench with every tool, connected and telling, in the light and in the dark."""
    for tool in ("timing_light", "dwell_meter", "test_lamp"):
        choose(page, tool, "on")
    start(page)
    choose_theme(page, theme)
    page.wait_for_timeout(700)
    assert violations(page, BENCH) == []


def test_tool_words_change_at_most_twice_a_second(page):
    """A mark that jitters is not told faster than a person can read, or hear."""
    choose(page, "timing_light", "on")
    start(page)
    page.wait_for_function(SHOWS, arg=["timing_light", "top centre"], timeout=10_000)
    changes = page.evaluate("""() => new Promise((resolve) => {
        let count = 0;
        const words = document.querySelector('[data-tool=timing_light] .eb-tool-words');
        new MutationObserver((all) => { count += all.length; })
            .observe(words, {childList: true, characterData: true, subtree: true});
        setTimeout(() => resolve(count), 4000);
    })""")
    assert 1 <= changes <= 8
