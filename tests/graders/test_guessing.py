"""Points mean knowledge: scripts that know nothing earn less than three tenths of every lesson.

`python -m pytest -s tests/graders/test_guessing.py` prints what each of them earns of every lesson's points; work at
the bench is done by the scripts of tests/lessons/test_clicking.py, which also adds the two up.
"""

from __future__ import annotations

import pytest

from graders.exercises.loader import lessons_with_rubrics

from .guessing import MOST_SHARE, shares


@pytest.mark.parametrize("lesson", lessons_with_rubrics())
def test_scripts_earn_less_than_three_tenths(lesson):
    """Twenty learners who answer by a script, without knowing anything, earn under 30 % of the lesson on average."""
    found = shares(lesson)
    print(f"{lesson[:3]} " + "  ".join(f"{name} {100 * share:.0f} %" for name, share in found.items()))
    assert {name: round(share, 3) for name, share in found.items() if share >= MOST_SHARE} == {}


def test_somebody_who_knows_would_be_noticed():
    """The measure sees points where there are some: in the lesson with most questions a script earns something."""
    assert any(share > 0.01 for share in shares("l03_getting_it_to_start").values())
