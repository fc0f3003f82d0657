"""What stands behind the pages of an owner's engines: the work that goes on while a page waits, and its sentences."""

from __future__ import annotations

import threading
import time

import pytest

from course.jupyter.plain_page import owner_pages
from course.jupyter.plain_page.owner_pages import KEPT_WORK, WorkBehind, owner_handlers
from course.owner import fields
from engine_sim import TimingCourseError
from engine_sim.owned.description import OwnedEngine, owned_from
from tests.course.worked_example import worked_example


@pytest.fixture
def behind(monkeypatch):
    """Work that goes on when it is let, and says what it does."""
    go_on = threading.Event()

    def work(engine, progress):
        progress("An engine is drawn …")
        go_on.wait(10)
        if engine.identity.title == "ours":
            raise ZeroDivisionError("by nought")
        if engine.identity.title == "theirs":
            raise TimingCourseError("No such engine.")
        return worked_example()

    monkeypatch.setattr(owner_pages, "work_out", work)
    found = WorkBehind()
    found.go_on = go_on
    return found


def settled(behind, engine) -> None:
    """Let the work go on and wait for it."""
    behind.go_on.set()
    until = time.monotonic() + 10
    while behind.found(engine) is None and not behind.problem(engine):
        assert time.monotonic() < until
        time.sleep(0.01)


def titled(title: str) -> OwnedEngine:
    """An engine of that title."""
    return owned_from({"identity": {"title": title}})


def test_work_goes_on_behind_the_page_and_is_kept(behind):
    """A page asks how far it is, and gets what came of it; the same description is not worked out again."""
    assert behind.found(titled("a")) is None
    until = time.monotonic() + 10
    while not behind.said(titled("a")):
        assert time.monotonic() < until
        time.sleep(0.01)
    assert behind.said(titled("a")) == "An engine is drawn …" and behind.problem(titled("a")) == ""
    settled(behind, titled("a"))
    assert behind.found(titled("a")) is behind.found(titled("a"))


def test_a_fault_of_ours_is_not_the_descriptions(behind):
    """A refusal has its own sentence; anything else is said to be the program's fault."""
    for title, said in (("theirs", "No such engine."), ("ours", "That is the program's fault")):
        settled(behind, titled(title))
        assert said in behind.problem(titled(title)) and behind.found(titled(title)) is None


def test_no_more_is_kept_than_is_wanted(behind):
    """The oldest goes; it is worked out again when it is asked for."""
    behind.go_on.set()
    for number in range(KEPT_WORK + 3):
        settled(behind, titled(str(number)))
    assert len(behind._begun) == KEPT_WORK


def test_counts_and_names_are_those_of_the_form():
    """Units are not counted; a cell of a table has its table's name; every address is the server's own."""
    shown = {"build.bore_mm": "80", "build.bore_mm@unit": "mm", "build.stroke_mm": "", "readings.sweep.0.rpm": "600"}
    assert [owner_pages._filled(group, shown) for group in (fields.BUILD, fields.SWEEP, fields.PLACE)] == [1, 1, 0]
    assert owner_pages._name_of("readings.sweep.0.rpm") == "Halts of the sweep, row 1"
    assert owner_pages._name_of("") == "The file"
    assert all(address.startswith("/base/my-engine") for address, *_rest in owner_handlers("/base/", {}))
