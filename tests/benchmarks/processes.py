"""What programs take of processor and memory, as Linux counts it."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

TICKS_PER_S = os.sysconf("SC_CLK_TCK")
_SHARE = re.compile(r"^Pss:\s+(\d+) kB", re.MULTILINE)


@dataclass(frozen=True)
class Seen:
    """Some programs at one moment: seconds of processor so far, and memory [MB], where what several share is divided
    among all that share it."""

    processor_s: float
    memory_mb: float


def family(pid: int) -> list[int]:
    """A program and all that it started, as far as they run."""
    found = [pid]
    for parent in found:
        try:
            threads = list(Path(f"/proc/{parent}/task").iterdir())
            found += [int(child) for thread in threads for child in (thread / "children").read_text().split()]
        except OSError:  # it has ended
            continue
    return found


def seen(pids: Iterable[int]) -> Seen:
    """What these programs have taken so far; one that has ended counts for nothing."""
    processor, memory = 0.0, 0.0
    for pid in pids:
        try:
            fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
            share = _SHARE.search(Path(f"/proc/{pid}/smaps_rollup").read_text())
        except OSError:
            continue
        processor += (int(fields[11]) + int(fields[12])) / TICKS_PER_S
        memory += int(share[1]) / 1000 if share else 0.0
    return Seen(processor, memory)
