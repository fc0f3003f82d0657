"""How long a learner waits: from a key to the needle that shows what came of it."""

from __future__ import annotations

import os

import pytest

KEY_TO_NEEDLE_MS = 50.0
PRESSES, ROUNDS = 40, 5

# The kernel sends settings and readings together; the wait ends with the picture of the screen that is drawn
# after both have arrived and the needle has been given its new place.
WATCH = """() => {
  const bench = document.querySelector('.engine-bench');
  const needle = bench.querySelector('.eb-vacuum .eb-needle');
  const where = bench.querySelector('.eb-row-turn .eb-where');
  window.waits = [];
  let pressed = null, turned = false, moved = false;
  bench.addEventListener('keydown', () => { pressed = performance.now(); turned = moved = false; }, true);
  const arrived = () => {
    if (pressed === null || !turned || !moved) return;
    const since = pressed;
    pressed = null;
    requestAnimationFrame(() => window.waits.push(performance.now() - since));
  };
  new MutationObserver(() => { turned = true; arrived(); })
    .observe(where, {childList: true, subtree: true, characterData: true});
  new MutationObserver(() => { if (turned) moved = true; arrived(); }).observe(needle, {attributes: true});
}"""


def one_round(page, turns) -> float:
    """Turn to and fro, and return the wait [ms] that 95 of 100 presses keep."""
    page.evaluate("window.waits = []")
    for press in range(PRESSES):
        turns[press % 2].focus()
        page.keyboard.press("Enter")
        page.wait_for_function(f"window.waits.length === {press + 1}", timeout=5000)
        page.wait_for_timeout(37)
    waits = sorted(page.evaluate("window.waits"))
    late = waits[int(0.95 * len(waits))]
    print(f"key to needle: median {waits[len(waits) // 2]:.0f} ms, 95 of 100 within {late:.0f} ms")
    return late


def test_key_to_needle(lab, page, running_bench):
    """From the key that turns the distributor to the needle of a running engine: 50 ms, 95 times in 100.

    The best of a few rounds counts, and a machine whose processors are all taken by other work cannot tell.
    """
    bench = running_bench(lab, page)
    page.evaluate(WATCH)
    turns = [bench.locator(f"[data-control=distributor][data-by='{by}']") for by in ("0.25", "-0.25")]
    fastest = float("inf")
    for _ in range(ROUNDS):
        fastest = min(fastest, one_round(page, turns))
        if fastest <= KEY_TO_NEEDLE_MS:
            return
    busy, processors = os.getloadavg()[0], os.cpu_count()
    if busy > processors + 0.5:
        pytest.skip(f"{busy:.1f} programs wanted the {processors} processors: too busy to tell ({fastest:.0f} ms)")
    assert fastest <= KEY_TO_NEEDLE_MS
