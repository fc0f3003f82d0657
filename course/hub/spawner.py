"""A learner's programs, with the limits that the hub's own local spawner does not enforce."""

from __future__ import annotations

import resource
from collections.abc import Callable

from jupyterhub.spawner import LocalProcessSpawner

MOST_PROCESSES = 300  # threads count, too


class RoomSpawner(LocalProcessSpawner):
    """A learner's server with a limit on the memory of each of its programs, and on their number."""

    def make_preexec_fn(self, name: str) -> Callable[[], None]:
        """Become the learner, within the limits."""
        become, most = super().make_preexec_fn(name), int(self.mem_limit or 0)

        def limited() -> None:
            if most:
                resource.setrlimit(resource.RLIMIT_AS, (most, most))
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
            resource.setrlimit(resource.RLIMIT_NPROC, (MOST_PROCESSES, MOST_PROCESSES))
            become()

        return limited
