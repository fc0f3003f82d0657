"""One test over many small cases: every case that fails is named, and none hides another."""

from __future__ import annotations

import traceback
from collections.abc import Callable, Iterable
from typing import Any

import pytest


def check_every(check: Callable[..., Any], cases: Iterable[tuple]) -> None:
    """Put every case to `check`: its name, then what `check` takes. One failure names all cases that failed, with the
    line of the check and what it said."""
    failed, count = [], 0
    for name, *case in cases:
        count += 1
        try:
            check(*case)
        except (Exception, pytest.fail.Exception) as error:
            frames = traceback.extract_tb(error.__traceback__)
            line = frames[min(1, len(frames) - 1)].lineno
            failed.append(f"{name} (line {line}): {type(error).__name__}: {error}")
    assert count, "there is no case to check"
    assert not failed, f"{len(failed)} of {count} cases fail:\n" + "\n".join(failed)
