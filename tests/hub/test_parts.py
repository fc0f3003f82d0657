"""The parts of a room that need no hub: names, versions, the view of who is where, and what a collection refuses."""

from __future__ import annotations

import asyncio
import json
import os
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from course import EDITION
from course.hub import accounts, check_up, class_exchange, configuration, desk, handing_in, parent_of_servers, running
from course.hub.at_work import STUCK_AFTER_S, STUCK_AFTER_TIMES, LearnersStep, WhoIsWhere, step_in
from course.hub.command import run
from course.hub.forked import ForkedProgram
from course.hub.learner_server import bring_lessons
from course.hub.parent_of_servers import becoming
from course.hub.room import FIRST_USE, Room, RoomError, Settings
from course.hub.spawner import RoomSpawner
from course.learner.at_a_hub import CLASS, EXCHANGE, LIVE
from course.learner.lesson_folder import learner_of
from course.widgets import hand_in
from graders.submissions.folder import SECRET_NAME
from tests.apart import run_apart


def test_a_folder_that_cannot_name_a_class_is_refused(tmp_path):
    """The folder's name becomes that of accounts; one that cannot be says what would."""
    for name in ("Spring", "2026", "a class", "x" * 21):
        with pytest.raises(RoomError, match="20 small letters"):
            Room.of(tmp_path / name)
    assert Room.of(tmp_path / "spring").grader == "grader-spring"


def test_what_was_chosen_is_kept(tmp_path):
    """Settings come back as they were; a damaged file says so."""
    room = replace(Room.of(tmp_path / "spring"), settings=Settings(port=9000, learners=("ada",), passwords=FIRST_USE))
    room.hub.mkdir(parents=True)
    room.keep()
    assert Room.of(room.folder) == room
    (room.hub / "room.json").write_text("{", encoding="utf-8")
    with pytest.raises(RoomError, match="is damaged"):
        Room.of(room.folder)


def test_ids_that_can_be_no_account_are_named():
    """A capital, a number alone, an account of the machine and the grader's own: each has its sentence."""
    found = accounts.problems_of(["ada", "Ben", "1001", "daemon", "grader-spring"], "grader-spring")
    assert [sentence.split("'")[1] for sentence in found] == ["Ben", "1001", "daemon", "grader-spring"]


@pytest.mark.parametrize(("node", "version"), [((18, 19, 0), "5.1.0"), ((20, 20, 2), "5.3.0"), ((24, 1, 0), "5.3.0")])
def test_the_proxy_suits_the_node(node, version):
    """Each Node gets the newest proxy that says it runs on it."""
    assert running.proxy_for(node) == version


def test_a_node_that_is_too_old_is_said():
    """Where no proxy runs, the sentence names the Node that is there."""
    with pytest.raises(RoomError, match=r"this is Node 16\.0\.0"):
        running.proxy_for((16, 0, 0))


def test_without_the_superuser_a_room_is_refused(tmp_path, monkeypatch):
    """Every hand-in would be one person's: the command does not begin, and leaves nothing."""
    monkeypatch.setattr(running, "is_superuser", lambda: False)
    with pytest.raises(RoomError, match="sudo"):
        run("start", tmp_path / "spring", None, {"instructors": ("ines",)})
    assert not (tmp_path / "spring").exists()


def test_a_closed_python_is_said(tmp_path, monkeypatch):
    """A Python in somebody's own folder cannot be used by learners: the folder that is closed is named."""
    closed = tmp_path / "own"
    closed.mkdir(mode=0o700)
    (closed / "python").touch()
    monkeypatch.setattr(running.sys, "executable", str(closed / "python"))
    os.chmod(closed / "python", 0o755)
    assert "is closed to them" in running.what_others_cannot_read()


def test_a_learners_programs_have_limits(monkeypatch):
    """The limit of memory holds for a learner's server and what it starts, which the local spawners leave out."""
    monkeypatch.setattr(parent_of_servers, "set_user_setuid", lambda name: lambda: None)
    limited = becoming("ada", 1_500_000_000)
    asked = (
        "import resource; print(*resource.getrlimit(resource.RLIMIT_AS), resource.getrlimit(resource.RLIMIT_CORE)[0])"
    )
    said = subprocess.run([sys.executable, "-c", asked], preexec_fn=limited, capture_output=True, text=True, check=True)
    assert said.stdout.split() == ["1500000000", "1500000000", "0"]


def test_a_server_is_asked_for_with_what_it_may_take(monkeypatch):
    """The parent of the room's servers hears whose it is, how much memory it may take, and its environment."""
    asked = []
    parent = SimpleNamespace(fork=lambda *words: asked.append(words) or 4711)
    monkeypatch.setattr(RoomSpawner, "parent_of_servers", (parent, SimpleNamespace(poll=lambda: None)))
    monkeypatch.setattr(RoomSpawner, "get_env", lambda self: {"HOME": "/home/ada"})
    spawner = RoomSpawner(mem_limit=1_500_000_000)
    spawner.user = SimpleNamespace(name="ada")
    address, port = run_apart(spawner.start())
    assert (address, spawner.pid, port > 0) == ("127.0.0.1", 4711, True)
    assert asked == [("ada", 1_500_000_000, {"HOME": "/home/ada"})]


def test_a_forked_program_tells_its_end():
    """Its end is noticed, whatever its parent is."""
    child = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    program = ForkedProgram(child.pid)
    assert program.poll() is None
    program.terminate()
    assert program.wait() == 0 and program.poll() == 0
    program.kill()  # of one that has ended nothing is asked
    child.wait()


@pytest.fixture
def at_a_hub(tmp_path, monkeypatch) -> Path:
    """A learner's home at a hub whose exchange is empty."""
    home, exchange = tmp_path / "home", tmp_path / "exchange"
    for place in (home, exchange / "spring" / "outbound", exchange / "spring" / "inbound"):
        place.mkdir(parents=True)
    os.chmod(exchange, 0o1777)
    for name, value in ((EXCHANGE, exchange), (CLASS, "spring"), ("JUPYTERHUB_USER", "ada"), ("HOME", home)):
        monkeypatch.setenv(name, str(value))
    return home


def test_lessons_come_as_they_are_handed_out(at_a_hub):
    """Before the first lesson there are the handouts; a lesson that was handed out is laid out with its name, and what
    a learner did in it stays."""
    folder = at_a_hub / "spring"
    bring_lessons(folder)
    assert (folder / "glossary.md").is_file() and not any(folder.glob("l*/"))
    handed_out = at_a_hub.parent / "exchange" / "spring" / "outbound"
    shutil.copytree(EDITION / "l04_base_timing", handed_out / "l04_base_timing")
    bring_lessons(folder)
    (folder / "l04_base_timing" / "evidence.jsonl").write_text("work", encoding="utf-8")
    bring_lessons(folder)
    assert (folder / "l04_base_timing" / "evidence.jsonl").read_text(encoding="utf-8") == "work"
    assert learner_of(folder / "l04_base_timing") == "ada"


def test_what_was_not_handed_out_cannot_be_handed_in(at_a_hub, capsys):
    """The learner gets a sentence, status 1, and nothing lies in the exchange; a lesson handed out goes there."""
    folder, exchange = at_a_hub / "spring", at_a_hub.parent / "exchange" / "spring"
    shutil.copytree(EDITION / "l04_base_timing", folder / "l04_base_timing")
    assert handing_in.main(["l04_base_timing"]) == 1
    assert "Your work is kept" in capsys.readouterr().out and not any((exchange / "inbound").iterdir())
    shutil.copytree(EDITION / "l04_base_timing", exchange / "outbound" / "l04_base_timing")
    assert handing_in.main(["l04_base_timing"]) == 0
    assert "Handed in: l04_base_timing" in capsys.readouterr().out
    (there,) = (exchange / "inbound").iterdir()
    assert (there / SECRET_NAME).is_file()
    assert handing_in.main([]) == 0  # no page came back yet


def test_the_button_of_a_lesson_uses_the_exchange(at_a_hub, monkeypatch):
    """One press hands in where nothing is missing, else the second; no file is made. What the exchange says of its
    trouble stands in the card, and the next press tries again."""
    folder, exchange = at_a_hub / "spring" / "l04_base_timing", at_a_hub.parent / "exchange" / "spring"
    shutil.copytree(EDITION / "l04_base_timing", folder)
    monkeypatch.setenv("PYTHONPATH", str(EDITION.parent.parent))
    monkeypatch.chdir(folder)
    card = hand_in()
    assert card.at_hub
    card.press("make")
    assert "Your work is kept" in card.problem and card.step == "begin"
    shutil.copytree(EDITION / "l04_base_timing", exchange / "outbound" / "l04_base_timing")
    card.press("make")
    assert card.step == "made" and card.problem == "" and card.said.startswith("Handed in: l04_base_timing")
    assert card.content == b"" and not (folder.parent / "hand-in").exists()
    assert len(list((exchange / "inbound").iterdir())) == 1


def test_the_desk_does_one_thing_at_a_time(tmp_path, monkeypatch):
    """A second press while something is under way begins nothing; what a command says of its trouble is shown."""
    monkeypatch.setenv(EXCHANGE, str(tmp_path))
    clerk = desk.Clerk(tmp_path / "none")

    async def pressed_twice() -> None:
        clerk.begin("report")
        clerk.begin("collect")
        assert clerk.doing == desk.STEPS["report"]
        while clerk.doing:
            await asyncio.sleep(0.05)

    run_apart(pressed_twice())
    assert "is not a class folder" in clerk.said


def test_the_desk_has_no_live_view_where_it_is_off(tmp_path, monkeypatch):
    """Without --live there is neither a page that shows who is where nor a place that takes reports."""
    monkeypatch.delenv(LIVE, raising=False)

    def patterns() -> list[str]:
        rules = desk.application(tmp_path, "/services/spring/").wildcard_router.rules
        return [rule.matcher.regex.pattern for rule in rules]

    assert not any("at-work" in one or "step" in one for one in patterns())
    monkeypatch.setenv(LIVE, "yes")
    assert any("at-work" in one for one in patterns())


class Told(dict):
    """What a configuration was told, by its dotted names."""

    def __getattr__(self, name):
        return self.setdefault(name, Told())

    def __setattr__(self, name, value):
        self[name] = value


def test_the_configuration_closes_the_traps(tmp_path):
    """Nobody is an administrator, the grader is blocked, an account that left is not let in, three start at a time, and
    instructors alone come to the desk."""
    room = replace(Room.of(tmp_path / "spring"), settings=Settings(learners=("ada",), instructors=("ines",)))
    room.hub.mkdir(parents=True)
    room.keep()
    (room.hub / configuration.API_TOKEN).write_text("secret", encoding="utf-8")
    told = Told()
    configuration.configure(told, str(room.folder))
    who = told["Authenticator"]
    assert who["allowed_users"] == {"ada", "ines"} and who["admin_users"] == set()
    assert who["allow_existing_users"] is False and who["blocked_users"] == {"grader-spring"}
    assert told["JupyterHub"]["concurrent_spawn_limit"] == 3 and told["Spawner"]["start_timeout"] == 180
    (desk,) = [role for role in told["JupyterHub"]["load_roles"] if "access:services!service=spring" in role["scopes"]]
    assert desk["groups"] == ["formgrade-spring"] and "users" not in desk
    assert told["JupyterHub"]["load_groups"]["formgrade-spring"] == {"users": ["ines"]}
    assert "TIMING_COURSE_LIVE_VIEW" not in told["Spawner"]["environment"]


def evidence(folder: Path, *events: tuple[str, str, object]) -> None:
    """A file of evidence with these events, of which nothing else is looked at."""
    folder.mkdir(parents=True, exist_ok=True)
    lines = [{"learner": "ada"}, *({"exercise": of, "control": do, "value": value} for of, do, value in events)]
    (folder / "evidence.jsonl").write_text("\n".join(map(json.dumps, lines)) + "\n", encoding="utf-8")


def test_a_step_tells_where_and_no_answer(tmp_path):
    """Lesson and exercise of the last act, and the act that is done again and again; what was answered stays out."""
    assert step_in(tmp_path) is None
    evidence(tmp_path / "l04_base_timing", ("l04_why_back_off", "answer", "a secret choice"))
    step = step_in(tmp_path)
    assert step is not None and (step.lesson, step.exercise, step.again) == ("l04_base_timing", "l04_why_back_off", "")
    assert "secret" not in repr(step)
    evidence(tmp_path / "l03_getting_it_to_start", *[("l03_start", "starter", None)] * STUCK_AFTER_TIMES)
    os.utime(tmp_path / "l03_getting_it_to_start" / "evidence.jsonl", (2e9, 2e9))
    step = step_in(tmp_path)
    assert step is not None and (step.again, step.times) == ("starter", STUCK_AFTER_TIMES)


def test_who_does_not_get_on_comes_first():
    """Somebody who is quiet for long, and somebody who does the same again and again, before those who get on."""
    clock = [0.0]
    view = WhoIsWhere(lambda: clock[0])
    step = LearnersStep("l04_base_timing", "l04_set_base_timing", 100)
    view.heard("cal", json.dumps(step.__dict__).encode())
    clock[0] = STUCK_AFTER_S
    view.heard("ada", json.dumps(step.__dict__).encode())
    view.heard("ben", json.dumps({**step.__dict__, "again": "starter", "times": 6}).encode())
    rows = view.rows()
    assert [(row["learner"], row["trouble"]) for row in rows] == [
        ("ben", "the same act 6 times: starter"),
        ("cal", "nothing done since"),
        ("ada", ""),
    ]


@pytest.mark.parametrize(
    "report", [b"x", b"[]", b'{"lesson": 1}', b'{"lesson": "' + b"l" * 81 + b'"}', b'{"times": -1}']
)
def test_a_report_that_is_none_is_refused(report):
    """What a learner's program sends is looked at before it is shown."""
    with pytest.raises(ValueError):
        WhoIsWhere().heard("ada", report)


def test_what_is_not_its_owners_is_put_aside(tmp_path, monkeypatch):
    """A hand-in under another's name, a link and a file are put aside; half of one is left for the next time."""
    monkeypatch.setattr(class_exchange, "_owner", lambda path: "ben")
    time = "2026-01-05 09:00:00.000000 UTC"
    for name in (f"ben+l04+{time}+1", f"cal+l04+{time}+2", f"ben+l04+{time}+3"):
        (tmp_path / name).mkdir()
    for name in (f"ben+l04+{time}+1", f"cal+l04+{time}+2"):
        (tmp_path / name / SECRET_NAME).touch()
    (tmp_path / f"ben+l04+{time}+4").symlink_to(tmp_path / f"ben+l04+{time}+1")
    left = class_exchange.refuse_what_is_not_its_owners(tmp_path)
    assert sorted(path.name for path in tmp_path.glob("[!.]*")) == [f"ben+l04+{time}+1", f"ben+l04+{time}+3"]
    assert len(left) == 3 and any("under the name 'cal' was made by the account 'ben'" in one for one in left)
    assert any("is not whole yet" in one for one in left)


@pytest.mark.parametrize("stamp", ["2031-01-05 09:00:00.000000 UTC", "tomorrow, perhaps", ""])
def test_a_hand_in_from_a_time_to_come_counts_from_when_it_was_made(tmp_path, monkeypatch, stamp):
    """A clock that was wrong, or a name that was made up: left so, it would count before all later ones, or end the
    collection. The instructor is told, and what is handed in afterwards is the newest."""
    monkeypatch.setattr(class_exchange, "_owner", lambda path: "ben")
    hand_in_ = tmp_path / f"ben+l04+{stamp}+1"
    hand_in_.mkdir()
    (hand_in_ / SECRET_NAME).touch()
    os.utime(hand_in_, (1_767_603_600, 1_767_603_600))
    (told,) = class_exchange.refuse_what_is_not_its_owners(tmp_path)
    assert "of 'ben' says that it is of" in told and "2026-01-05 09:00:00.000000 UTC, when it was made" in told
    assert [path.name for path in tmp_path.iterdir()] == ["ben+l04+2026-01-05 09:00:00.000000 UTC+1"]
    assert class_exchange.refuse_what_is_not_its_owners(tmp_path) == []


def test_a_line_of_the_check_says_what_to_do():
    """What is right ends with what was found; what is wrong has the way to put it right behind it."""
    assert str(check_up.CheckLine("disk", "9 MB free", "Free some")) == "WRONG  disk: 9 MB free. Free some"
    assert str(check_up.CheckLine("disk", "900 MB free")) == "right  disk: 900 MB free"
