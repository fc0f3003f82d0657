"""What no test is about and every run would pay for again and again.

A conftest takes these fixtures in by importing them; a test file asks for them with `pytest.mark.usefixtures`.
"""

from __future__ import annotations

import functools
import os

import pytest


@pytest.fixture(scope="session")
def schema_asked_once():
    """nbgrader starts a program for every new gradebook to ask for the version of its tables: seconds each time, and
    the same answer. Let it ask once."""
    from nbgrader import api

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(api, "get_alembic_version", functools.cache(api.get_alembic_version))
        yield


@pytest.fixture(autouse=True, scope="session")
def disk_not_waited_for():
    """Evidence waits for the disk after every act, so that a power cut loses nothing; the hundred acts of a scripted
    learner need not."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "fsync", lambda _: None)
        yield
