"""What the tests of all lessons share."""

from __future__ import annotations

import pytest

from course.authoring.edition import make_learners_edition


@pytest.fixture(scope="session")
def editions(tmp_path_factory):
    """The learner's editions of all lessons, made once."""
    folder = tmp_path_factory.mktemp("editions")
    make_learners_edition(folder)
    return folder
