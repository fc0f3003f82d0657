"""A busy browser brings the parts of a lesson up late; every one of them hears its kernel all the same.

anywidget takes a part for failed that is not up after two seconds, and keeps from it all that the kernel says. Here
that time is over at once, so that every part is late, as on an old machine on which a whole lesson appears.
"""

from __future__ import annotations

import pytest

from tests.browser.conftest import LATE_PART

TIME_IS_OVER = """
    const after = AbortSignal.timeout.bind(AbortSignal);
    AbortSignal.timeout = (ms) => {
        if (ms !== 2000) return after(ms);
        const over = new AbortController();
        queueMicrotask(() => over.abort());
        return over.signal;
    };
"""
ANSWERED = "form => document.querySelector(form + ' .cf-said').dataset.kind === 'done'"
QUESTION, HAND_IN = ".cf-choice[data-exercise=l04_why_back_off]", ".cf-hand-in"


@pytest.fixture
def late(browser):
    """A page on which every part is late, and what anywidget says of that."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    context.add_init_script(TIME_IS_OVER)
    page, faults = context.new_page(), []
    page.on("pageerror", lambda error: faults.append(str(error)))
    yield page, faults
    context.close()


def set_the_brake(page) -> None:
    """Press the switch of the brake and wait until the engine says that it is on."""
    page.locator(".engine-bench [data-control=brake][data-value=on]").click()
    page.wait_for_function("document.querySelector('[data-control=brake][data-value=on]').ariaPressed === 'true'")


def test_every_kind_of_part_hears_its_kernel(lab, late, notebook):
    """The bench moves its switch, a form says that it recorded, the button to hand in lists what is missing."""
    page, faults = late
    notebook.write(
        lab.lesson / "late.ipynb",
        "from course.widgets import bench, choice, hand_in",
        'bench("l04_set_base_timing")',
        'choice("l04_why_back_off")',
        "hand_in()",
    )
    lab.open(page, "late.ipynb")
    notebook.run_all(page, HAND_IN)
    page.wait_for_selector(".engine-bench")
    set_the_brake(page)
    page.locator(f"{QUESTION} input").first.check()
    page.locator(f"{QUESTION} .cf-press").click()
    page.wait_for_function(ANSWERED, arg=QUESTION)
    page.locator(f"{HAND_IN} button").first.click()
    page.wait_for_selector(f"{HAND_IN} li")
    assert set(faults) == {LATE_PART}


def test_the_plain_page_hears_its_kernel(plain, late):
    """The bench moves its switch on the plain page, too."""
    page, faults = late
    plain.open(page)
    set_the_brake(page)
    assert set(faults) == {LATE_PART}
