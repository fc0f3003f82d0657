"""How long a learner waits: from a key to the needle that shows what came of it. It prints; it never judges by the
clock, since a machine that is busy with something else cannot tell."""

from __future__ import annotations

import os

import pytest

PRESSES, ROUNDS = 40, 5

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
    return f"median {waits[PRESSES // 2]:.0f} ms, 95 of 100 within {waits[int(0.95 * PRESSES)]:.0f} ms"


@pytest.mark.benchmark
def test_key_to_needle(lab, page, running_bench):
    """Print how long it takes from the key that turns the distributor to the needle of a running engine."""
    bench = running_bench(lab, page)
    page.evaluate(WATCH)
    turns = [bench.locator(f"[data-control=distributor][data-by='{by}']") for by in ("0.25", "-0.25")]
    for _ in range(ROUNDS):
        moved, seen = one_round(page, turns)
        assert len(moved) == len(seen) == PRESSES
        print(
            f"key to needle: {in_short(moved)}; on the screen: {in_short(seen)}; "
            f"with {os.getloadavg()[0]:.1f} programs running on {os.cpu_count()} processors"
        )
