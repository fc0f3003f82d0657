"""Lesson l04 from its first cell to its checked result by keys alone, guided by the words on the page."""

from __future__ import annotations

import re

import pytest

from tests.browser.bench_hands import PHASE_OF
from tests.browser.by_keys import KeyboardLearner

FLAT_WITHIN_INHG = 0.12  # readings so close to the best are one flat top to the eye
EXPLANATION = "The weights add lead as the engine speeds up, so the peak at idle is too early on a hill."
READ = re.compile(r"Read: ([\d.]+) inHg.*?; (\d+) rpm")
SAID_MORE = "before => document.querySelector('.eb-message').dataset.number !== before"
HAS_READ = "document.querySelector('.eb-message').textContent.includes('Read: ')"
RUNNING = "document.querySelector('.eb-state').textContent === 'Running'"
GIVEN = "form => document.querySelector(form + ' .cf-result').textContent !== ''"
CHECKED = "form => document.querySelector(form + ' .cf-said').textContent.startsWith('Checked')"
RECORDED = "form => document.querySelector(form + ' .cf-said').matches(':not(:empty, [data-kind=\"under way\"])')"


class BenchLearner(KeyboardLearner):
    """A learner who has no pointer, at a bench."""

    def go_to(self, selector: str) -> None:
        """Move the focus to a part, whose phase of the work is taken in hand first."""
        phase = self.page.evaluate(PHASE_OF, selector)
        if phase:
            self.press_on(f"[data-phase='{phase}']")
        super().go_to(selector)

    def press(self, selector: str, times: int = 1) -> str:
        """Press a button of the bench and return what the bench says."""
        self.go_to(selector)
        for _ in range(times):
            before = self.page.locator(".eb-message").get_attribute("data-number")
            self.page.keyboard.press("Enter")
            self.page.wait_for_function(SAID_MORE, arg=before, timeout=60_000)
        return self.page.locator(".eb-message").inner_text()

    def choose(self, control: str, value: str) -> None:
        """Set one control of the bench."""
        said = self.press(f"[data-control={control}][data-value='{value}']")
        assert "Stopped" not in said and "Not possible" not in said, said

    def turn(self, control: str, steps: int, fine: str) -> None:
        """Turn a control by fine steps, the sign giving the way."""
        if steps:
            sign = "-" if steps < 0 else ""
            self.press(f"[data-control={control}][data-by='{sign}{fine}']", abs(steps))

    def look(self, times: int = 3) -> tuple[float, float]:
        """Let the needles settle and read them some times: vacuum [inHg] and speed [rpm]."""
        self.press("[data-control=wait]")
        read = []
        for _ in range(times):
            self.press("[data-control=read_gauges]")
            self.page.wait_for_function(HAS_READ)  # what was done just before may be told late
            said = self.page.locator(".eb-message").inner_text()
            read.append([float(number) for number in READ.search(said).groups()])
        vacuum, speed = (sum(column) / times for column in zip(*read, strict=True))
        return vacuum, speed


class Mechanic(BenchLearner):
    """The method, carried out by keys."""

    def __init__(self, page):
        super().__init__(page)
        names, values = (page.locator(f".eb-plate {part}").all_text_contents() for part in ("dt", "dd"))
        plate = dict(zip(names, values, strict=True))
        self.idle_rpm = float(re.match(r"\d+", plate["Idle speed"])[0])
        self.drop_rpm = float(re.match(r"\d+", plate["Speed drop"])[0])
        # Advance is against the rotor.
        self.advance = -1 if plate["Rotor turns"].startswith("clockwise") else 1

    def prepare(self, made_ready) -> None:
        """Make safe, hook up, start, warm up, loosen the clamp."""
        for control, value in made_ready:
            self.choose(control, value)
        self.press("[data-control=starter]")
        self.page.wait_for_function(RUNNING, timeout=30_000)
        assert "is warm" in self.press("[data-control=wait_until_warm]")
        self.choose("clamp", "loose")

    def climb(self) -> None:
        """Turn towards advance, four degrees at a time, until the vacuum stays or falls; come back to the middle of
        the top, as the page says."""
        seen = [self.look()[0]]
        while len(seen) < 3 or max(seen[-2:]) > max(seen[:-2]) + 0.05:
            self.turn("distributor", 2 * self.advance, "2")
            seen.append(self.look()[0])
        top = [step for step, vacuum in enumerate(seen) if vacuum > max(seen) - FLAT_WITHIN_INHG]
        back_deg = 4.0 * (len(seen) - 1) - 2.0 * (top[0] + top[-1])
        whole, rest = divmod(back_deg, 2.0)
        self.turn("distributor", -self.advance * int(whole), "2")
        self.turn("distributor", -self.advance * round(rest / 0.25), "0.25")

    def trim(self) -> None:
        """Bring the idle to the nameplate's speed with the screw: a twentieth of a turn is about ten rpm."""
        for _ in range(15):
            off = self.idle_rpm - self.look()[1]
            if abs(off) <= 8.0:
                return
            self.turn("idle_screw", round(off / 10.0) or (1 if off > 0 else -1), "0.05")
        raise AssertionError("the idle could not be brought to the nameplate's speed")

    def back_off(self) -> None:
        """Retard until the speed has fallen by the nameplate's drop: two thirds of the way that is left at each turn,
        by how far it fell with the turn before."""
        off, quarters = self.drop_rpm, 4
        wanted = self.look(5)[1] - off
        for _ in range(60):
            self.retard(quarters)
            before, off = off, self.look()[1] - wanted
            if off <= 3.0:
                return
            fell_rpm = max((before - off) / quarters, 1.5)
            quarters = min(max(int(off / fell_rpm / 1.5), 1), 8)
        raise AssertionError("the speed did not fall")

    def retard(self, quarters: int) -> None:
        """Turn the distributor towards retard by quarters of a degree."""
        self.turn("distributor", -self.advance * quarters, "0.25")

    def finish(self) -> None:
        """Tighten, read again, reconnect, set the idle, and drive until there is no ping."""
        self.choose("clamp", "tight")
        self.press("[data-control=read_gauges]")
        self.choose("vacuum_hose", "on")
        self.trim()
        for _ in range(8):
            if not self.drive_pings():
                return
            self.choose("clamp", "loose")
            self.retard(2)
            self.choose("clamp", "tight")
            self.press("[data-control=read_gauges]")
        raise AssertionError("the ping did not go away")

    def drive_pings(self) -> bool:
        """One road check; whether more than a trace of ping was heard."""
        self.switch_off()
        self.choose("chocks", "away")
        self.choose("driver", "everyone clear, foot on the brake")
        self.press("[data-control=starter]")
        self.page.wait_for_function(RUNNING, timeout=30_000)
        self.press("[data-control=road_check]")
        self.press("[data-control=wait]", 5)
        record = self.page.locator(".eb-record li").all_inner_texts()
        heard = [text for text in record if "Back from the road" in text]
        self.switch_off()
        self.choose("driver", "not seated")
        self.choose("chocks", "in place")
        return "clear ping" in heard[-1] or "heavy ping" in heard[-1]

    def switch_off(self) -> None:
        """Engine off, and a moment until it stands."""
        self.press("[data-control=stop]")
        self.press("[data-control=wait]")


def result_of(learner: KeyboardLearner) -> str:
    """Have the work at the bench looked over by keys; return what the judge says."""
    form = ".engine-bench[data-exercise=l04_set_base_timing] .eb-verdict"
    learner.go_to(f"{form} .cf-press")
    learner.page.keyboard.press("Enter")
    learner.page.wait_for_function(CHECKED, arg=form, timeout=120_000)
    return learner.page.locator(f"{form} .cf-result").inner_text()


def verdict_on(page, exercise: str) -> str:
    """What the card of an exercise says of the answer that was just recorded in it."""
    form = f".course-form[data-exercise={exercise}]"
    page.wait_for_function(GIVEN, arg=form, timeout=60_000)
    return page.locator(f"{form} .cf-result").inner_text()


def answer_choice(learner: KeyboardLearner, exercise: str, value: str) -> None:
    """Choose one answer with the arrow keys and record it."""
    form, keys = f".cf-choice[data-exercise={exercise}]", learner.page.keyboard
    learner.go_to(f"{form} input[type=radio]")
    keys.press("Space")
    for _ in range(10):
        if learner.page.evaluate("document.activeElement.value") == value:
            break
        keys.press("ArrowDown")
    record(learner, form)


def answer_number(learner: KeyboardLearner, exercise: str, number: str, unit: str) -> None:
    """Type a number, choose its unit with the arrow keys and record it."""
    form, keys = f".cf-number[data-exercise={exercise}]", learner.page.keyboard
    learner.go_to(f"{form} input")
    keys.type(number)
    learner.go_to(f"{form} select")
    for _ in range(10):
        if learner.page.evaluate("document.activeElement.value") == unit:
            break
        keys.press("ArrowDown")
    record(learner, form)


def record(learner: KeyboardLearner, form: str) -> None:
    """Press a form's button and wait for its word."""
    learner.go_to(f"{form} .cf-press")
    learner.page.keyboard.press("Enter")
    learner.page.wait_for_function(RECORDED, arg=form)


def run_all_by_keys(page) -> None:
    """Walk through the notebook from its first cell, running each cell."""
    cells = page.evaluate("window.jupyterapp.shell.currentWidget.content.widgets.length")
    for _ in range(cells - 1):
        page.keyboard.press("Shift+Enter")
    page.keyboard.press("Control+Enter")
    page.wait_for_selector(".engine-bench", state="attached", timeout=180_000)
    page.wait_for_selector(".cf-written", state="attached", timeout=60_000)


@pytest.fixture(scope="module")
def lesson_run(lab_of_module, desk_of_module):
    """The lesson, opened and run by keys; what one test does leaves the other's exercises alone."""
    lab_of_module.open(desk_of_module)
    run_all_by_keys(desk_of_module)
    return desk_of_module


def test_the_whole_lesson_by_keyboard(lesson_run, notebook):
    """From the first cell to the checked result without a pointer: every step of the method is met."""
    mechanic = Mechanic(lesson_run)
    mechanic.prepare(notebook.made_ready)
    mechanic.climb()
    mechanic.trim()
    mechanic.turn("distributor", 4 * mechanic.advance, "0.25")
    mechanic.turn("distributor", -4 * mechanic.advance, "0.25")
    mechanic.back_off()
    mechanic.finish()
    found = result_of(mechanic)
    assert ": met" in found and not re.search(": (not yet|missing|could not be judged)", found), found


def test_the_questions_by_keyboard(lesson_run):
    """Every question can be answered, recorded and checked without a pointer."""
    learner = KeyboardLearner(lesson_run)
    answer_choice(learner, "l04_why_back_off", "adds_up")
    assert ": met" in verdict_on(lesson_run, "l04_why_back_off")
    answer_number(learner, "l04_distributor_degrees", "3,0", "distributor degrees")
    assert ": met" in verdict_on(lesson_run, "l04_distributor_degrees")
    answer_number(learner, "l04_altitude_vacuum", "15.8", "inHg")
    assert ": met" in verdict_on(lesson_run, "l04_altitude_vacuum")
    learner.go_to(".cf-written textarea")
    lesson_run.keyboard.type(EXPLANATION)
    record(learner, ".cf-written[data-exercise=l04_explain]")
    assert lesson_run.locator(".cf-written .cf-said").inner_text() == "Saved."
