"""What the tests leave out of axe's work is what it cannot judge; the rest it finds."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.axe import violations

DRAWING = """<main style="background: #fff"><svg width="300" height="60" role="img" aria-label="A drawing">
<text x="10" y="30" fill="#bbbbbb" style="color: #bbbbbb">Hard to read</text></svg>"""
PALE = '<p id="pale" style="color: #bbbbbb">Hard, too</p>'


@pytest.fixture
def drawing(browser):
    """A page with letters in a drawing that are hard to read."""
    page = browser.new_page()
    page.set_content(f"{DRAWING}</main>")
    yield page
    page.close()


def test_axe_judges_no_letters_of_a_drawing(drawing):
    """When it does, they need no longer be left out."""
    found = Axe().run(drawing, options={"runOnly": ["color-contrast"]}).response
    assert found["violations"] == [] and [one["id"] for one in found["incomplete"]] == ["color-contrast"]


def test_letters_beside_a_drawing_are_judged(drawing):
    """On the whole page, within a part of it, and by that rule alone; a drawing without a name is found, too."""
    drawing.set_content(f"{DRAWING}{PALE}<svg role='img' width='9' height='9'></svg></main>")
    for lines in (violations(drawing), violations(drawing, "main"), violations(drawing, rules=("color-contrast",))):
        assert [line.partition(":")[0] for line in lines if "#pale" in line] == ["color-contrast"]
    assert any(line.startswith("svg-img-alt") for line in violations(drawing))
