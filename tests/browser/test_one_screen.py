"""The bench on one screen: what has to be seen together is there in every phase of the work."""

from __future__ import annotations

import pytest

from tests.browser.bench_hands import choose, use
from tests.browser.conftest import SCREEN

# What stays where it is in every phase, and what changes with the phase.
FIXED = {
    "vacuum gauge": ".eb-dial.eb-vacuum",
    "tachometer": ".eb-dial.eb-speed",
    "stop": "[data-control=stop]",
    "start": "[data-control=starter]",
    "read the gauges": "[data-control=read_gauges]",
    "nameplate": ".eb-plate",
    "part in hand": ".es-view",
}
TOOLS_READ = "what the tools show"  # where a bench has tools
STAYS = ("vacuum gauge", "tachometer", "stop", "start")  # at 200 % and on a phone, while the controls scroll
PLACES = """(bench, fixed) => {
    bench.scrollIntoView({block: 'start', behavior: 'instant'});
    const place = (part) => { const {left, top, right, bottom} = part.getBoundingClientRect();
        return [left, top, right, bottom].map(Math.round); };
    const places = Object.fromEntries(Object.entries(fixed).map(([name, selector]) =>
        [name, place(bench.querySelector(selector))]));
    const hands = [...bench.querySelectorAll('.eb-group:not([hidden]) :is(button, input):not([hidden])')].map(
        (part) => [part.ariaLabel || part.textContent || part.dataset.control, place(part)]);
    return [places, hands]; }"""
# Each control of the phase, scrolled to: whether it is seen, and which of what stays is not seen then.
BROUGHT_INTO_VIEW = """(bench, stays) => {
    const unseen = [];
    const inView = (part) => { const box = part.getBoundingClientRect();
        return box.top >= -1 && box.bottom <= innerHeight + 1 && box.left >= -1 && box.right <= innerWidth + 1; };
    const onTop = (part) => { const box = part.getBoundingClientRect();
        return part.contains(document.elementFromPoint((box.left + box.right) / 2, (box.top + box.bottom) / 2)); };
    for (const part of bench.querySelectorAll('.eb-group:not([hidden]) :is(button, input):not([hidden])')) {
        part.scrollIntoView({block: 'center', behavior: 'instant'});
        const name = part.ariaLabel || part.textContent || part.dataset.control;
        if (!inView(part) || !onTop(part)) unseen.push(name);
        for (const selector of stays)
            if (!inView(bench.querySelector(selector))) unseen.push(`${selector} beside ${name}`);
    }
    return unseen; }"""
SMALLEST = """bench => {
    const small = [];
    for (const part of bench.querySelectorAll('button, input, span, dt, dd, li, text, div')) {
        if (!part.checkVisibility()) continue;
        if (![...part.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim())) continue;
        const svg = part.ownerSVGElement;
        const scale = svg ? svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : 1;
        const size = parseFloat(getComputedStyle(part).fontSize) * scale;
        if (size < 11.95) small.push(`${part.textContent.trim().slice(0, 20)}: ${size.toFixed(1)}`);
    }
    for (const part of bench.querySelectorAll('button, input')) {
        const {height} = part.getBoundingClientRect();
        if (part.checkVisibility() && height < (part.type === 'range' ? 28 : 31.9)) small.push(part.outerHTML);
    }
    return small; }"""


@pytest.fixture(scope="module")
def lesson_page(browser, plain_server):
    """The lesson as a plain page, for all tests of this module."""
    plain_server.forget()
    context = browser.new_context(viewport=SCREEN)
    page = context.new_page()
    plain_server.open(page)
    yield page
    context.close()


def of_phases(page, bench=None):
    """The bench, once with each phase in hand, and the phase's title."""
    bench = bench or page.locator(".engine-bench").first
    for button in bench.locator(".eb-phase").all():
        button.click()
        yield bench, button.get_attribute("data-phase")


def not_on_screen(page, bench, width: int, height: int) -> list:
    """What is outside the screen, by phase, or does not keep its place from one phase to the next."""
    page.set_viewport_size({"width": width, "height": height})
    fixed_at, outside = [], []
    for shown, phase in of_phases(page, bench):
        tools = {TOOLS_READ: ".eb-brief"} if shown.locator(".eb-tool").count() else {}
        places, hands = shown.evaluate(PLACES, {**FIXED, **tools})
        fixed_at.append(places)
        assert hands
        for name, (left, top, right, bottom) in [*places.items(), *hands]:
            if bottom <= top or left < 0 or top < 0 or right > width or bottom > height:
                outside.append((phase, name, (left, top, right, bottom)))
    assert len(fixed_at) >= 5
    return outside + [places for places in fixed_at if places != fixed_at[0]]


@pytest.mark.parametrize(("width", "height"), [(1280, 600), (1024, 640), (1440, 900)])
def test_everything_needed_stands_together_in_every_phase(lesson_page, width, height):
    """Dials, key, reading, nameplate, part in hand and every control of the phase are on one screen, and what is fixed
    never moves."""
    assert not_on_screen(lesson_page, None, width, height) == []


@pytest.mark.parametrize(("width", "height"), [(640, 300), (512, 320), (390, 844)])  # 200 % of both, and a phone
def test_dials_and_key_stay_while_controls_scroll(lesson_page, width, height):
    """At 200 % and on a phone each control can be brought into view with dials and key still there."""
    lesson_page.set_viewport_size({"width": width, "height": height})
    unseen = []
    for bench, phase in of_phases(lesson_page):
        unseen += [(phase, what) for what in bench.evaluate(BROUGHT_INTO_VIEW, [FIXED[name] for name in STAYS])]
    assert unseen == []


@pytest.mark.parametrize(("width", "height"), [(1280, 600), (1024, 640), (390, 844)])
def test_nothing_is_too_small_to_read_or_to_press(lesson_page, width, height):
    """Text has 12 px or more, the numbers on the dials too, and whatever is pressed 32 px."""
    lesson_page.set_viewport_size({"width": width, "height": height})
    for bench, _phase in of_phases(lesson_page):
        assert bench.evaluate(SMALLEST) == []


def test_a_finger_has_larger_targets(browser, plain_server):
    """By touch every button is 44 px high or more."""
    plain_server.forget()
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page = context.new_page()
    plain_server.open(page)
    for bench, _phase in of_phases(page):
        low = bench.evaluate("""bench => [...bench.querySelectorAll('button')].filter((part) =>
            part.checkVisibility() && part.getBoundingClientRect().height < 43.9).map((part) => part.outerHTML)""")
        assert low == []
    context.close()


def test_escape_stops_the_engine_and_nothing_else(lesson_page, notebook):
    """Esc at a standing engine writes nothing; at a turning one it is the stop."""
    page = lesson_page
    page.set_viewport_size(SCREEN)
    bench = page.locator(".engine-bench").first
    page.keyboard.press("Escape")
    for control, value in notebook.made_ready:
        choose(bench, control, value)
    use(bench, "starter")
    page.wait_for_function("document.querySelector('.eb-state').textContent === 'Running'", timeout=30_000)
    bench.locator("[data-control=read_gauges]").focus()
    page.keyboard.press("Escape")
    page.wait_for_function("document.querySelector('.eb-state').textContent === 'Engine stopped'")
    record = bench.locator(".eb-record li").all_inner_texts()
    assert sum("Ignition off" in line for line in record) == 1
