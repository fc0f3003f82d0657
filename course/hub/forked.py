"""Programs forked from a parent that has loaded what they need: they start at once, and share its memory.

A server cannot fork itself: it has threads and sockets. So a parent does nothing but wait for the word of the one that
it works for, and ends with it. A room has one for learners' servers, which is told by the hub (`spawner.py`); each of
these servers begins by forking one for the programs behind its pages.
"""

from __future__ import annotations

import os
import select
import signal
import sys
import threading
import traceback
from collections.abc import Callable
from multiprocessing import Pipe
from multiprocessing.connection import Connection
from typing import Any, ClassVar, NoReturn

from ipykernel import kernelapp
from jupyter_client.connect import KernelConnectionInfo
from jupyter_client.provisioning import KernelProvisionerFactory, LocalProvisioner


class Parent:
    """A parent of programs, at the other end of a connection."""

    def __init__(self, word: Connection):
        self._word, self._turn = word, threading.Lock()

    def fork(self, *asked: Any) -> int:
        """Have it fork a program that does what is asked; return its number. Raises EOFError where the parent ended."""
        with self._turn:
            self._word.send(asked)
            return self._word.recv()


def forked_parent(be: Callable[..., None]) -> Parent:
    """A parent whose programs each do `be(*asked)`, forked from this process as it is; it must have no thread, loop or
    socket yet."""
    word, theirs = Pipe()
    if not os.fork():
        word.close()
        fork_at_a_word(theirs, be)
    theirs.close()
    return Parent(word)


def fork_at_a_word(word: Connection, be: Callable[..., None]) -> NoReturn:
    """Be a parent of programs until nobody asks any more."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the one that is worked for is stopped by it, and that is enough
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # nobody asks for the status of those that end
    while True:
        try:
            asked = word.recv()
        except (EOFError, ConnectionError):
            os._exit(0)
        pid = os.fork()
        if not pid:
            word.close()
            _be(be, asked)
        word.send(pid)


def _be(be: Callable[..., None], asked: tuple) -> NoReturn:
    status = 1
    try:
        os.setsid()
        signal.signal(signal.SIGINT, signal.default_int_handler)
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        be(*asked)
        status = 0
    except SystemExit as ended:
        status = ended.code if isinstance(ended.code, int) else bool(ended.code)
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(status)


def set_environment(environment: dict[str, str]) -> None:
    """Have these variables, and no other."""
    os.environ.clear()
    os.environ.update(environment)


# ---- the programs behind pages ---------------------------------------------------------------------------------------


def be_kernel(arguments: list[str], folder: str, environment: dict[str, str]) -> None:
    """Be a kernel in a folder, until it is shut down."""
    set_environment(environment)
    os.chdir(folder)
    # It ends with its parent; and ipywidgets was imported before there was a kernel to make itself known to.
    own = [f"--IPKernelApp.parent_handle={os.getppid()}", "--ext=ipywidgets"]
    kernelapp.launch_new_instance([*arguments, *own])


class ForkedProgram:
    """A program that another process forked, as far as LocalProvisioner uses of a Popen."""

    stdin = stdout = stderr = None

    def __init__(self, pid: int):
        self.pid = pid
        self.returncode: int | None = None
        self._handle = os.pidfd_open(pid)

    def poll(self) -> int | None:
        """0 once it has ended, whatever its status was; None before."""
        if self.returncode is None and select.select([self._handle], [], [], 0.0)[0]:
            os.close(self._handle)
            self.returncode = 0
        return self.returncode

    def wait(self) -> int:
        """Wait for its end."""
        if self.returncode is None:
            select.select([self._handle], [], [])
        return self.poll() or 0

    def send_signal(self, number: int) -> None:
        """Send it a signal, unless it has ended."""
        if self.poll() is None:
            signal.pidfd_send_signal(self._handle, number)

    def terminate(self) -> None:
        """Ask it to end."""
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        """End it."""
        self.send_signal(signal.SIGKILL)


class ForkingProvisioner(LocalProvisioner):
    """A local kernel that is forked, and not started as a program of its own."""

    parent_of_kernels: ClassVar[Parent]

    async def launch_kernel(self, cmd: list[str], **kwargs: Any) -> KernelConnectionInfo:
        """Fork a kernel with what `cmd` says after the program's name."""
        arguments = cmd[cmd.index("-f") :]
        pid = self.parent_of_kernels.fork(arguments, str(kwargs["cwd"]), dict(kwargs["env"]))
        self.process = ForkedProgram(pid)  # type: ignore[assignment] # it has all that is used of a Popen
        self.pid, self.pgid, self.cwd = pid, pid, kwargs["cwd"]
        return self.connection_info


class ForkingFactory(KernelProvisionerFactory):
    """Has every kernel forked; `fork_kernels` makes it the one of a server."""

    def create_provisioner_instance(self, kernel_id: str, kernel_spec: Any, parent: Any) -> ForkingProvisioner:
        """The provisioner of one kernel."""
        return ForkingProvisioner(kernel_id=kernel_id, kernel_spec=kernel_spec, parent=parent)


def fork_kernels() -> None:
    """From now on the kernels of this process are forked. It must have no thread, loop or socket yet."""
    ForkingProvisioner.parent_of_kernels = forked_parent(be_kernel)
    ForkingFactory.instance()
