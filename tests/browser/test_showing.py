"""The instructor's desk and the player, each alone in a page."""

from __future__ import annotations

from course.widgets.showing.desk import DAYS, ShowDesk
from course.widgets.showing.player import Player
from graders.model_answers.demonstrations import DEMONSTRATIONS, HOSE_LEFT_ON
from tests.browser.form_alone import alone

DESK = {
    "engines": [["truck", "Delivery truck"], ["runabout", "Farm runabout"]],
    "days": list(DAYS),
    "faults": [["none", "nothing"], ["valve_burnt", "A burnt valve"]],
    "shown": {"engine": "truck", "day": next(iter(DAYS)), "fault": "none", "prepared": True},
}
PLAYER = {"recordings": [list(pair) for pair in DEMONSTRATIONS.items()], "chosen": "right"}


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
