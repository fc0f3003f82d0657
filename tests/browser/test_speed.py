"""How long a learner waits: from a key to the needle that shows what came of it; and how many pictures a second follow
the pointer while the body is dragged. It prints; it never judges by the clock, since a machine that is busy with
something else cannot tell.

    python -m pytest -s -m benchmark tests/browser/test_speed.py
"""

from __future__ import annotations

import os

import pytest

from tests.browser.conftest import MOVING

PRESSES, ROUNDS = 40, 5
DRAGGED_MS = 3000
LEAST_PICTURES = 30  # a second, while dragging: what is aimed at, as 25 and 50 ms from a key to the needle

# The kernel sends settings and readings together; the needle answers when both have arrived and it has been given its
# new place, and an eye can see it with the next picture of the screen (sixty in a second).
WATCH = """() => {
  const bench = document.querySelector('.engine-bench');
  const needle = bench.querySelector('.eb-vacuum .eb-needle');
  const where = bench.querySelector('.eb-row-turn .eb-where');
  window.waits = [];
  window.seen = [];
  let pressed = null, turned = false, moved = false;
  bench.addEventListener('keydown', () => { pressed = performance.now(); turned = moved = false; }, true);
  const arrived = () => {
    if (pressed === null || !turned || !moved) return;
    const since = pressed;
    pressed = null;
    window.waits.push(performance.now() - since);
    requestAnimationFrame(() => window.seen.push(performance.now() - since));
  };
  new MutationObserver(() => { turned = true; arrived(); })
    .observe(where, {childList: true, subtree: true, characterData: true});
  new MutationObserver(() => { if (turned) moved = true; arrived(); }).observe(needle, {attributes: true});
}"""
# A pull to and fro within the page itself, a movement each picture, as a mouse on the screen has it: what is counted
# are the pictures in which the drawn body stands elsewhere than in the one before, and the gaps between them.
DRAG = """async (forMs) => {
  const body = document.querySelector('.es-view .es-body');
  const turning = body.parentNode;
  const {left, top, width, height} = body.getBoundingClientRect();
  const [x, y] = [left + 0.92 * width, top + 0.4 * height];
  const send = (type, down) => body.dispatchEvent(new PointerEvent(type, {
    bubbles: true, cancelable: true, pointerId: 1, isPrimary: true, buttons: 1, clientX: x, clientY: y + down}));
  body.setPointerCapture = () => {};
  send('pointerdown', 0);
  const began = performance.now(), followed = [];
  let stood = turning.getAttribute('transform');
  for (let now = began, picture = 0; now - began < forMs; picture += 1) {
    now = await new Promise((done) => requestAnimationFrame(done));
    const stands = turning.getAttribute('transform');
    if (stands !== stood) followed.push(now);
    stood = stands;
    const way = (0.4 * (now - began) + 200) % 800; // two steps of the body a picture, 17 degrees to either side
    send('pointermove', 200 - Math.abs(way - 400));
  }
  send('pointerup', 0);
  return followed.slice(1).map((now, index) => now - followed[index]);
}"""


def one_round(page, turns) -> tuple[list[float], list[float]]:
    """Turn to and fro; the waits [ms] for the needle and for the screen's picture of it, each shortest first."""
    page.evaluate("window.waits = []; window.seen = []")
    for press in range(PRESSES):
        turns[press % 2].focus()
        page.keyboard.press("Enter")
        page.wait_for_function(f"window.seen.length === {press + 1}", timeout=5000)
        page.wait_for_timeout(37)
    return sorted(page.evaluate("window.waits")), sorted(page.evaluate("window.seen"))


def in_short(waits: list[float]) -> str:
    """Median and the time within which 95 of 100 came."""
    return f"median {waits[len(waits) // 2]:.0f} ms, 95 of 100 within {waits[int(0.95 * len(waits))]:.0f} ms"


def busy() -> str:
    """What else the machine does, as far as it says."""
    return f"with {os.getloadavg()[0]:.1f} programs running on {os.cpu_count()} processors"


@pytest.mark.benchmark
def test_key_to_needle(lab, page, running_bench):
    """Print how long it takes from the key that turns the distributor to the needle of a running engine."""
    page.emulate_media(**MOVING)
    bench = running_bench(lab, page)
    page.evaluate(WATCH)
    turns = [bench.locator(f"[data-control=distributor][data-by='{by}']") for by in ("0.25", "-0.25")]
    for _ in range(ROUNDS):
        moved, seen = one_round(page, turns)
        assert len(moved) == len(seen) == PRESSES
        print(f"key to needle: {in_short(moved)}; on the screen: {in_short(seen)}; {busy()}")


@pytest.mark.benchmark
def test_the_body_follows_the_pointer(lab, page, running_bench):
    """Print how many pictures a second show the drawn body at a new place while it is dragged on a running engine."""
    page.emulate_media(**MOVING)
    running_bench(lab, page)
    page.locator(".es-looks").get_by_role("button", name="Distributor").click()
    page.locator(".es-view").scroll_into_view_if_needed()
    for _ in range(ROUNDS):
        gaps = sorted(page.evaluate(DRAG, DRAGGED_MS))
        assert len(gaps) > LEAST_PICTURES  # the body did follow
        print(f"dragging: {1000 * len(gaps) / sum(gaps):.0f} pictures a second; between two {in_short(gaps)}; {busy()}")
