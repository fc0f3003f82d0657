"""`python -m course.hub.parent_of_servers NUMBER`: loads what learners' servers need, and forks one at each word that
comes through the connection of that number. The hub starts it as the superuser."""

from __future__ import annotations

import gc
import os
import resource
import sys
from collections.abc import Callable
from multiprocessing.connection import Connection

from jupyterhub.spawner import set_user_setuid

from . import loaded  # noqa: F401
from .forked import fork_at_a_word, fork_kernels, set_environment
from .learner_server import main as serve

MOST_PROCESSES = 300  # threads count, too


def becoming(name: str, most_bytes: int) -> Callable[[], None]:
    """What makes a process the account's, within the limits; of memory there is none where that is 0."""
    become = set_user_setuid(name)

    def limited() -> None:
        if most_bytes:
            resource.setrlimit(resource.RLIMIT_AS, (most_bytes, most_bytes))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_NPROC, (MOST_PROCESSES, MOST_PROCESSES))
        become()

    return limited


def be_server(name: str, most_bytes: int, environment: dict[str, str]) -> None:
    """Serve a learner's pages under the learner's account."""
    becoming(name, most_bytes)()
    set_environment(environment)
    os.umask(0o077)
    fork_kernels()
    serve()


if __name__ == "__main__":
    gc.collect()
    gc.freeze()  # what is shared is looked through no more, which would make it everybody's own again
    fork_at_a_word(Connection(int(sys.argv[1])), be_server)
