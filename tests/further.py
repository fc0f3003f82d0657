"""Further cases of a rule of which the whole run looks at some of each kind: more engines, more learners, another hand.

They have a mark of their own, which `python3 -m tests long` and `.ci/run` name where a change concerns them.
"""

from __future__ import annotations

from collections.abc import Iterable

import pytest


def behind(few: int, cases: Iterable) -> list:
    """The cases, of which those behind the first few are further ones; a tuple is a case of several arguments."""
    return [
        pytest.param(*(case if isinstance(case, tuple) else (case,)), marks=[pytest.mark.further] * (place >= few))
        for place, case in enumerate(cases)
    ]


def on_one_each(cases: Iterable, kinds: Iterable) -> list:
    """Every case with every kind, of which the first of each case, in turn, is for every run."""
    kinds = list(kinds)
    return [
        pytest.param(case, kind, marks=[pytest.mark.further] * (kind != kinds[place % len(kinds)]))
        for place, case in enumerate(cases)
        for kind in kinds
    ]
