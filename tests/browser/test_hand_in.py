"""The button that makes the file to hand in, in a real notebook: by keyboard, saved, and heard by screen readers."""

from __future__ import annotations

import zipfile

from engine_sim import read_evidence
from tests.browser.axe import violations

BUTTON = ".cf-hand-in"


def test_the_file_is_made_by_keyboard_and_saved_by_the_browser(lab, desk, notebook):
    """What is missing is listed, a second press makes the file, and the copy that the browser saves is the same."""
    notebook.write(
        lab.lesson / "hand.ipynb",
        "from course.widgets import choice, hand_in",
        'choice("l04_why_back_off")',
        "hand_in()",
    )
    (lab.lesson / f"{lab.lesson.name}.ipynb").write_text("{}", encoding="utf-8")
    lab.open(desk, "hand.ipynb")
    notebook.run_all(desk, BUTTON)
    desk.locator(f"{BUTTON} button").first.focus()
    desk.keyboard.press("Enter")
    desk.wait_for_selector(f"{BUTTON} li >> text=was not begun")
    assert not (lab.lesson.parent / "hand-in").exists()
    desk.keyboard.press("Tab")
    desk.keyboard.press("Enter")
    desk.wait_for_function("() => document.querySelector('.cf-hand-in .cf-said').textContent.includes('is made')")
    (made,) = (lab.lesson.parent / "hand-in").glob("*.zip")
    assert made.name in desk.locator(f"{BUTTON} .cf-said").inner_text()
    with desk.expect_download() as download:
        desk.locator(f"{BUTTON} button", has_text="Save a copy").press("Enter")
    assert download.value.suggested_filename == made.name
    saved = lab.lesson / "saved.zip"
    download.value.save_as(saved)
    assert saved.read_bytes() == made.read_bytes()
    with zipfile.ZipFile(saved) as archive:
        assert "evidence.jsonl" in archive.namelist()
    assert read_evidence(lab.lesson / "evidence.jsonl").header.lesson == lab.lesson.name
    assert violations(desk, BUTTON) == []
