"""The main job of lesson l04 by mouse and by touch, on the drawn engine: body and idle screw are pulled, hoses and
clips are put where they go, and the judge gives full marks."""

from __future__ import annotations

import pytest

from engine_sim import read_evidence
from graders.exercises.loader import load_rubric
from tests.browser.conftest import LESSON, MOVING, SCREEN
from tests.browser.test_l04_keyboard import SAID_MORE, Mechanic
from tests.further import behind
from tests.scripted_learner import BENCH, ENGINES

STEP_PIXELS, MOST_STEPS = 3, 16
SEEN_IN = {"distributor": "distributor", "idle_screw": "carburettor"}
# A place on the drawn part that nothing covers, to the right of its middle as far as there is one, and its middle.
TAKE_HOLD = """name => {
    const part = document.querySelector(`.es-view [data-part=${name}]`);
    const seam = name === 'distributor' ? document.querySelector('.es-view .es-seam') : null;
    const box = (seam ?? part).getBoundingClientRect(); // of the seam its middle alone: it grows as the body turns
    const [x, y] = [box.left + box.width / 2, box.top + box.height / 2];
    const scale = document.querySelector('.es-view svg').getScreenCTM().a;
    const radius = seam ? seam.r.baseVal.value * scale * 0.94 : box.width / 4;
    for (const deg of [0, 10, -10, 20, -20, 30, -30, 40, -40, 50, 60]) {
        const turn = deg * Math.PI / 180;
        const at = [x + radius * Math.cos(turn), y + radius * Math.sin(turn)];
        if (document.elementFromPoint(...at)?.closest('[data-part]') === part) return at;
    }
    throw new Error(`${name} is covered`); }"""
INTO_VIEW = "view => view.scrollIntoView({block: 'center', behavior: 'instant'})"
PLACE = """([x, y]) => { const at = new DOMPoint(x, y).matrixTransform(
    document.querySelector('.es-view svg').getScreenCTM()); return [at.x, at.y]; }"""


class HandMechanic(Mechanic):
    """The method with a hand on the picture; `hand` presses and drags."""

    def __init__(self, page, hand):
        super().__init__(page)
        self.hand = hand
        self.left_at: dict[str, float] = {}  # where each slider stood when it was let go

    def press(self, selector: str, times: int = 1) -> str:
        """Press a button of the bench, in its phase, and return what the bench says."""
        part = self.page.locator(f".engine-bench {selector}").first
        phase = part.evaluate("part => part.closest('.eb-group[hidden]')?.dataset.group ?? ''")
        if phase:
            self.hand.press(self.page.locator(f"[data-phase='{phase}']").first)
        for _ in range(times):
            before = self.said_number()
            self.hand.press(part)
            self.page.wait_for_function(SAID_MORE, arg=before, timeout=60_000)
        return self.page.locator(".eb-message").inner_text()

    def turn(self, control: str, steps: int, fine: str) -> None:
        """Pull a drawn part round by steps of a control."""
        least = 0.05 if control == "idle_screw" else 0.25
        left = round(steps * float(fine) / least)
        slider = f"input[data-control={control}]"
        self.look_at(slider, SEEN_IN[control])
        while left:
            now = max(min(left, MOST_STEPS), -MOST_STEPS)
            before, stands = self.said_number(), self.stands(slider)
            # A value that was not taken has gone back by now.
            assert stands == pytest.approx(self.left_at.get(control, stands)), control
            self.page.locator(".es-view").evaluate(INTO_VIEW)
            self.hand.drag(self.page.evaluate(TAKE_HOLD, control), (0, STEP_PIXELS * now))
            self.page.wait_for_function(SAID_MORE, arg=before, timeout=10_000)
            self.left_at[control] = stands + least * now
            said = self.page.locator(".eb-message").inner_text()
            assert self.stands(slider) == pytest.approx(self.left_at[control]), (control, stands, now, said)
            self.page.wait_for_timeout(400)  # a pull is told while it lasts, and once more at its end
            left -= now

    def look_at(self, slider: str, close_up: str) -> None:
        """Take the phase of a slider in hand, and turn to a close-up."""
        phase = self.page.locator(slider).evaluate("part => part.closest('.eb-group[hidden]')?.dataset.group ?? ''")
        if phase:
            self.hand.press(self.page.locator(f"[data-phase='{phase}']").first)
        self.hand.press(self.page.locator(f".es-looks [data-look={close_up}]"))

    def put(self, close_up: str, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Take an end at a place of the picture and let it go at another."""
        self.hand.press(self.page.locator(f".es-looks [data-look={close_up}]"))
        self.page.locator(".es-view").evaluate(INTO_VIEW)
        before = self.said_number()
        (x, y), (to_x, to_y) = (self.page.evaluate(PLACE, list(place)) for place in (start, end))
        self.hand.drag((x, y), (to_x - x, to_y - y))
        self.page.wait_for_function(SAID_MORE, arg=before, timeout=10_000)

    def stands(self, slider: str) -> float:
        """The value of a slider."""
        return float(self.page.locator(slider).input_value())

    def said_number(self) -> str:
        """The number of the last thing that the bench said."""
        return self.page.locator(".eb-message").get_attribute("data-number")


class Mouse:
    """A hand with a mouse."""

    def __init__(self, page):
        self.page = page

    def press(self, part) -> None:
        """Click."""
        part.click()

    def drag(self, start, by) -> None:
        """Pull in steps of three pixels."""
        self.page.mouse.move(*start)
        self.page.mouse.down()
        for x, y in way(start, by):
            self.page.mouse.move(x, y)
        self.page.mouse.up()


class Finger:
    """A hand on the screen itself."""

    def __init__(self, page):
        self.page, self.wire = page, page.context.new_cdp_session(page)

    def press(self, part) -> None:
        """Tap."""
        part.tap()

    def drag(self, start, by) -> None:
        """Put a finger down, move it, lift it."""
        self._touch("touchStart", start)
        for place in way(start, by):
            self._touch("touchMove", place)
        self._touch("touchEnd")

    def _touch(self, kind: str, place=None) -> None:
        points = [{"x": place[0], "y": place[1]}] if place else []
        self.wire.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


def way(start, by) -> list[tuple[float, float]]:
    """Places three pixels apart, from a start to its end."""
    (x, y), (across, down) = start, by
    count = max(round(max(abs(across), abs(down)) / STEP_PIXELS), 1)
    return [(x + across * part / count, y + down * part / count) for part in range(1, count + 1)]


HANDS = {
    "mouse": (Mouse, {"viewport": SCREEN, **MOVING}),
    "touch": (Finger, {"viewport": {"width": 820, "height": 1180}, "has_touch": True}),
}


@pytest.fixture
def hooked_up(request, browser, plain):
    """A learner with one of the hands, at an engine that is safe and has its instruments; nothing runs yet."""
    hand, screen = HANDS[request.param]
    with browser.new_context(**screen) as context:
        page = context.new_page()
        plain.open(page)
        mechanic = HandMechanic(page, hand(page))
        for control, value in (("brake", "on"), ("chocks", "in place"), ("ventilation", "on"), ("fan_area", "clear")):
            mechanic.choose(control, value)
        mechanic.choose("gear", "park")
        mechanic.put("terminals", (52, 218), (238, 78))
        mechanic.put("hoses", (26, 186), (108, 208))
        mechanic.put("hoses", (290, 92), (356, 262))
        yield mechanic


@pytest.mark.parametrize("hooked_up", behind(1, HANDS), indirect=True)
def test_the_main_job_on_the_drawn_engine(hooked_up, plain):
    """Every criterion of the judge is met by a learner who works on the picture."""
    mechanic = hooked_up
    mechanic.press("[data-control=starter]")
    mechanic.page.wait_for_function("document.querySelector('.eb-state').textContent === 'Running'", timeout=30_000)
    assert "is warm" in mechanic.press("[data-control=wait_until_warm]")
    mechanic.press("[data-control=mark_body]")
    mechanic.choose("clamp", "loose")
    mechanic.climb()
    mechanic.trim()
    mechanic.turn("distributor", 4 * mechanic.advance, "0.25")
    mechanic.turn("distributor", -4 * mechanic.advance, "0.25")
    mechanic.back_off()
    mechanic.finish()
    exercise = load_rubric(LESSON).exercises[BENCH]
    ((_, result),) = exercise.judged_attempts(read_evidence(plain.lesson / "evidence.jsonl"), ENGINES)
    assert result.points == result.max_points, [one.sentence for one in result.criteria if one.points < one.max_points]


@pytest.mark.parametrize("hooked_up", ["touch"], indirect=True)
def test_a_finger_moves_what_is_drawn(hooked_up):
    """Hoses and clips are where it put them, and body and idle screw turn both ways under it."""
    settings = {"tachometer": "on", "gauge_hose": "manifold", "vacuum_hose": "off and plugged"}
    for control, value in settings.items():
        pressed = hooked_up.page.locator(f"[data-control={control}][data-value='{value}']")
        assert pressed.get_attribute("aria-pressed") == "true", control
    hooked_up.choose("clamp", "loose")
    for control, fine in (("distributor", "0.25"), ("idle_screw", "0.05")):
        hooked_up.turn(control, 10, fine)
        hooked_up.turn(control, -20, fine)
