"""A class folder that was made before the code got its rooms: its configuration names modules by their older names."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from traitlets.utils.importstring import import_item

import course
import graders.nbgrader_bridge
from graders.classroom.run import JUDGED, Classroom
from graders.nbgrader_bridge.course_config import NbgraderCourse
from tests.graders.conftest import LESSON

CONFIGURATION = Path(__file__).parent / "older_class" / "nbgrader_config.py"

pytestmark = pytest.mark.classroom


def test_an_older_class_releases_and_grades_with_the_same_points(trial_class):
    """With the older configuration a lesson is released and the same hand-ins earn the same points."""
    answers = ({"l98_first": 3.0, "l98_second": 2.0}, {"l98_first": 1.25}, {})
    new = [trial_class.hand_in(f"new{number}", given).parent.name for number, given in enumerate(answers)]
    Classroom(trial_class.root).judge(LESSON)
    shutil.copyfile(CONFIGURATION, trial_class.root / "nbgrader_config.py")
    trial_class.course = NbgraderCourse(trial_class.root)
    trial_class.course.release(LESSON)
    old = [trial_class.hand_in(f"old{number}", given).parent.name for number, given in enumerate(answers)]
    assert {report.status for report in Classroom(trial_class.root).judge(LESSON)} == {JUDGED}
    assert [trial_class.points(name) for name in old] == [trial_class.points(name) for name in new]
    assert trial_class.points("old0")["l98_first"] == 3.0


def test_every_step_of_both_configurations_is_there():
    """Each name of ours in today's and in the older configuration leads to a class; another name is refused."""
    for path in (CONFIGURATION, course.HERE / "nbgrader_config.py"):
        names = re.findall(r'"((?:graders|course)\.[\w.]+)"', path.read_text(encoding="utf-8"))
        assert len(names) > 15 and all(isinstance(import_item(name), type) for name in names)
    with pytest.raises(AttributeError, match=r"no 'Juge'; it offers .*Judge"):
        graders.nbgrader_bridge.Juge  # noqa: B018 - the look-up itself is what fails
    assert set(dir(graders.nbgrader_bridge)) >= {"Judge", "CodeInBox"}
