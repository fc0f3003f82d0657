"""The reference card in a browser: one page of paper."""

from __future__ import annotations

import re

from course.authoring import reference_card


def test_the_card_fits_on_one_page(browser):
    """Printed on A4, the card is one page."""
    page = browser.new_page()
    page.goto(reference_card.PAGE.as_uri())
    printed = page.pdf(prefer_css_page_size=True)
    page.close()
    assert len(re.findall(rb"/Type\s*/Page[^s]", printed)) == 1
