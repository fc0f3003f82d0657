"""Maps of these tests are built afresh, in a folder of their own."""

import pytest


@pytest.fixture(autouse=True, scope="session")
def own_map_folder(tmp_path_factory):
    """Point the cache of maps to an empty folder for the whole run."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TIMING_COURSE_CACHE", str(tmp_path_factory.mktemp("maps")))
        yield
