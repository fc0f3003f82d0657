"""The three runs of tests: what stands in each, and which steps of the long one a change concerns."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from types import SimpleNamespace

import pytest

from tests import __main__ as command, long_run, tiers, versions
from tests.conftest import pytest_collection_modifyitems
from tests.mutations.drawing import of_judge, of_physics
from tests.repository.sources import ROOT

FAILS, PASSES = (sys.executable, "-c", "raise SystemExit(3)"), (sys.executable, "-c", "")


def test_the_quick_run_names_files_that_are_there():
    """Every file once, none of the browser's; and the command runs just these, with what is asked besides. What of
    them waits for the whole run is there, too."""
    files = [one for one in tiers.quick() if not one.startswith("--deselect=")]
    assert len(set(files)) == len(files) and all((ROOT / file).is_file() for file in files)
    assert not [file for file in files if "/browser/" in file]
    asked = command.command("python", ["quick", "-x"])
    assert asked[-1] == "-x" and [part for part in asked if str(part).startswith("tests/")] == files
    assert sum(str(part).startswith("--deselect=tests/") for part in asked) == len(tiers.LEFT_TO_THE_WHOLE)
    for file, test in (one.partition("[")[0].split("::") for one in tiers.LEFT_TO_THE_WHOLE):
        assert f"tests/{file}" in files and f"def {test}(" in (ROOT / "tests" / file).read_text("utf-8"), test


def test_the_whole_run_is_pytests_own_choice_on_every_processor():
    """No file is named, so that none is left out; arguments go to pytest as they are."""
    asked = list(map(str, command.command("python", [])))
    assert "-n" in asked and not [part for part in asked if "test_" in part]
    assert list(map(str, command.command("python", ["tests/fuzz"])))[-1] == "tests/fuzz"
    assert list(map(str, command.command("python", ["-x"]))) == [*asked, "-x"]  # on all processors, too
    assert "-n" not in command.command("python", ["tests/fuzz", "-x"])


def test_what_a_run_starts_may_keep_what_it_compiled(monkeypatch):
    """A machine on which Python keeps nothing compiled would have every program of a run compile all modules again."""
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    monkeypatch.setenv("TIMING_COURSE_HERE", "1")
    monkeypatch.setattr(command.signal, "signal", lambda *_: None)
    kept = []
    monkeypatch.setattr(
        command.bootstrap, "run", lambda _: kept.append("PYTHONDONTWRITEBYTECODE" not in os.environ) or 0
    )
    assert command.main(["quick"]) == 0 and kept == [True]


class Marked:
    """A test with one mark, or with none."""

    def __init__(self, mark: str):
        self.mark = mark

    def iter_markers(self):
        """As pytest asks for them."""
        return [SimpleNamespace(name=self.mark)] if self.mark else []


@pytest.mark.parametrize("expression", ["", "not browser", "benchmark", "further and not browser"])
def test_what_takes_long_runs_only_where_it_is_named(expression):
    """An expression of a contributor's own, as `-m "not browser"`, brings in neither benchmarks nor further cases nor
    the README's pictures; their names do."""
    items = [Marked(mark) for mark in ("", "browser", "benchmark", "further", "pictures")]
    left_out = []
    hook = SimpleNamespace(pytest_deselected=lambda items: left_out.extend(items))
    pytest_collection_modifyitems(SimpleNamespace(option=SimpleNamespace(markexpr=expression), hook=hook), items)
    long = {"benchmark", "further", "pictures"}
    assert {item.mark for item in left_out} == {mark for mark in long if mark not in expression}
    assert {item.mark for item in items} == {"", "browser"} | (long - {item.mark for item in left_out})


def test_every_further_case_is_asked_for_by_a_step():
    """A folder of tests with further cases is named by a step of the long run that asks for them."""
    asked = {
        word
        for step in long_run.STEPS.values()
        for command in step.commands(None)
        if any("further" in word for word in command)
        for word in command
    }
    having = {
        path.parent.relative_to(ROOT).as_posix()
        for path in ROOT.glob("tests/*/test_*.py")
        if re.search(r"from tests\.further import|pytest\.mark\.further\b", path.read_text(encoding="utf-8"))
    }
    assert having - {"tests/repository"} and having - {"tests/repository"} <= asked


def test_a_module_that_no_function_of_was_run_is_named():
    """Every module is named where nothing was run; one of which a line in a function was run is not."""
    everything = tiers.untouched({})
    assert "engine_sim/physics/knock.py" in everything and len(everything) > 150
    lines = set(range(1, 1000))
    assert set(everything) - set(tiers.untouched({"engine_sim/physics/knock.py": lines})) == {
        "engine_sim/physics/knock.py"
    }


@pytest.mark.parametrize(
    ("path", "steps"),
    (
        ("engine_sim/physics/knock.py", ["mutations", "fuzz", "engines"]),
        ("graders/rubrics/l04_base_timing.toml", ["mutations", "fuzz", "lessons"]),
        ("graders/classroom/run.py", ["fuzz", "load"]),
        ("pyproject.toml", ["lowest"]),
        ("README.md", []),
    ),
)
def test_a_change_concerns_the_steps_that_look_at_it(path, steps):
    """By the beginning of the path of what changed."""
    assert long_run.concerned([path]) == steps


def test_every_file_that_can_be_mutated_concerns_the_mutations():
    """What the tool of mutations changes is what a change of it is looked at for."""
    assert all("mutations" in long_run.concerned([one.path]) for one in of_physics(1) + of_judge(1))


def test_a_change_of_everything_is_looked_at_in_the_time_that_a_person_waits(monkeypatch, capsys):
    """The quickest steps run, the shortest first; the others are named with the command that runs them."""
    every = [name for name, step in long_run.STEPS.items() if step.concerned_by]
    kept = long_run.in_the_time(every)
    assert sum(long_run.STEPS[name].minutes for name in kept) <= long_run.WAITED_MINUTES
    assert long_run.in_the_time(["mutations", "fuzz"]) == ["fuzz", "mutations"]
    minutes = [long_run.STEPS[name].minutes for name in kept]
    assert minutes == sorted(minutes) and len(kept) < len(every)
    ran = []
    monkeypatch.setattr(
        long_run, "changed_since", lambda _commit: ["course/", *(long_run.STEPS[one].concerned_by[0] for one in every)]
    )
    monkeypatch.setattr(long_run, "commit_before_the_change", lambda: "HEAD")
    monkeypatch.setattr(long_run, "run", lambda names, *_: ran.append(list(names)) or 0)
    assert long_run.main(["--changed"]) == 0 and ran == [kept]
    left = " ".join(name for name in every if name not in kept)
    assert f"`python3 -m tests long --changed {left}`" in capsys.readouterr().out
    assert long_run.main(["--changed", *left.split()]) == 0 and ran[1:] == [left.split()]
    assert long_run.main(["--changed", "--within", "4"]) == 0 and ran[2:] == [long_run.in_the_time(every, 4.0)]
    assert 0 < len(ran[2]) < len(kept)


def test_the_search_for_odd_files_is_longer_in_the_long_run(monkeypatch):
    """Ten minutes of processor time; one where a change is looked at."""
    seen = []
    monkeypatch.setattr(long_run.subprocess, "call", lambda command, **_: seen.append(command[-1]) or 0)
    assert long_run.main(["fuzz"]) == 0 and seen == [long_run.FUZZED_MINUTES]
    assert [command[-1] for command in long_run.STEPS["fuzz"].commands("")] == [long_run.FUZZED_OF_A_CHANGE]


def commit(folder, name: str, at: str) -> str:
    """Commit one more file at a time; the commit's name."""
    (folder / name).write_text("", encoding="utf-8")
    who = ["-c", "user.name=Robin Vale", "-c", "user.email=robin@vale.invalid"]
    here = {"GIT_COMMITTER_DATE": at, "GIT_AUTHOR_DATE": at, "PATH": "/usr/bin:/bin", "HOME": str(folder)}
    for words in (["add", name], [*who, "commit", "-q", "-m", name]):
        subprocess.run(["git", *words], cwd=folder, env=here, check=True)
    told = subprocess.run(
        ["git", "rev-parse", "HEAD"], cwd=folder, env=here, check=True, capture_output=True, text=True
    )
    return told.stdout.strip()


def test_a_change_is_what_came_in_the_last_hours_or_after_a_named_commit(tmp_path, monkeypatch):
    """The newest commit four hours older than the latest is where the change began; the environment may name
    another; where there is none, nothing is known."""
    monkeypatch.setattr(long_run, "ROOT", tmp_path)
    monkeypatch.delenv("TIMING_COURSE_SINCE", raising=False)
    assert long_run.commit_before_the_change() == ""
    subprocess.run(["git", "init", "-q"], cwd=tmp_path, check=True)
    commit(tmp_path, "first.py", "2026-01-01T08:00:00Z")
    assert long_run.commit_before_the_change() == ""
    second = commit(tmp_path, "second.py", "2026-01-02T08:00:00Z")
    commit(tmp_path, "third.py", "2026-01-03T08:00:00Z")
    commit(tmp_path, "fourth.py", "2026-01-03T09:00:00Z")
    assert long_run.commit_before_the_change() == second
    assert long_run.changed_since(second) == ["fourth.py", "third.py"]
    monkeypatch.setenv("TIMING_COURSE_SINCE", "HEAD~1")
    assert long_run.changed_since(long_run.commit_before_the_change()) == ["fourth.py"]
    monkeypatch.setenv("TIMING_COURSE_SINCE", "no-such-commit")
    with pytest.raises(SystemExit):
        long_run.main(["--changed"])
    with pytest.raises(long_run.NoSuchCommit, match="'no-such-commit' is no commit"):
        long_run.changed_since("no-such-commit")


def test_a_change_is_looked_at_in_small(monkeypatch, capsys):
    """Only the steps that it concerns run, and the mutations are few and of its files; where nothing is known of the
    change, every step that a change can concern runs, as far as somebody waits."""
    ran = []
    monkeypatch.setattr(long_run.subprocess, "call", lambda command, **_: ran.append(list(command)) or 0)
    monkeypatch.setattr(long_run, "commit_before_the_change", lambda: "abc")
    monkeypatch.setattr(long_run, "changed_since", lambda commit: ["graders/bench/finding.py"])
    assert long_run.main(["--changed"]) == 0
    assert ran[0][2] == "tests.fuzz" and "tests.mutations" in ran[1]
    assert ran[1][3:] == ["--since", "abc", "--at-most", str(long_run.MUTATIONS_OF_A_CHANGE)]
    ran.clear()
    monkeypatch.setattr(long_run, "commit_before_the_change", lambda: "")
    assert long_run.main(["--changed"]) == 0
    every = [name for name, step in long_run.STEPS.items() if step.concerned_by]
    assert ran == [list(one) for name in long_run.in_the_time(every) for one in long_run.STEPS[name].commands("")]
    assert "nobody knows when" in capsys.readouterr().out


def test_a_step_that_fails_is_named_and_the_others_run(monkeypatch, capfd):
    """Every step has its line at the end, and the run fails with one of them."""
    steps = {
        "one": long_run.Step("", (), lambda since: [FAILS, PASSES]),
        "two": long_run.Step("", (), lambda since: [PASSES]),
    }
    monkeypatch.setattr(long_run, "STEPS", steps)
    assert long_run.main([]) == 1
    told = capfd.readouterr().out.splitlines()
    assert told[-2].startswith("one") and told[-2].endswith("FAILED") and told[-1].endswith("ok")
    assert long_run.main(["two"]) == 0
    with pytest.raises(SystemExit):
        long_run.main(["three"])
    assert "no such step: three; there are one, two" in capfd.readouterr().err


def test_what_a_slow_machine_leaves_is_named_and_not_begun(monkeypatch, capfd):
    """A step begins only where it will end within the time that is left; one that does not says so in its line."""
    one = long_run.Step("", (), lambda since: [PASSES], minutes=0.5)
    monkeypatch.setattr(long_run, "STEPS", {"one": one, "two": one, "three": one})
    monkeypatch.setattr(long_run.time, "monotonic", iter((0.0, 0.0, 31.0, 31.0, 31.0)).__next__)
    assert long_run.run(["one", "two", "three"], None, waited_s=60.0) == 0
    told = capfd.readouterr().out.splitlines()[-3:]
    assert told[0].endswith("ok") and all("NOT RUN" in line for line in told[1:])


def test_other_pythons_are_those_that_can_run_the_course(monkeypatch):
    """Every Python from the oldest supported on that starts, but the one that runs; this one for the versions."""
    there = {"python3.10", "python3.11", "python3.13", "python3.14", f"python3.{sys.version_info[1]}"}
    monkeypatch.setattr(versions.shutil, "which", lambda name: f"/bin/{name}" if name in there else None)
    monkeypatch.setattr(versions, "_starts", lambda python: not python.endswith("3.14"))
    here = f"/bin/python3.{sys.version_info[1]}"
    assert versions.pythons("pythons") == [one for one in ("/bin/python3.11", "/bin/python3.13") if one != here]
    assert versions.pythons("lowest") == versions.pythons("newest") == [sys.executable]


def test_an_environment_that_cannot_be_made_fails_the_step(monkeypatch, capsys):
    """It is named, and nothing is tested in its place."""

    def cannot(folder, python, resolution):
        raise subprocess.CalledProcessError(2, "uv")

    monkeypatch.setattr(versions, "made", cannot)
    assert versions.main(["lowest"]) == 1
    assert "could not be made" in capsys.readouterr().err
