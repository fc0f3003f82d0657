"""The hook-up form alone: hoses are dragged by mouse and by touch, and nothing of its picture overlaps."""

from __future__ import annotations

import pytest

from course.widgets.forms.hook_up import HookUpForm
from graders.exercises.kinds.hook_up import PORTS, STARTS
from tests.browser.form_alone import TEXTS, alone, overlapping

HOSES = [{"id": name, "label": f"from the {words}", "start": name} for name, words in STARTS.items()]
EVERYTHING = {"hoses": HOSES, "ports": [[name, words] for name, words in PORTS.items() if name != "canister"]}
WIDTHS = (700, 410)
BOXES = """(form, selector) => [...form.querySelectorAll(selector)].map((one) => {
    const {left, top, right, bottom} = one.getBoundingClientRect();
    return [one.parentNode.dataset.port ?? one.parentNode.dataset.hose, [left, top, right, bottom]]; })"""
CONNECTED = "Object.fromEntries([...document.querySelectorAll('.cf-hose-row')].map((row) =>\
 [row.dataset.hose, row.querySelector('select').value]))"


def grip(hose: str) -> str:
    return f".cf-badge[data-hose={hose}]"


def ring(port: str) -> str:
    return f"[data-port={port}] .cf-fitting-ring"


def drag(form, hose: str, to: tuple[float, float]) -> None:
    """Pull the end of a hose to a place on the page, in pieces."""
    form.page.mouse.move(*form.middle(grip(hose)))
    form.page.mouse.down()
    form.page.mouse.move(*to, steps=8)
    form.page.mouse.up()


@pytest.mark.parametrize("width", WIDTHS)
def test_hoses_are_dragged_to_their_fittings(browser, width):
    """Each end goes where it is let go, the lists follow, and an end let go beside every fitting is not connected."""
    wanted = {"gauge": "manifold", "canister": "ported", "booster": "second_manifold"}
    with alone(browser, HookUpForm, width, **EVERYTHING) as form:
        for hose, port in wanted.items():
            drag(form, hose, form.middle(ring(port)))
        assert form.page.evaluate(CONNECTED) == wanted
        form.page.locator(".cf-press").click()
        assert form.answers() == [wanted]
        x, y = form.middle(grip("gauge"))
        drag(form, "gauge", (x, y + 60))
        assert form.page.evaluate(CONNECTED) == {**wanted, "gauge": ""}
        assert "not connected" in form.page.locator(".cf-hoses [role=status]").inner_text()


def test_an_end_follows_the_pointer(browser):
    """While it is held the end lies under the pointer, and the hose ends there."""
    with alone(browser, HookUpForm, **EVERYTHING) as form:
        x, y = form.middle(grip("gauge"))
        form.page.mouse.move(x, y)
        form.page.mouse.down()
        form.page.mouse.move(x + 120, y + 30, steps=4)
        at = form.middle(grip("gauge"))
        form.page.mouse.up()
        assert at == pytest.approx((x + 120, y + 30), abs=1.5)


def test_hoses_are_dragged_by_touch(browser):
    """A finger pulls an end to a plug; the page does not scroll for it."""
    with alone(browser, HookUpForm, 410, touch=True, **EVERYTHING) as form:
        (x, y), (to_x, to_y) = form.middle(grip("canister")), form.middle(ring("plug"))
        touch = form.page.context.new_cdp_session(form.page)
        touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
        for share in (0.25, 0.5, 0.75, 1.0):
            point = {"x": x + share * (to_x - x), "y": y + share * (to_y - y)}
            touch.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [point]})
        touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        assert form.page.evaluate(CONNECTED)["canister"] == "plug"
        assert form.page.evaluate("scrollY") == 0


def test_a_second_hose_on_a_fitting_is_put_beside_the_first(browser):
    """Two hoses on one fitting can both be seen and taken off again."""
    with alone(browser, HookUpForm, **EVERYTHING) as form:
        for hose in ("gauge", "booster"):
            form.page.locator(f".cf-hose-row[data-hose={hose}] select").select_option("manifold")
        assert overlapping(form.page.locator(".course-form").evaluate(BOXES, ".cf-badge-disc")) == []
        drag(form, "gauge", form.middle(ring("ported")))
        assert form.page.evaluate(CONNECTED) == {"gauge": "ported", "canister": "", "booster": "manifold"}


@pytest.mark.parametrize("width", [*WIDTHS, 345])
def test_nothing_of_the_picture_overlaps(browser, width):
    """Names, fittings and the ends of loose hoses: none lies on another, all are in the picture, all can be read, and
    what is held is as large as a finger needs."""
    with alone(browser, HookUpForm, width, **EVERYTHING) as form:
        whole = form.page.locator(".course-form")
        edge = form.page.locator(".cf-picture").bounding_box()
        texts = form.page.locator(".cf-picture").evaluate(TEXTS)
        names = [(one["text"], one["box"]) for one in texts if len(one["text"]) > 1]
        discs = whole.evaluate(BOXES, ".cf-badge-disc, .cf-fitting-ring")
        assert overlapping([*names, *discs]) == []
        assert [one["text"] for one in texts if one["size"] < 12] == []
        for _name, (left, top, right, bottom) in [*names, *discs]:
            assert edge["x"] <= left and right <= edge["x"] + edge["width"]
            assert edge["y"] <= top and bottom <= edge["y"] + edge["height"]
        handles = whole.evaluate(BOXES, ".cf-badge-reach, .cf-fitting-reach")
        assert min(right - left for _name, (left, _top, right, _bottom) in handles) >= 44
        assert overlapping(handles) == []
