"""The table of a fault to find, alone in a page: what is offered, what was made, and the gauge as it was seen."""

from __future__ import annotations

import pytest

from course.widgets.forms.diagnosis import DiagnosisForm
from tests.browser.form_alone import alone

OFFERED = [
    {"id": "snap_and_hold", "title": "Watch the vacuum gauge", "minutes": 5},
    {"id": "hose_trace", "title": "Follow the hoses", "minutes": 3},
]
SEEN = [["at idle", 17.9, 18.1], ["on a snap", 2.0, 25.0]]
LINE = {**OFFERED[0], "text": "At idle the needle stands at 18.0 inHg.", "seen": SEEN}
GIVEN = {"offered": OFFERED, "budget": 45.0, "choices": [["valve", "A valve is burnt."], ["leak", "Air leaks in."]]}
TURNS = "all => all.map((one) => parseFloat(one.style.transform.replace('rotate(', '')))"


def made(form) -> list[str]:
    """The ids of the inspections that the table marks as made."""
    buttons = form.page.locator("tr[data-made=true]:has(.cf-made:not([hidden])) [data-inspection]")
    return buttons.evaluate_all("all => all.map((one) => one.dataset.inspection)")


def test_every_inspection_has_its_row_and_those_made_are_marked(browser):
    """A row for each with its minutes and a button, before and after; what was told stands in its row."""
    with alone(browser, DiagnosisForm, **GIVEN) as form:
        assert form.page.locator("tbody tr").count() == 2 and made(form) == []
        form.page.locator("[data-inspection=snap_and_hold]").click()
        assert form.sent() == [{"inspect": "snap_and_hold"}]
        form.tell(account=[LINE])
        assert made(form) == ["snap_and_hold"]
        assert LINE["text"] in form.page.locator("tr[data-made=true] .cf-told-by").inner_text()
        assert form.page.locator(".cf-account").inner_text() == "5 of 45 minutes used."
        form.tell(account=[LINE, LINE])
        assert form.page.locator("tr[data-made=true] .cf-cost").inner_text() == "2 × 5"
        form.tell(account=[])
        assert made(form) == [] and form.page.locator(".cf-gauges").count() == 0


def test_the_gauge_is_shown_as_it_was_seen(browser):
    """A dial for each time that it was watched: the needle where it stood, and a band where it moved."""
    with alone(browser, DiagnosisForm, account=[LINE], **GIVEN) as form:
        assert form.page.locator(".cf-gauges figcaption").all_inner_texts() == ["at idle", "on a snap"]
        idle, snap = form.page.locator(".cf-gauges .eb-needle").evaluate_all(TURNS)
        assert idle == pytest.approx(-135 + 18.0 / 30 * 270, abs=0.1)
        assert snap == pytest.approx(-135 + 13.5 / 30 * 270, abs=0.1)
        assert form.page.locator(".cf-swept").count() == 1


@pytest.mark.parametrize("width", [700, 410])
def test_nothing_runs_out_of_the_form(browser, width):
    """Neither the table nor a dial is wider than the page, and the numbers on the dials have 12 pixels or more."""
    with alone(browser, DiagnosisForm, width, account=[LINE], **GIVEN) as form:
        assert form.page.evaluate("document.documentElement.scrollWidth") == width
        sizes = form.page.locator(".cf-gauges .eb-face").first.evaluate(
            """face => [...face.querySelectorAll('text')].map((one) =>
            parseFloat(getComputedStyle(one).fontSize) * face.getBoundingClientRect().width / 200)"""
        )
        assert min(sizes) >= 12


def test_the_gauge_has_the_unit_that_was_chosen(browser):
    """In kilopascals the dial has that scale, and its needle stands where that scale says."""
    with alone(
        browser, DiagnosisForm, account=[LINE], chosen_units={"vacuum": "kPa", "temperature": "°C"}, **GIVEN
    ) as form:
        assert form.page.locator(".cf-gauges .eb-dial-unit").first.text_content() == "kPa"
        idle = form.page.locator(".cf-gauges .eb-needle").evaluate_all(TURNS)[0]
        assert idle == pytest.approx(-135 + 18.0 * 3.38639 / 100 * 270, abs=0.1)  # NIST SP 811: kPa for 1 inHg
        form.tell(chosen_units={"vacuum": "inHg", "temperature": "°C"})  # at another part of the page
        assert form.page.locator(".cf-gauges .eb-dial-unit").first.text_content() == "inHg"
