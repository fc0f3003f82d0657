"""nbgrader's own programs, called from the class's folder."""

from __future__ import annotations

from course.commands import nbgrader_programs
from graders.nbgrader_bridge.course_config import CONFIGURATION, JUDGE


def test_nbgrader_runs_by_the_course_s_own_python_in_the_folder_of_the_class(tmp_path, capfd, monkeypatch):
    """Nothing need be on the path: nbgrader answers from the folder, whose configuration it finds."""
    judged_by = f"c = get_config()\nc.Autograde.autograde_preprocessors = [{JUDGE!r}]\n"
    (tmp_path / CONFIGURATION).write_text(judged_by, encoding="utf-8")
    monkeypatch.setenv("PATH", "")
    assert nbgrader_programs.run(tmp_path, ["--version"]) == 0
    assert capfd.readouterr().out.strip()
