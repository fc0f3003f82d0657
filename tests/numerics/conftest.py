"""One engine for all numerical tests; maps are built afresh in a folder of their own."""

import pytest

from course import ENGINES
from engine_sim import Engine, load_card


@pytest.fixture(autouse=True, scope="session")
def own_map_folder(tmp_path_factory):
    """Point the cache of maps to an empty folder for the whole run."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("TIMING_COURSE_CACHE", str(tmp_path_factory.mktemp("maps")))
        yield


@pytest.fixture(scope="session")
def engine():
    """The delivery truck's engine."""
    return Engine(load_card(ENGINES / "delivery_truck_six.toml"))
