"""The picture of a recorded curve on its pull, alone in a page."""

from __future__ import annotations

import pytest

from course.widgets.forms.curve import CurveForm
from tests.browser.form_alone import TEXTS, alone

AXES = {
    "rpm": [600, 3200], "degrees": [0, 50], "unit": "crank degrees", "rpm_step": 50, "degrees_step": 0.5,
    "fewest_points": 3, "most_points": 8,
}  # fmt: skip
CURVE = [[800, 4], [1500, 14], [2800, 20]]
PULL = {
    "rpm": [1100, 1200, 1300, 1400, 1500],
    "degrees": [8.0, 9.5, 11.0, 12.5, 14.0],
    "pings": [True, True, False, False, True],
    "lost_percent": [0.0, 0.0, 0.5, 2.4, 0.0],
}


def test_nothing_is_drawn_before_it_was_recorded(browser):
    """No hatching and no torque, until the program behind the page tells of a pull."""
    with alone(browser, CurveForm, axes=AXES, start=CURVE) as form:
        assert form.page.locator(".cf-pull").is_hidden() and not form.page.locator(".cf-pings").get_attribute("d")
        form.tell(pull=PULL)
        assert form.page.locator(".cf-pull").is_visible()


def test_where_it_pings_is_hatched_and_what_is_lost_is_drawn(browser):
    """One hatched piece for each stretch of ping, on the curve as it was recorded; a bar for each silent speed; both
    in words, too; a point that is moved afterwards moves neither."""
    with alone(browser, CurveForm, axes=AXES, start=CURVE, pull=PULL) as form:
        hatched = form.page.locator(".cf-pings").get_attribute("d")
        assert hatched.count("M") == 2
        assert form.page.locator(".cf-lost-bar").count() == 2 and form.page.locator(".cf-ping-sign").count() == 3
        heights = form.page.locator(".cf-lost-bar").evaluate_all(
            "all => all.map((one) => Number(one.getAttribute('height')))"
        )
        assert heights[1] / heights[0] > 4
        assert form.page.locator(".cf-pull-words").inner_text() == (
            "As recorded it pings from 1100 to 1200 rpm and at 1500 rpm (hatched). It loses most torque at 1400 rpm: "
            "2.4 % of what it could give without ping."
        )
        form.page.locator(".cf-handle").nth(1).focus()
        form.page.keyboard.press("ArrowDown")
        assert form.page.locator(".cf-pings").get_attribute("d") == hatched


def test_it_can_be_read_on_a_phone(browser):
    """At 390 pixels every letter of both pictures has 11.9 or more, and nothing runs out of the form."""
    with alone(browser, CurveForm, 390, axes=AXES, start=CURVE, pull=PULL) as form:
        for picture in form.page.locator(".cf-sheet, .cf-lost").all():
            texts = picture.evaluate(TEXTS)
            assert [one for one in texts if one["text"].strip() and one["size"] < 11.9 and len(one["text"]) > 1] == []
        assert form.page.evaluate("document.documentElement.scrollWidth") == 390
        rows = form.page.locator(".cf-point-row").evaluate_all("all => all.map((one) => one.clientHeight)")
        assert max(rows) < 50  # each point on one line


@pytest.mark.parametrize("width", [390, 500, 700])
def test_every_point_is_as_large_as_a_finger_needs(browser, width):
    """44 pixels at any width, and its number has 12."""
    with alone(browser, CurveForm, width, touch=True, axes=AXES, start=CURVE) as form:
        boxes = [one.bounding_box() for one in form.page.locator(".cf-handle-reach").all()]
        assert len(boxes) == len(CURVE) and min(box["width"] for box in boxes) >= 43.9
        marks = form.page.locator(".cf-sheet").evaluate(TEXTS)
        assert [one for one in marks if len(one["text"]) == 1 and one["size"] < 11.9] == []


def test_a_point_is_dragged_by_touch(browser):
    """A finger moves a point; the page does not scroll for it."""
    with alone(browser, CurveForm, 390, touch=True, axes=AXES, start=CURVE) as form:
        x, y = form.middle(".cf-handle-dot")
        touch = form.page.context.new_cdp_session(form.page)
        touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
        for part in (10, 20, 30, 40):
            touch.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x, "y": y - part}]})
        touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        moved = form.middle(".cf-handle-dot")
        assert abs(moved[1] - (y - 40)) < 3 and form.page.evaluate("scrollY") == 0
        fields = form.page.locator(".cf-point-field").evaluate_all("all => all.map((one) => Number(one.value))")
        assert fields[1] > CURVE[0][1] + 5
