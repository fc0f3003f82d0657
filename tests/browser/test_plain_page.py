"""The lessons as plain pages, in a real browser: the same work, the same evidence, nothing from outside."""

from __future__ import annotations

import time
import urllib.error
import urllib.request

import pytest
from axe_playwright_python.sync_playwright import Axe

from engine_sim import read_evidence
from tests.browser.conftest import SCREEN, faults_of, lay_lesson

RUNNING = "document.querySelector('.eb-state').textContent === 'Running'"
SAID_MORE = "before => document.querySelector('.eb-message').dataset.number !== before"
COUNTS_BEATS = """() => {
    window.begun = 0;
    const start = AudioBufferSourceNode.prototype.start;
    AudioBufferSourceNode.prototype.start = function (...when) { window.begun += 1; return start.apply(this, when); };
}"""


def start(page, made_ready):
    """Make the engine of an opened page ready, start it, and return its bench."""
    bench = page.locator(".engine-bench")
    for control, value in made_ready:
        bench.locator(f"[data-control={control}][data-value='{value}']").click()
    bench.locator("[data-control=starter]").click()
    page.wait_for_function(RUNNING, timeout=30_000)
    return bench


@pytest.fixture(scope="module")
def at_work(plain_server, browser, notebook):
    """The plain pages of a learner whose lesson is open with its engine running, and that page, for all tests that
    leave it so."""
    pages = plain_server.within_folder("at work")
    lay_lesson(pages.lesson)
    context = browser.new_context(viewport=SCREEN, color_scheme="light")
    page = context.new_page()
    faults = faults_of(page)
    pages.open(page)
    start(page, notebook.made_ready)
    yield pages, page
    context.close()
    assert faults == []


def violations(page) -> list[str]:
    """What axe finds on the whole page, a line each."""
    found = Axe().run(page).response["violations"]
    return [f"{one['id']}: {one['help']} at {node['target']}" for one in found for node in one["nodes"]]


def test_from_the_list_to_checked_work_and_back(plain, page, notebook):
    """A learner goes from the list of lessons to a lesson, works, checks, and comes back: no code cell in sight, the
    same evidence and the same judge, and nothing asked of any other machine. Going back refuses nothing, and the engine
    of the page that was left does not run on unseen."""
    asked: list[str] = []
    refused: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(plain.index)
    assert "not begun" in page.locator(".pp-lessons li").inner_text()
    page.get_by_role("link", name="Base timing by vacuum gauge and tachometer").click()
    page.wait_for_selector(".cf-check", timeout=90_000)
    start(page, notebook.made_ready)
    assert page.locator(".jp-InputArea-editor, .jp-CodeMirrorEditor, .highlight").count() == 0
    assert "Run All Cells" not in page.locator("main").inner_text()
    check = page.locator(".cf-check[data-exercise=l04_set_base_timing]")
    check.locator(".cf-press").click()
    check.locator(".cf-criterion").first.wait_for(timeout=60_000)
    assert check.locator(".cf-criterion[data-outcome=met]").count() >= 1
    controls = [event.control for event in read_evidence(plain.lesson / "evidence.jsonl").events]
    assert controls[:2] == ["brake", "chocks"] and controls[-2:] == ["starter", "debriefed"]
    page.on("response", lambda answer: answer.status >= 400 and refused.append(f"{answer.status} {answer.url}"))
    with page.expect_request(lambda asked: "/api/shutdown/" in asked.url) as ended:
        page.get_by_role("link", name="All lessons").click()
    assert "· begun" in page.locator(".pp-lessons li").inner_text()
    kernel = f"{plain.origin}/api/kernels/{ended.value.url.rsplit('/', 1)[1]}?{plain.key}"
    until = time.monotonic() + 20
    while page.request.get(kernel).status != 404:
        assert time.monotonic() < until, "the kernel of the page that was left goes on"
        page.wait_for_timeout(100)
    assert refused == []
    outside = [url for url in asked if not url.startswith((plain.origin, "data:", "blob:"))]
    assert outside == []


def test_a_page_opened_again_goes_on_where_it_was_left(at_work):
    """Loading the page again brings a new kernel, and bench and strip stand as they were left."""
    pages, page = at_work
    page.locator("[data-control=clamp][data-value=loose]").click()
    page.locator("[data-control=distributor][data-by='0.25']").click()
    page.wait_for_function("document.querySelector('.eb-row-turn .eb-where').textContent.startsWith('0.25')")
    pages.open(page)
    page.wait_for_function("document.querySelector('.eb-row-turn .eb-where').textContent.startsWith('0.25')")
    page.wait_for_function(RUNNING)
    assert page.locator(".eb-record li").count() >= 8


def test_a_page_left_open_in_a_second_window_is_told(at_work):
    """The lesson opened twice has two kernels: the window that comes late is told, and the evidence stays sound."""
    pages, page = at_work
    second = page.context.new_page()
    pages.open(second)
    before = len(read_evidence(pages.lesson / "evidence.jsonl").events)
    said = page.locator(".eb-message").get_attribute("data-number")
    page.locator("[data-control=read_gauges]").click()
    page.wait_for_function(SAID_MORE, arg=said)
    second.locator("[data-control=wait]").click()
    second.wait_for_function("document.querySelector('.eb-message').textContent.includes('open twice')")
    events = read_evidence(pages.lesson / "evidence.jsonl").events
    assert [event.control for event in events[before:]] == ["read_gauges"]
    second.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_the_plain_pages(at_work, plain_server, scheme):
    """No violation on the list of lessons or on the whole lesson page with work done, in the light and in the dark."""
    _pages, page = at_work
    page.emulate_media(color_scheme=scheme)
    page.locator(".cf-check .cf-press").first.click()
    page.wait_for_selector(".cf-criterion", timeout=60_000)
    assert violations(page) == []
    light = page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert light is (scheme == "light")
    page.emulate_media(color_scheme="light")
    index = page.context.new_page()
    index.emulate_media(color_scheme=scheme)
    index.goto(plain_server.index)
    assert violations(index) == []
    index.close()


def test_nothing_of_a_page_is_cut_off(at_work):
    """On a classroom's screen and at 200 % (640 of 1280) there is no sideways scrolling, and nothing leaves it."""
    _pages, page = at_work
    for width in (1024, 640):
        page.set_viewport_size({"width": width, "height": 768})
        page.wait_for_timeout(400)
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), width
        outside = page.evaluate("""() => [...document.querySelectorAll('main :is(button, input, label, p, li, canvas)')]
            .filter((part) => part.getBoundingClientRect().right > window.innerWidth + 1)
            .map((part) => part.outerHTML)""")
        assert outside == [], width
    page.set_viewport_size(SCREEN)


def test_sound_has_one_switch_and_beats_as_the_engine_fires(at_work):
    """Off at first; switched on by a key it plays about as many beats as cylinders fire; off again it is silent."""
    _pages, page = at_work
    bench = page.locator(".engine-bench")
    page.evaluate(COUNTS_BEATS)
    page.wait_for_timeout(500)
    assert page.evaluate("window.begun") == 0
    bench.get_by_role("button", name="Sound: off", pressed=False).focus()
    page.keyboard.press("Enter")
    bench.get_by_role("button", name="Sound: on", pressed=True).wait_for()
    page.wait_for_function("window.begun > 5", timeout=10_000)
    begun, since = page.evaluate("[window.begun, performance.now()]")
    page.wait_for_timeout(2000)
    later, until = page.evaluate("[window.begun, performance.now()]")
    speed = float(bench.locator(".eb-speed .eb-dial-value").inner_text().split()[0])
    fires = speed / 120 * 6 * (until - since) / 1000  # six cylinders, each firing every second turn
    assert 0.6 * fires < later - begun < 1.4 * fires
    page.keyboard.press("Space")
    bench.get_by_role("button", name="Sound: off", pressed=False).wait_for()
    page.wait_for_timeout(300)
    begun = page.evaluate("window.begun")
    page.wait_for_timeout(500)
    assert page.evaluate("window.begun") == begun


def test_nobody_comes_in_without_the_key(plain):
    """Without the key in its address a page leads to the door, and a learner's files are not given out."""
    with urllib.request.urlopen(f"{plain.origin}/", timeout=10) as answer:
        assert "/login" in answer.url and "Base timing" not in answer.read().decode()
    with pytest.raises(urllib.error.HTTPError) as refused:
        urllib.request.urlopen(f"{plain.origin}/voila/files/learner.toml?{plain.key}", timeout=10)
    assert refused.value.code in (403, 404)
