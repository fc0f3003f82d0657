"""Takes pictures: `python -m pytest -m pictures tests/browser`.

The README's picture is taken each time. With `TIMING_COURSE_PICTURES=FOLDER` every state of the lesson l04 is taken,
too, into that folder: light and dark, wide and 1024 pixels, notebook and plain page; and so is every lesson as a whole.
They are for review and not kept.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

import course
from course.authoring.edition import lessons
from course.commands.start import lay_out
from tests.browser.bench_hands import choose, use
from tests.browser.conftest import MOVING

PICTURES = course.HERE / "pictures"
SIZE = {"width": 1280, "height": 1900}  # higher than the bench: the notebook must not scroll
LARGEST_BYTES = 400_000
TALLEST = 20_000  # higher than any lesson
FOLDER = os.environ.get("TIMING_COURSE_PICTURES")
WARM = "document.querySelector('.engine-bench').textContent.includes('The engine is warm')"


@pytest.mark.pictures
def test_take_the_picture_of_the_bench(lab, page, running_bench):
    """A warm engine on its way to the highest vacuum, as the README shows it."""
    page.set_viewport_size(SIZE)
    page.emulate_media(**MOVING)
    bench = running_bench(lab, page)
    use(bench, "wait_until_warm")
    page.wait_for_function(WARM, timeout=60_000)
    against_rotor = "-2" if "clockwise, seen" in bench.inner_text().replace("anticlockwise", "") else "2"
    for _ in range(6):
        use(bench, "distributor", f"[data-by='{against_rotor}']")
        page.wait_for_timeout(3500)
    bench.locator("[data-control=read_gauges]").click()
    page.mouse.move(0, 0)
    page.wait_for_timeout(1000)
    path = PICTURES / "bench.png"
    bench.screenshot(path=path)
    assert path.stat().st_size < LARGEST_BYTES


def walk_through(page, name: str, made_ready) -> None:
    """Take a lesson page from its opening to its checked work, a picture a state."""
    folder = Path(FOLDER)
    folder.mkdir(parents=True, exist_ok=True)
    bench = page.locator(".engine-bench").first

    def take(state: str, part=None) -> None:
        page.wait_for_timeout(400)
        (part or bench).screenshot(path=folder / f"{name}-{state}.png")

    page.screenshot(path=folder / f"{name}-1-opened.png")
    take("2-as-found")
    bench.locator("[data-control=starter]").click()
    page.wait_for_function("document.querySelector('.eb-message').dataset.kind === 'stopped'")
    take("3-stopped-as-unsafe")
    for control, value in made_ready:
        choose(bench, control, value)
    bench.locator("[data-control=starter]").click()
    take("4-cranking")
    page.wait_for_function("document.querySelector('.eb-state').textContent === 'Running'", timeout=30_000)
    use(bench, "wait_until_warm")
    page.wait_for_function(WARM, timeout=60_000)
    page.wait_for_timeout(2000)
    take("5-warm")
    question = page.locator(".cf-number").first
    question.locator("input").fill("about three")
    question.locator(".cf-press").click()
    page.wait_for_timeout(500)
    take("6-answer-refused", question)
    check = page.locator(".engine-bench[data-exercise=l04_set_base_timing] .eb-verdict")
    check.locator(".cf-press").click()
    check.locator(".cf-criterion").first.wait_for(timeout=60_000)
    take("7-checked", check)


@pytest.fixture(params=["light", "dark"])
def scheme(request):
    """Light or dark."""
    return request.param


@pytest.fixture(params=[1280, 1024])
def width(request):
    """A wide screen and a classroom's."""
    return request.param


@pytest.fixture
def screen(browser, scheme, width):
    """A page of that width in that light."""
    context = browser.new_context(color_scheme=scheme, viewport={"width": width, "height": 1900}, **MOVING)
    yield context.new_page()
    context.close()


@pytest.mark.pictures
@pytest.mark.skipif(not FOLDER, reason="TIMING_COURSE_PICTURES names no folder for these pictures")
def test_take_pictures_of_the_notebook(lab, screen, scheme, width, notebook):
    """Every state of the lesson in JupyterLab."""
    lab.open(screen)
    screen.screenshot(path=Path(FOLDER) / f"notebook-{scheme}-{width}-0-not-running.png")
    theme = f"JupyterLab {scheme.title()}"
    screen.evaluate("theme => window.jupyterapp.commands.execute('apputils:change-theme', {theme})", theme)
    notebook.run_all(screen, ".cf-choice")
    walk_through(screen, f"notebook-{scheme}-{width}", notebook.made_ready)


@pytest.mark.pictures
@pytest.mark.skipif(not FOLDER, reason="TIMING_COURSE_PICTURES names no folder for these pictures")
def test_take_pictures_of_the_plain_page(plain, screen, scheme, width, notebook):
    """Every state of the lesson as a plain page, and the list of lessons."""
    screen.goto(plain.index)
    screen.screenshot(path=Path(FOLDER) / f"plain-{scheme}-{width}-0-lessons.png")
    plain.open(screen)
    walk_through(screen, f"plain-{scheme}-{width}", notebook.made_ready)


@pytest.mark.pictures
@pytest.mark.skipif(not FOLDER, reason="TIMING_COURSE_PICTURES names no folder for these pictures")
def test_take_pictures_of_every_lesson(lab, server, screen, scheme, width, notebook):
    """Every lesson from its title to its button to hand in, run, as a learner has it: a picture a lesson."""
    folder = lab.lesson.parent / "every"
    lay_out(folder, "Robin Vale")
    Path(FOLDER).mkdir(parents=True, exist_ok=True)
    for lesson in lessons():
        screen.set_viewport_size({"width": width, "height": TALLEST})
        type(lab)(server, folder / lesson).open(screen, f"{lesson}.ipynb")
        theme = f"JupyterLab {scheme.title()}"
        screen.evaluate("theme => window.jupyterapp.commands.execute('apputils:change-theme', {theme})", theme)
        notebook.run_all(screen, ".cf-hand-in")
        screen.wait_for_timeout(1500)
        height = screen.evaluate("document.querySelector('.cf-hand-in').getBoundingClientRect().bottom")
        screen.screenshot(
            path=Path(FOLDER) / f"lesson-{scheme}-{width}-{lesson}.png",
            clip={"x": 0, "y": 0, "width": width, "height": height + 20},
        )
        server.end_sessions()
