"""What the tests of all lessons share."""

from __future__ import annotations

import pytest

from course.authoring.edition import make_learners_edition
from course.commands.make_class import make
from tests.short_ways import disk_not_waited_for, schema_asked_once  # noqa: F401 - fixtures of this room


@pytest.fixture(scope="session")
def editions(tmp_path_factory, schema_asked_once):  # noqa: F811
    """The learner's editions of all lessons, made once."""
    folder = tmp_path_factory.mktemp("editions")
    make_learners_edition(folder)
    return folder


@pytest.fixture(scope="session")
def autumn(tmp_path_factory, schema_asked_once):  # noqa: F811
    """A class with all lessons handed out, made once; a test that judges in it works on a copy of that name."""
    root = tmp_path_factory.mktemp("class") / "autumn"
    make(root)
    return root
