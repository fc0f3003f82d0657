"""The engine card alone in a page: its groups, what is wrong at its field, the sheet to open and print."""

from __future__ import annotations

import pytest

from course.widgets.forms.engine_card import EngineCardForm
from graders.exercises.kinds.own_engine import ENTRIES, GROUPS
from tests.browser.form_alone import alone

ENTRIES_SHOWN = EngineCardForm().entries
WRONG = {"bore": "Bore: A number is wanted and 'abc' was found.", "stroke": "Stroke lies between 35 and 160 mm."}


def test_the_entries_stand_in_their_groups(browser):
    """Each group is a named field set, with all of its entries."""
    with alone(browser, EngineCardForm, entries=ENTRIES_SHOWN) as form:
        groups = {
            one.locator("legend").inner_text(): one.locator("[data-entry]").count()
            for one in form.page.locator("fieldset").all()
        }
    assert groups == {group: sum(entry.group == group for entry in ENTRIES.values()) for group in GROUPS}


def test_what_is_wrong_stands_at_its_field(browser):
    """The sentence is at the entry and belongs to its field, the first has the focus, and writing clears it."""
    with alone(browser, EngineCardForm, entries=ENTRIES_SHOWN) as form:
        form.tell(wrong=WRONG)
        for name, sentence in WRONG.items():
            field = form.page.locator(f"[data-entry={name}] input")
            assert field.get_attribute("aria-invalid") == "true"
            described = field.get_attribute("aria-describedby").split()[-1]
            assert form.page.locator(f"#{described}").inner_text() == sentence
        assert form.page.evaluate("document.activeElement.closest('[data-entry]').dataset.entry") == "bore"
        form.page.locator("[data-entry=bore] input").fill("90")
        assert form.page.locator("[aria-invalid=true]").count() == 1
        form.tell(wrong={})
        assert form.page.locator("[aria-invalid=true]").count() == 0


def test_the_sheet_is_opened_and_printed(browser):
    """One press opens the page in a tab of its own and asks the browser to print it; without a sheet no button is
    there."""
    with alone(browser, EngineCardForm, entries=ENTRIES_SHOWN) as form:
        press = form.page.locator(".cf-print")
        assert press.is_hidden()
        form.page.context.add_init_script("window.print = () => { document.title = 'printed'; }")
        form.tell(sheet="your_engine.html", page="<!DOCTYPE html><title>sheet</title><h1>Your engine</h1>")
        with form.page.expect_popup() as opened:
            press.click()
        opened.value.wait_for_function("document.title === 'printed'")
        assert opened.value.locator("h1").inner_text() == "Your engine"


@pytest.mark.parametrize(("units", "bore", "vacuum"), [("inHg", "in", "inHg"), ("kPa", "mm", "kPa")])
def test_an_empty_entry_begins_with_the_units_that_were_chosen(browser, units, bore, vacuum):
    """In both systems; what was recorded keeps its own unit."""
    chosen = {"vacuum": units, "temperature": "°C"}
    recorded = {"value": {"stroke": [3.75, "in"]}}
    with alone(browser, EngineCardForm, entries=ENTRIES_SHOWN, answer=recorded, chosen_units=chosen) as form:
        unit = {
            name: form.page.locator(f"[data-entry={name}] select").input_value()
            for name in ("bore", "stroke", "read_vacuum")
        }
    assert unit == {"bore": bore, "stroke": "in", "read_vacuum": vacuum}


def test_units_chosen_elsewhere_change_empty_entries_alone(browser):
    """Another widget's choice reaches the card while it is shown; what was written keeps its unit."""
    with alone(browser, EngineCardForm, entries=ENTRIES_SHOWN) as form:
        form.page.locator("[data-entry=stroke] input").fill("3.75")
        form.tell(chosen_units={"vacuum": "kPa", "temperature": "°C"})
        bore, stroke = (form.page.locator(f"[data-entry={one}] select").input_value() for one in ("bore", "stroke"))
    assert (bore, stroke) == ("mm", "in")


@pytest.mark.parametrize("width", [860, 390])
def test_number_and_unit_stand_on_one_line(browser, width):
    """On a phone, too, and nothing runs out of the form."""
    with alone(browser, EngineCardForm, width, entries=ENTRIES_SHOWN) as form:
        heights = form.page.locator(".cf-entry-value").evaluate_all("all => all.map((one) => one.clientHeight)")
        assert max(heights) < 48
        assert form.page.evaluate("document.documentElement.scrollWidth") == width
