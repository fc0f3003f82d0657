"""The helper by which one test goes through many cases: it can fail, names all that fail, and hides none."""

from __future__ import annotations

import pytest

from tests.every_case import check_every


def positive(number: float) -> None:
    """A check that fails by what it asserts or by an error."""
    assert number > 0, "not positive"
    assert 10 % number == 0
    with pytest.raises(ValueError, match="math domain"):
        raise ValueError("math domain" if number < 5 else "other")


def test_every_case_that_fails_is_named():
    """Cases that fail by assertion or by error are all named, those that hold are not."""
    with pytest.raises(AssertionError) as caught:
        check_every(positive, [("minus", -1.0), ("two", 2.0), ("three", 3.0), ("text", "x"), ("ten", 10.0)])
    said = str(caught.value)
    assert said.startswith("4 of 5 cases fail:\nminus (line ") and "two" not in said
    assert all(f"\n{name} (line " in said for name in ("three", "text", "ten"))
    assert "not positive" in said and "TypeError" in said


def test_an_error_that_does_not_come_is_a_failure():
    """A case in which `pytest.raises` waits in vain fails, and the next one is still checked."""

    def raises(wanted):
        with pytest.raises(ValueError):
            int("1" if wanted else "x")

    with pytest.raises(AssertionError, match=r"(?s)2 of 3 cases fail:\none .*\nthree .*DID NOT RAISE"):
        check_every(raises, [("one", True), ("two", False), ("three", True)])


def test_cases_that_hold_pass_and_none_at_all_do_not():
    """With nothing to complain of nothing is raised; a search that found no case proves nothing and fails."""
    check_every(positive, [("one", 1.0), ("two", 2.0)])
    with pytest.raises(AssertionError, match="no case"):
        check_every(positive, [])
