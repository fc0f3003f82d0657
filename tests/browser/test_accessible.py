"""The bench and the forms for those who hear the page, who see it large, or who use keys only."""

from __future__ import annotations

import pytest

from tests.browser.axe import violations
from tests.browser.bench_hands import choose
from tests.browser.conftest import SCREEN, choose_theme

OURS = (".engine-bench", ".course-form")


@pytest.fixture
def page(open_bench):
    """The page that all of these tests look at, in the light and wide again after each."""
    yield open_bench
    open_bench.set_viewport_size(SCREEN)
    open_bench.emulate_media(reduced_motion="reduce")
    choose_theme(open_bench, "JupyterLab Light")


@pytest.mark.parametrize("theme", ["JupyterLab Light", "JupyterLab Dark"])
def test_axe_finds_nothing(page, theme):
    """No violation in bench or forms, in the light and in the dark, after work was done and checked."""
    choose_theme(page, theme)
    page.locator(".eb-verdict .cf-press").first.click()
    page.wait_for_selector(".cf-criterion", timeout=60_000)
    choose(page, "chocks", "away")  # stopped: the engine runs
    page.wait_for_timeout(500)
    assert violations(page, *OURS) == []


def test_axe_can_find_something(page):
    """The check above can fail: a button without a name is found."""
    page.evaluate("document.querySelector('.engine-bench').append(document.createElement('button'))")
    found = violations(page, *OURS)
    page.evaluate("document.querySelector('.engine-bench').lastElementChild.remove()")
    assert any(line.startswith("button-name") for line in found)


@pytest.mark.parametrize("width", [1024, 640])  # 640 is a screen of 1280 at 200 %
def test_nothing_is_cut_off(page, width):
    """On a classroom's screen and at 200 % nothing of the bench runs out of its frame."""
    page.set_viewport_size({"width": width, "height": 768})
    page.wait_for_timeout(500)
    bench = page.locator(".engine-bench").first
    outside = bench.evaluate("""bench => {
        const frame = bench.getBoundingClientRect();
        const parts = [...bench.querySelectorAll('button, input, label, span, dd, li, canvas, .eb-face')];
        return parts.filter((part) => {
            const box = part.getBoundingClientRect();
            return box.width && (box.right > frame.right + 1 || box.left < frame.left - 1);
        }).map((part) => part.className + ' ' + part.textContent);
    }""")
    assert outside == []
    assert bench.evaluate("bench => bench.scrollWidth <= bench.clientWidth + 1")


@pytest.mark.parametrize(("wish", "eased"), [("no-preference", True), ("reduce", False)])
def test_needles_ease_only_where_motion_is_welcome(page, wish, eased):
    """A needle eases to its reading, and jumps there for those who asked for less motion; either way it gets there."""
    page.emulate_media(reduced_motion=wish)
    needle = page.locator(".engine-bench .eb-speed .eb-needle").first
    easing = needle.evaluate("needle => getComputedStyle(needle).transitionDuration")
    assert (easing != "0s") is eased
    page.wait_for_function(
        """() => {
        const dial = document.querySelector('.eb-speed');
        const shown = Number(dial.querySelector('.eb-needle').style.transform.match(/[-\\d.]+/)[0]);
        const read = Number(dial.querySelector('[role=meter]').ariaValueNow);
        return read > 300 && Math.abs(shown - (-135 + 270 * read / 1500)) < 3;  // told to half a line of the scale
    }""",
        timeout=15_000,
    )


def test_a_dial_speaks_at_most_twice_a_second(page):
    """What is heard of a moving dial changes at most twice a second."""
    changes = page.evaluate("""() => new Promise((resolve) => {
        let count = 0;
        const meter = document.querySelector('.eb-vacuum [role=meter]');
        const watch = new MutationObserver((all) => { count += all.length; });
        document.querySelector('.engine-bench [data-control=snap]').click();
        watch.observe(meter, {attributes: true, attributeFilter: ['aria-valuetext']});
        setTimeout(() => resolve(count), 3000);
    })""")
    assert 1 <= changes <= 6
