"""Whether a learner works at a class's hub, and the one way to hand in there.

The exchange's own libraries run in a process of their own: a lesson's program is lean without them.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from engine_sim import TimingCourseError

CLASS, EXCHANGE = "TIMING_COURSE_CLASS", "TIMING_COURSE_EXCHANGE"
LIVE = "TIMING_COURSE_LIVE_VIEW"  # set where the instructor sees at which step each learner is
PATIENCE_S = 120


class NotHandedIn(TimingCourseError):
    """The exchange did not take the lesson; the text says why."""


def at_a_hub() -> bool:
    """Whether hand-ins go to a class's exchange."""
    return bool(os.environ.get(EXCHANGE) and os.environ.get(CLASS))


def hand_over(lesson: Path) -> str:
    """Hand in the lesson in a folder by the exchange; return what it says. Raises NotHandedIn."""
    command = [sys.executable, "-m", "course.hub.handing_in", lesson.name]
    try:
        done = subprocess.run(command, cwd=Path.home(), capture_output=True, text=True, check=False, timeout=PATIENCE_S)
    except subprocess.TimeoutExpired:
        raise NotHandedIn("The exchange did not answer in two minutes: press the button again.") from None
    said = done.stdout.strip()
    if done.returncode or not said:
        raise NotHandedIn(said or "This lesson could not be handed in. Your work is kept: tell your instructor.")
    return said


def newest_page(lesson: Path) -> Path | None:
    """The newest page that came back for the lesson in a folder; None where none did."""
    found = sorted(lesson.glob(f"feedback/*/{lesson.name}.html"))
    return found[-1] if found else None
