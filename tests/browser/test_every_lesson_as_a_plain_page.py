"""Every lesson as a learner gets it, as a plain page: it runs, it is whole, and nothing is cut off in any light.

Each lesson is opened once; all tests of a lesson look at that one page.
"""

from __future__ import annotations

import shutil

import pytest

from tests.browser.conftest import SCREEN, PlainPages, faults_of
from tests.browser.opened_lesson import (
    COLOUR_RULES,
    EXERCISES,
    READY_WITHIN_MS,
    Opened,
    look_whether_cut_off,
    look_whether_whole,
    violations_in,
    with_every_kind,
)
from tests.browser.test_one_screen import not_on_screen

# The smallest letter of all pictures in sight [px], and how many of them are wider than their frame.
PICTURES = """pictures => {
    const letters = pictures.flatMap((svg) => [...svg.querySelectorAll('text')].map((one) =>
        parseFloat(getComputedStyle(one).fontSize) * svg.getBoundingClientRect().width / svg.viewBox.baseVal.width));
    const wide = pictures.filter((svg) => svg.parentElement.scrollWidth > svg.parentElement.clientWidth);
    return [letters.length ? Math.min(...letters) : null, wide.length];
}"""

# A bench of each kind beside that of l04: without tools, test stand, static timing, roads and fuels, springs.
BENCHES = ("l00", "l01", "l03", "l05", "l06")


def pytest_generate_tests(metafunc):
    """Every test goes through all lessons, one page after the other, but that of the benches; axe goes through as many
    as have every kind of part, and through the others where a change concerns them."""
    lessons = [
        one for one in EXERCISES if metafunc.function is not test_every_bench_stands_on_one_screen or one[:3] in BENCHES
    ]
    with_axe = metafunc.function in (test_colours_in_the_light, test_axe_finds_nothing)
    every_kind = with_every_kind([]) if with_axe else lessons
    opened = [
        pytest.param(lesson, id=lesson[:3], marks=[pytest.mark.further] * (lesson not in every_kind))
        for lesson in lessons
    ]
    metafunc.parametrize("opened", opened, indirect=True, scope="module")


@pytest.fixture(scope="module")
def pages(plain_server, learners_folder) -> PlainPages:
    """The lessons of a learner's folder as plain pages."""
    pages = plain_server.within_folder("every lesson")
    shutil.copytree(learners_folder, pages.folder)
    pages.may_run(*pages.folder.glob("*/*.ipynb"))
    return pages


@pytest.fixture(scope="module")
def screen(browser):
    """The page on which one lesson after the other is opened, and what it finds wrong."""
    context = browser.new_context(viewport=SCREEN, color_scheme="light")
    page = context.new_page()
    yield page, faults_of(page)
    context.close()


@pytest.fixture(scope="module")
def opened(request, pages, screen):
    """One lesson, opened; it runs by itself."""
    page, faults = screen
    lesson = request.param
    page.set_viewport_size(SCREEN)
    faults.clear()
    page.goto(pages.address_of(lesson))
    page.wait_for_selector(".cf-hand-in", state="attached", timeout=READY_WITHIN_MS)
    here = Opened(page, lesson, "plain page", pages.folder / lesson / f"{lesson}.ipynb", faults)
    here.all_shown()
    return here


def test_it_runs_and_is_whole(opened):
    """No error anywhere; every exercise of the outline stands there once, in its order, with its check; so do all
    pictures, the words and the button to hand in."""
    look_whether_whole(opened)


def test_nothing_is_cut_off(opened):
    """At three widths of the screen nothing scrolls sideways or leaves its frame."""
    look_whether_cut_off(opened)


def test_a_phone_scrolls_up_and_down_alone(opened):
    """No table, form or picture is wider than a phone, and the letters of pictures can be read there."""
    opened.page.set_viewport_size({"width": 390, "height": 844})
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= 390
    letters, sideways = opened.page.locator(".course-picture svg:visible").evaluate_all(PICTURES)
    assert (letters is None or letters >= 10.0) and sideways == 0
    opened.page.set_viewport_size(SCREEN)


def test_every_bench_stands_on_one_screen(opened):
    """What is needed together is there in every phase and keeps its place, with all of its tools, on both screens."""
    opened.page.wait_for_selector(".engine-bench [data-control=brake]", state="attached", timeout=30_000)
    for bench in opened.page.locator(".engine-bench").all():
        for width, height in [(1280, 600), (1024, 640)]:
            assert not_on_screen(opened.page, bench, width, height) == [], width
    opened.page.set_viewport_size(SCREEN)


def test_colours_in_the_light(opened):
    """No violation of what is about colours, on the whole page."""
    assert violations_in(opened, *COLOUR_RULES) == []


def test_axe_finds_nothing(opened):
    """No violation at all on the whole page in the dark."""
    opened.light(False)
    assert violations_in(opened) == []
    opened.light(True)
