"""Takes the pictures of the README anew: `python -m pytest -m pictures tests/browser`."""

from __future__ import annotations

import pytest

import course

PICTURES = course.HERE / "pictures"
SIZE = {"width": 1280, "height": 1400}
LARGEST_BYTES = 300_000


@pytest.mark.pictures
def test_take_the_picture_of_the_bench(lab, page, running_bench):
    """A warm engine on its way to the highest vacuum, as the README shows it."""
    page.set_viewport_size(SIZE)
    bench = running_bench(lab, page)
    bench.locator("[data-control=wait_until_warm]").click()
    page.wait_for_function("document.querySelector('.engine-bench').textContent.includes('The engine is warm')",
                           timeout=60_000)
    against_rotor = "-2" if "clockwise, seen" in bench.inner_text().replace("anticlockwise", "") else "2"
    for _ in range(6):
        bench.locator(f"[data-control=distributor][data-by='{against_rotor}']").click()
        page.wait_for_timeout(3500)
    bench.locator("[data-control=read_gauges]").click()
    page.wait_for_timeout(1000)
    path = PICTURES / "bench.png"
    bench.screenshot(path=path)
    assert path.stat().st_size < LARGEST_BYTES
