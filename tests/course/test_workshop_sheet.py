"""The check sheet for a session at a real vehicle, as a page to print."""

from __future__ import annotations

from bs4 import BeautifulSoup

from course.commands import workshop_sheet


def test_the_sheet_has_every_line_of_the_guide(tmp_path):
    """Each line to be ticked stands in it once and whole, with a row for each reading; it needs no network."""
    guide = workshop_sheet.GUIDE.read_text(encoding="utf-8")
    page = workshop_sheet.write(tmp_path).read_text(encoding="utf-8")
    parts = BeautifulSoup(page, "html.parser")
    shown = [item.get_text() for item in parts.find_all("li")]
    assert shown == workshop_sheet.lines(guide) and len(shown) == guide.count("\n- [ ] ") > 10
    words = " ".join(guide.split())
    assert all(line in words for line in shown)
    assert len(parts.find_all("tr")) == 1 + len(workshop_sheet.READINGS)
    assert "{" not in parts.get_text() and "http" not in page and "<script" not in page


def test_lines_end_where_the_list_ends():
    """A line over two lines is one, the text behind the list and other lists are no part of it."""
    before, after = "- [ ] not this\n\n", "\nAfter.\n\n## Next\n\n- [ ] nor this\n"
    guide = f"{before}{workshop_sheet.HEADING}\n\n- [ ] one\n  line\n- [ ] two\n{after}"
    assert workshop_sheet.lines(guide) == ["one line", "two"]
