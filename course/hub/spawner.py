"""Learners' servers, forked from one process of the room: they share the memory of all that they import."""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
from collections.abc import Mapping
from multiprocessing import Pipe
from typing import ClassVar

from jupyterhub.spawner import LocalProcessSpawner
from jupyterhub.utils import random_port

from .forked import Parent


class RoomSpawner(LocalProcessSpawner):
    """A learner's server with a limit on the memory of each of its programs, and on their number."""

    parent_of_servers: ClassVar[tuple[Parent, subprocess.Popen] | None] = None

    async def start(self) -> tuple[str, int]:
        """Have a server forked for the learner; return where it will answer."""
        self.port = self.port or random_port()  # type: ignore[has-type] # a trait of a library without types
        asked = (self.user.name, int(self.mem_limit or 0), dict(self.get_env()))
        self.pid = await asyncio.to_thread(self._parent().fork, *asked)
        return self.ip or "127.0.0.1", self.port

    def _parent(self) -> Parent:
        known = type(self).parent_of_servers
        if known is None or known[1].poll() is not None:
            kept = {name: os.environ[name] for name in self.env_keep if name in os.environ}
            known = type(self).parent_of_servers = start_parent({**kept, **self.environment})
        return known[0]


def start_parent(environment: Mapping[str, str]) -> tuple[Parent, subprocess.Popen]:
    """Start the parent of a room's servers with this environment alone: the superuser's is no learner's matter."""
    word, theirs = Pipe()
    command = [sys.executable, "-m", "course.hub.parent_of_servers", str(theirs.fileno())]
    program = subprocess.Popen(
        command, env=dict(environment), pass_fds=(theirs.fileno(),), stdin=subprocess.DEVNULL, start_new_session=True
    )
    theirs.close()
    return Parent(word), program
