"""The table of what reads foreign files names functions that there are, and counts their lines alone."""

from __future__ import annotations

import pytest

from tests.fuzz.__main__ import READERS, ROOT, lines_of


def test_every_reader_of_the_table_is_there():
    """Each names lines; a function that was renamed is noticed."""
    for modules in READERS.values():
        assert all(lines_of(ROOT / path, names) for path, names in modules.items())
    with pytest.raises(AssertionError, match="has no read_what"):
        lines_of(ROOT / "engine_sim/model/card.py", ("read_what",))


def test_lines_of_bodies_alone_are_counted(tmp_path):
    """Not headings, texts at the beginning or other functions; the methods of a class are among its lines."""
    path = tmp_path / "x.py"
    path.write_text(
        'def f(a):\n    """T."""\n    return a\n\n\nclass C:\n    x = 1\n\n    def g(self):\n        return 2\n'
    )
    assert lines_of(path, ("f",)) == {3} and lines_of(path, ("C",)) == {10} and lines_of(path, ()) == {3, 10}
