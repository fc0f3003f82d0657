"""The instructor's desk and the player, each alone in a page, and the show page as it is served."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time

import pytest

from course.widgets.showing.desk import DAYS, ShowDesk
from course.widgets.showing.player import Player
from graders.model_answers.demonstrations import DEMONSTRATIONS, HOSE_LEFT_ON
from tests.browser.conftest import SCREEN, faults_of, free_port
from tests.browser.form_alone import alone

DESK = {
    "engines": [["truck", "Delivery truck"], ["runabout", "Farm runabout"]],
    "days": list(DAYS),
    "faults": [["none", "nothing"], ["valve_burnt", "A burnt valve"]],
    "shown": {"engine": "truck", "day": next(iter(DAYS)), "fault": "none", "prepared": True},
}
PLAYER = {"recordings": [list(pair) for pair in DEMONSTRATIONS.items()], "chosen": "right"}
SEEN = "selector => { const all = [...document.querySelectorAll(selector)];\
 return all.length > 0 && all.every((one) => one.checkVisibility({visibilityProperty: true})); }"


def test_the_desk_sends_what_was_chosen_and_hides_the_choice(browser):
    """One press puts it on the bench, and what is wrong is no longer to be read."""
    with alone(browser, ShowDesk, 1000, **DESK) as desk:
        desk.page.get_by_label("Engine").select_option("runabout")
        desk.page.get_by_label("What is wrong").select_option("valve_burnt")
        desk.page.get_by_role("button", name="Put it on the bench").click()
        (sent,) = desk.sent()
        assert sent["set_up"] == {**DESK["shown"], "engine": "runabout", "fault": "valve_burnt"}
        assert desk.page.get_by_label("What is wrong").is_hidden()
        desk.tell(said="It cannot have this.")
        assert desk.page.get_by_text("It cannot have this.").is_visible()


def test_the_player_says_what_is_done_and_sends_its_presses(browser):
    """Play becomes pause while it plays, and play again at the end; the caption is spoken."""
    with alone(browser, Player, 700, **PLAYER) as player:
        player.page.get_by_role("button", name="Play", exact=True).click()
        player.tell(playing=True, at=3, acts=61, caption="Make it safe.")
        player.page.get_by_role("button", name="Pause").click()
        player.tell(playing=False)
        player.page.get_by_role("button", name="Step").click()
        player.page.get_by_label("Recording").select_option(HOSE_LEFT_ON)
        assert player.sent() == [{"press": "play"}, {"press": "pause"}, {"press": "step"}, {"choose": HOSE_LEFT_ON}]
        assert player.page.locator("[role=status]").inner_text() == "Make it safe."
        assert player.page.locator(".cf-tries").inner_text() == "Act 3 of 61"
        player.tell(at=61)
        assert player.page.get_by_role("button", name="Play again").is_visible()


@pytest.fixture(scope="module")
def show_page(browser, tmp_path_factory):
    """The page that 'show' opens, with its desk and its recordings there."""
    log = tmp_path_factory.mktemp("show") / "show.log"
    with log.open("w") as out:
        command = [sys.executable, "-m", "course", "show", "--no-browser", f"--port={free_port()}"]
        process = subprocess.Popen(command, stdout=out, stderr=out, env={**os.environ, "TIMING_COURSE_HERE": "1"})
    until = time.monotonic() + 60
    while not (found := re.search(r"http://\S+", log.read_text(encoding="utf-8"))) and time.monotonic() < until:
        time.sleep(0.1)
    assert found, log.read_text(encoding="utf-8")
    context = browser.new_context(viewport=SCREEN)
    page = context.new_page()
    faults = faults_of(page)
    page.goto(found[0])
    page.wait_for_selector(".sh-player", timeout=90_000)
    page.wait_for_selector(".engine-bench[data-exercise=show] [data-control=brake]", state="attached")
    yield page
    context.close()
    process.send_signal(signal.SIGTERM)
    assert process.wait(30) == 0 and "Nothing of it was written down" in log.read_text(encoding="utf-8")
    assert faults == []


def test_the_needles_are_hidden_for_a_guess(show_page):
    """While the class predicts no needle, chart or word of the engine is seen, nor told to a screen reader."""
    hidden = ".engine-bench :is(.eb-needle, .eb-charts, .eb-ear, .eb-message)"
    show_page.get_by_role("button", name="Predict now").click()
    assert not any(
        show_page.locator(hidden).evaluate_all(
            "all => all.map((one) => one.checkVisibility({visibilityProperty: true}))"
        )
    )
    assert show_page.get_by_role("meter", name="Vacuum gauge").count() == 0
    show_page.get_by_role("button", name="Show the needles").click()
    assert show_page.evaluate(SEEN, ".engine-bench .eb-needle")
    assert show_page.get_by_role("meter", name="Vacuum gauge").count() == 1


def test_names_of_the_parts_are_switched_off(show_page):
    """For a class that is to name them; the picture is open by itself."""
    assert show_page.evaluate(SEEN, ".engine-bench[data-exercise=show] .es-name")
    show_page.get_by_role("button", name="Names of the parts").click()
    assert not show_page.evaluate(SEEN, ".engine-bench[data-exercise=show] .es-name")
    show_page.get_by_role("button", name="Names of the parts").click()


def test_a_recording_is_played_on_the_bench(show_page):
    """A step is seen at the bench's own controls; its hands are refused; played, it goes on by itself."""
    bench = show_page.locator(".engine-bench[data-exercise=replay]")
    brake = bench.locator("[data-control=brake][data-value=on], [data-control=brake] [data-value=on]").first
    show_page.get_by_role("button", name="Step").click()
    show_page.wait_for_function("document.querySelector('.sh-player .cf-tries').textContent.startsWith('Act 1 of')")
    assert brake.get_attribute("aria-pressed") == "true"
    bench.locator(
        "[data-control=chocks][data-value='in place'], [data-control=chocks] [data-value='in place']"
    ).first.click()
    bench.get_by_text("This is a recording").wait_for()
    show_page.get_by_role("button", name="Play", exact=True).click()
    show_page.wait_for_function(
        "parseInt(document.querySelector('.sh-player .cf-tries').textContent.slice(4)) > 6", timeout=30_000
    )
    show_page.get_by_role("button", name="Pause").click()
