"""`python -m tests.hub.namespace COMMAND`: run a command as the superuser of a machine of its own: its accounts, homes,
processes and network are gone with it, and the machine's own are never touched.

Only Linux, as the superuser. `why_not` says why there can be none.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from tests.tiers import ROOT

PROXY = Path("/var/tmp/timing-course-proxy")  # fetched before: inside there is no network
INSIDE = "TIMING_COURSE_IN_NAMESPACE"
# Everything that the room writes lies on file systems of this run: /etc with the accounts, homes, /srv, /run.
# Where the Python of the tests lies in the superuser's home, learners may pass through that home to it alone.
SCRIPT = r"""
set -eu
mount --make-rprivate /
mkdir -p "$UPPER"
mount -t tmpfs none "$UPPER"
mkdir "$UPPER/etc" "$UPPER/work" "$UPPER/kept"
mount -t overlay overlay -o "lowerdir=/etc,upperdir=$UPPER/etc,workdir=$UPPER/work" /etc
for place in /home /srv /run; do mount -t tmpfs none "$place"; done
mkdir -p /run/lock
if [ "${HIDDEN_PYTHON:-}" ]; then
    mkdir "$UPPER/python"
    mount --bind "$HIDDEN_PYTHON" "$UPPER/python"
    mount -t tmpfs -o mode=711 none /root
    mkdir -p -m 755 "$HIDDEN_PYTHON"
    mount --move "$UPPER/python" "$HIDDEN_PYTHON"
fi
ip link set lo up
"$@"  # this shell stays, as the first process, which takes in what others leave
exit $?
"""


def why_not() -> str:
    """Why there can be no such namespace here; nothing where there can."""
    if not sys.platform.startswith("linux") or os.geteuid():
        return "a machine of its own needs the superuser of Linux"
    missing = [
        name for name in ("unshare", "ip", "mount", "useradd", "chpasswd", "node", "npm") if not shutil.which(name)
    ]
    return f"there is no {', '.join(missing)} on this machine" if missing else ""


def hidden_python() -> Path | None:
    """The folder in the superuser's home that holds the Python of the tests, where it lies there."""
    base, home = Path(sys.base_prefix).resolve(), Path("/root")
    return base if home in base.parents else None


def run(command: Sequence[str]) -> int:
    """Run a command inside; return its exit status."""
    from course.hub.running import fetch_proxy

    hidden = hidden_python()
    fetch_proxy(PROXY)
    environment = {
        **os.environ,
        INSIDE: "1",
        "UPPER": "/tmp/timing-course-room",
        "HIDDEN_PYTHON": str(hidden or ""),
        "PYTHONPATH": str(ROOT),
        "TIMING_COURSE_HERE": "1",
        "HOME": "/root",
    }
    inside = ["unshare", "--mount", "--net", "--pid", "--ipc", "--uts", "--fork", "--mount-proc", "--kill-child"]
    return subprocess.call([*inside, "bash", "-c", SCRIPT, "namespace", *command], env=environment, cwd=ROOT)


if __name__ == "__main__":
    reason = why_not()
    if reason:
        print(f"Not run: {reason}.")
        sys.exit(0)
    sys.exit(run(sys.argv[1:]))
