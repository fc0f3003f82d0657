"""Programs that are forked: they run, end, and leave nobody behind."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

from course.hub.forked import Parent
from course.hub.spawner import start_parent
from tests.tiers import ROOT

# A server in small: a kernel forked for it does a line of work, is interrupted, and is shut down.
SERVER = """
import asyncio, os, sys
import course.hub.loaded
from course.hub.forked import fork_kernels
fork_kernels()
from jupyter_client import AsyncKernelManager

async def works():
    kernel = AsyncKernelManager(kernel_name="python3")
    await kernel.start_kernel(cwd=sys.argv[1], env={**os.environ, "OF_ITS_OWN": "yes"})
    client = kernel.client()
    client.start_channels()
    await client.wait_for_ready(timeout=60)
    said = []
    hook = lambda message: said.append(message["content"].get("text", ""))
    line = "import os, ipywidgets, numpy; print(os.getcwd(), os.environ['OF_ITS_OWN'], os.getsid(0) == os.getpid())"
    await client.execute_interactive(line, output_hook=hook, timeout=60)
    targets = "print(sorted(get_ipython().kernel.comm_manager.targets))"
    await client.execute_interactive(targets, output_hook=hook, timeout=60)
    print("".join(said).strip(), flush=True)
    if sys.argv[2] == "dies":
        print(kernel.provisioner.pid, flush=True)
        os._exit(9)
    await kernel.restart_kernel(now=True)
    await client.wait_for_ready(timeout=60)
    await kernel.shutdown_kernel()
    print("left" if await kernel.is_alive() else "ended", flush=True)

asyncio.run(works())
"""


def run_server(folder, way: str) -> list[str]:
    """What a server says that runs one kernel in a folder."""
    done = subprocess.run(
        [sys.executable, "-c", SERVER, str(folder), way],
        cwd=ROOT, stdout=subprocess.PIPE, text=True, check=False, timeout=300,
    )  # fmt: skip
    return done.stdout.split("\n")


def test_a_forked_kernel_works_and_ends(tmp_path):
    """It runs in its folder with its environment, in a session of its own, knows what a page's parts speak, comes again
    after a restart, and ends when it is told to."""
    where, targets, ended, *_ = run_server(tmp_path, "ends")
    assert where == f"{tmp_path} yes True"
    assert "jupyter.widget" in targets and "jupyter.widget.control" in targets
    assert ended == "ended"


def runs(pid: int) -> bool:
    """Whether a program runs; one that has ended, and that nobody has asked for its status yet, does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def test_a_kernel_ends_with_its_server(tmp_path):
    """A server that was killed leaves no program behind."""
    pid = int(run_server(tmp_path, "dies")[2])
    until = time.monotonic() + 30.0
    while runs(pid):
        assert time.monotonic() < until, "a kernel outlives its server"
        time.sleep(0.1)


def test_the_parent_of_servers_has_a_clean_environment(monkeypatch):
    """What the superuser's environment holds does not come into learners' programs; the parent ends with the hub."""
    monkeypatch.setenv("A_SECRET", "of the superuser")
    environment = {name: os.environ[name] for name in ("PATH", "PYTHONPATH") if name in os.environ}
    parent, program = start_parent({**environment, "PYTHONPATH": str(ROOT)})
    assert isinstance(parent, Parent)
    try:
        kept = b""
        while b"PYTHONPATH" not in kept:  # it is about to become that program
            kept = Path(f"/proc/{program.pid}/environ").read_bytes()
    finally:
        del parent
        assert program.wait(60) == 0
    assert b"A_SECRET" not in kept
