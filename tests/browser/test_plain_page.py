"""The lessons as plain pages, in a real browser: the same work, the same evidence, nothing from outside."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request

import pytest

import course
from course.commands.start import lay_out
from engine_sim import CLOSED, read_evidence
from tests.browser.axe import violations
from tests.browser.bench_hands import choose, use
from tests.browser.conftest import SCREEN, address_in, faults_of, free_port, lay_lesson, write_notebook
from tests.further import behind

PICTURES = os.environ.get("TIMING_COURSE_PICTURES", "")
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
        choose(bench, control, value)
    bench.locator("[data-control=starter]").click()
    page.wait_for_function(RUNNING, timeout=30_000)
    return bench


def test_a_page_at_rest_sends_nothing(plain, page, notebook):
    """Between page and program nothing is said while the engine stands, however long; a running engine is told of, and
    one that was stopped says only that it cools, half a degree at a time."""
    said = []

    def listen(socket):
        for way in ("framesent", "framereceived"):
            socket.on(way, lambda frame: said.append(frame))

    page.on("websocket", listen)
    plain.open(page)
    page.locator(".engine-bench .eb-state", has_text="Engine stopped").wait_for()
    page.wait_for_timeout(2000)
    said.clear()
    page.wait_for_timeout(7000)  # longer than from one heartbeat to the next
    assert said == []
    bench = start(page, notebook.made_ready)
    page.wait_for_timeout(1000)
    assert len(said) > 20
    bench.locator("[data-control=stop]").click()
    page.locator(".engine-bench .eb-state", has_text="Engine stopped").wait_for()
    page.wait_for_timeout(4000)  # the needles come to rest
    said.clear()
    page.wait_for_timeout(7000)
    assert len(said) <= 2


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


def test_from_the_list_to_checked_work_and_back(plain, page, notebook):
    """A learner goes from the list of lessons to a lesson, works, checks, and comes back: no code cell in sight, the
    same evidence and the same judge, and nothing asked of any other machine. Going back refuses nothing, and the engine
    of the page that was left does not run on unseen."""
    asked: list[str] = []
    refused: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(plain.index)
    card = page.locator(".pp-lesson")
    assert card.locator(".pp-said").inner_text() == "Not begun" and "34 points" in card.inner_text()
    page.get_by_role("link", name="Base timing by vacuum gauge and tachometer", exact=True).click()
    page.wait_for_selector(".cf-choice", timeout=90_000)
    start(page, notebook.made_ready)
    assert page.locator(".jp-InputArea-editor, .jp-CodeMirrorEditor, .highlight").count() == 0
    assert "Run All Cells" not in page.locator("main").inner_text()
    check = page.locator(".engine-bench[data-exercise=l04_set_base_timing] .eb-verdict")
    check.locator(".cf-press").click()
    check.locator(".cf-criterion").first.wait_for(timeout=60_000)
    assert check.locator(".cf-criterion[data-outcome=met]").count() >= 1
    controls = [event.control for event in read_evidence(plain.lesson / "evidence.jsonl").events]
    assert controls[:2] == ["brake", "chocks"] and controls[-2:] == ["starter", "debriefed"]
    page.on("response", lambda answer: answer.status >= 400 and refused.append(f"{answer.status} {answer.url}"))
    with page.expect_request(lambda asked: "/api/shutdown/" in asked.url) as ended:
        page.get_by_role("link", name="Home").first.click()
    card.get_by_text("of 34 points · 1 of 6 exercises").wait_for(timeout=60_000)
    assert page.locator("#go-on").inner_text() == "Continue where you were"
    kernel = f"{plain.origin}/api/kernels/{ended.value.url.rsplit('/', 1)[1]}?{plain.key}"
    until = time.monotonic() + 20
    while page.request.get(kernel).status != 404:
        assert time.monotonic() < until, "the kernel of the page that was left goes on"
        page.wait_for_timeout(100)
    assert refused == []
    outside = [url for url in asked if not url.startswith((plain.origin, "data:", "blob:"))]
    assert outside == []


def test_one_press_brings_the_verdict_into_view(plain, page):
    """From the address: a press opens the lesson, one chooses an answer, and one records it and shows what it earns
    in the same card, in view; nothing else is pressed, and no second card stands below."""
    pressed = []

    def press(part) -> None:
        pressed.append(part)
        part.click()

    page.goto(plain.index)
    press(page.get_by_role("link", name="Base timing by vacuum gauge and tachometer", exact=True))
    card = page.locator(".cf-choice[data-exercise=l04_why_back_off]")
    card.wait_for(timeout=90_000)
    press(card.locator("input[type=radio][value=peak_is_right]"))
    press(card.locator(".cf-press"))
    verdict = card.locator(".cf-criterion")
    verdict.wait_for(timeout=60_000)
    page.wait_for_timeout(200)
    box = verdict.bounding_box()
    assert box["y"] >= 0 and box["y"] + box["height"] <= page.viewport_size["height"] + 1
    assert "0 of 2 points" in card.locator(".cf-said").inner_text() and "Read 'Why the peak" in verdict.inner_text()
    assert len(pressed) == 3
    assert page.locator("[data-exercise=l04_why_back_off]").count() == 1


def test_closing_a_try_shows_what_the_engine_does(plain, page, notebook):
    """A press and a yes draw the engine's own curve with the place of the method and where it was left; the card says
    what counts from now on, and axe finds nothing in it."""
    page.goto(plain.index)
    page.get_by_role("link", name="Base timing by vacuum gauge and tachometer", exact=True).click()
    start(page, notebook.made_ready)
    choose(page, "clamp", "loose")
    for _ in range(3):
        use(page, "distributor", "[data-by='2']")
    use(page, "wait")
    verdict = page.locator(".engine-bench[data-exercise=l04_set_base_timing] .eb-verdict")
    verdict.locator(".cf-press").click()
    verdict.locator(".cf-criterion").first.wait_for(timeout=60_000)
    assert verdict.locator("svg").count() == 0
    verdict.get_by_role("button", name="Close this exercise and show me").click()
    verdict.get_by_role("button", name="Yes, close and show me").click()
    verdict.locator("svg polyline.own").first.wait_for(timeout=60_000)
    assert "is practice and earns nothing" in verdict.inner_text() and "The method ends at" in verdict.inner_text()
    assert violations(page) == []
    if PICTURES:
        verdict.screenshot(path=f"{PICTURES}/closed.png")
    assert read_evidence(plain.lesson / "evidence.jsonl").events[-1].value == CLOSED


def test_a_page_opened_again_goes_on_where_it_was_left(at_work):
    """Loading the page again brings a new kernel, and bench and strip stand as they were left."""
    pages, page = at_work
    choose(page, "clamp", "loose")
    use(page, "distributor", "[data-by='0.25']")
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
    second.locator(".eb-message", has_text="This lesson is open in another tab.").wait_for()
    events = read_evidence(pages.lesson / "evidence.jsonl").events
    assert [event.control for event in events[before:]] == ["read_gauges"]
    second.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_the_plain_pages(at_work, plain_server, scheme):
    """No violation on home, my engine tonight, glossary and the whole lesson page with work done, in the light and in
    the dark; on a phone nothing scrolls sideways."""
    _pages, page = at_work
    page.emulate_media(color_scheme=scheme)
    page.locator(".eb-verdict .cf-press").first.click()
    page.wait_for_selector(".cf-criterion", timeout=60_000)
    assert violations(page) == []
    light = page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert light is (scheme == "light")
    page.emulate_media(color_scheme="light")
    index = page.context.new_page()
    index.emulate_media(color_scheme=scheme)
    index.goto(plain_server.index)
    for place in ("", "my-engine", "glossary?find=ping"):
        index.goto(f"{plain_server.origin}/{place}")
        assert violations(index) == [], place
        for width in (1280, 640, 390):
            index.set_viewport_size({"width": width, "height": 768})
            assert index.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), (place, width)
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
    speed = float(bench.locator(".eb-speed [role=meter]").get_attribute("aria-valuenow"))
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


def test_from_the_address_to_the_bench_in_one_press(plain, page):
    """The home page's first press opens a lesson that is alive; somebody in a hurry is at a bench in two; by keyboard
    the first link after the way around the course is the lesson to go on with."""
    page.goto(plain.index)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the page"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.locator(".engine-bench [data-control=brake][data-value=on]").click(timeout=90_000)
    page.wait_for_selector(".engine-bench [data-control=brake][data-value=on][aria-pressed=true]")
    page.goto(f"{plain.origin}/my-engine")
    page.get_by_role("link", name="Go to the bench").click()
    page.wait_for_selector(".engine-bench [data-control=brake]", timeout=90_000)
    page.wait_for_function("document.querySelector('.engine-bench').getBoundingClientRect().top < innerHeight / 2")


def test_words_are_found(plain, page):
    """From the home page a word leads to its meaning; a word that nobody uses is said to be none."""
    page.goto(plain.index)
    page.get_by_label("What does a word mean?").fill("PING")
    page.keyboard.press("Enter")
    page.wait_for_function("document.querySelector('.pp-terms > div:not([hidden]) dt').textContent === 'ping'")
    page.get_by_label("Find a word").fill("zzz")
    assert page.locator("#count").inner_text().startswith("No word of the course fits")
    assert page.locator(".pp-terms > div:visible").count() == 0


def test_a_notebook_from_elsewhere_is_named_and_not_executed(plain, page):
    """Put beside the lessons, or in the place of one: the pages name it, and no line of it runs when it is opened."""
    ran = plain.folder / "it_ran"
    for name in ("from_elsewhere/notes", "l05_road_check/l05_road_check"):
        path = plain.folder / f"{name}.ipynb"
        path.parent.mkdir()
        write_notebook(path, f"import pathlib\npathlib.Path({str(ran)!r}).touch()")
    try:
        page.goto(plain.index)
        assert page.locator(".pp-others li").all_inner_texts() == ["from_elsewhere/notes.ipynb"]
        card = page.locator("[data-lesson=l05_road_check]")
        assert card.locator("a").count() == 0 and "does not run it" in card.inner_text()
        for address in (
            "lesson/l05_road_check",
            "lesson/from_elsewhere/notes",
            "voila/render/from_elsewhere/notes.ipynb",
        ):
            answer = page.goto(f"{plain.origin}/{address}")
            assert answer.status in (403, 404), address
        page.goto(f"{plain.origin}/lesson/l05_road_check")
        assert "was not run" in page.locator("h1").inner_text()
        assert page.request.get(f"{plain.origin}/api/kernels?{plain.key}").status == 404
        page.wait_for_timeout(1000)
        assert not ran.exists()
    finally:
        for folder in ("from_elsewhere", "l05_road_check"):
            shutil.rmtree(plain.folder / folder)


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such signals")
@pytest.mark.parametrize("ending", behind(1, [signal.SIGINT, signal.SIGTERM]))
def test_closing_the_course_leaves_nothing_running(tmp_path, page, ending):
    """`python3 -m course` prints one line with the address; ended with an engine running it says where the work is, and
    no process of it is left."""
    lay_out(tmp_path / "my-course", "Robin Vale")
    command = [
        sys.executable,
        "-m",
        "course",
        "start",
        str(tmp_path / "my-course"),
        "--no-browser",
        f"--port={free_port()}",
    ]
    environment = {**os.environ, "TIMING_COURSE_HERE": "1", "PYTHONPATH": str(course.HERE.parent)}
    log = tmp_path / "terminal"
    with log.open("w") as out:
        process = subprocess.Popen(command, stdout=out, stderr=out, env=environment, start_new_session=True)
    try:
        page.goto(address_in(log, process))
        page.locator(".pp-go-on a").click()
        page.wait_for_selector(".engine-bench [data-control=brake]", timeout=90_000)
        started = _below(process.pid)
        assert len(started) >= 2  # the server and the program behind the page
        if ending is signal.SIGTERM:
            process.terminate()
        else:  # as a terminal sends it, to all that stand in its foreground
            os.killpg(process.pid, signal.SIGINT)
        assert process.wait(30) == 0
    finally:
        process.kill()
    until = time.monotonic() + 10
    while left := [number for number in started if _runs(number)]:
        assert time.monotonic() < until, left
        time.sleep(0.1)
    first, *rest = log.read_text().split("\n\n")
    assert first.startswith("Your course is at http://localhost:") and "\n" not in first
    assert rest == [f"The course is closed. Your work is kept in {tmp_path / 'my-course'}.\n"]


def _below(process: int) -> list[int]:
    """The processes that a process started, and those that these started."""
    table = [line.split() for line in subprocess.check_output(["ps", "-eo", "pid=,ppid="], text=True).splitlines()]
    found = [process]
    for parent in found:
        found += [int(pid) for pid, of in table if int(of) == parent]
    return found[1:]


def _runs(process: int) -> bool:
    state = subprocess.run(["ps", "-o", "stat=", "-p", str(process)], capture_output=True, text=True).stdout
    return bool(state) and not state.startswith("Z")
