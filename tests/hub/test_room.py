"""A class at its hub, through Chromium: the whole cycle, what is refused, and what happens when something dies."""

from __future__ import annotations

import json
import os
import pwd
import shutil
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

from playwright.sync_api import Error, expect

from course.commands.make_class import make
from course.hub.command import run
from course.hub.room import Room
from course.hub.running import LEARNERS_PROGRAM, as_grader, hub_process
from course.learner.hand_in_archive import look_through, make_archive
from engine_sim import read_evidence
from tests.hub.conftest import LESSON, ROSTER
from tests.scripted_learner import Habits, evidence_by

TITLE = "Base timing by vacuum gauge and tachometer"
WAIT_MS = 120_000
CHOICES = {"ada": "adds_up", "ben": "adds_up", "cal": "peak_is_right"}


def open_lesson(page) -> None:
    """From the home page to the lesson, until its forms are there."""
    page.get_by_role("link", name=TITLE, exact=True).click()
    page.locator(".cf-hand-in").wait_for(timeout=WAIT_MS)
    page.locator(".cf-choice").first.wait_for(timeout=WAIT_MS)


def answer(page, value: str | None) -> None:
    """Choose in the first question, the last choice where none is named, and record it."""
    card = page.locator(".cf-choice").first
    choice = card.locator(f"input[type=radio][value={value}]") if value else card.locator("input[type=radio]").last
    choice.check()
    card.locator(".cf-press").click()
    card.locator(".cf-criterion").first.wait_for(timeout=WAIT_MS)


def hand_in(page) -> None:
    """Press the one button until the exchange has it."""
    card = page.locator(".cf-hand-in")
    card.locator("button").first.click()
    anyway = card.get_by_role("button", name="all the same")
    said = card.locator(".cf-said", has_text="Handed in:")
    anyway.or_(said).first.wait_for(timeout=WAIT_MS)
    if anyway.is_visible():
        anyway.click()
    expect(said).to_be_visible(timeout=WAIT_MS)


def kernels_end(who: str) -> None:
    """Wait until no program of a learner's is behind a page any more, which no page is open for."""
    until = time.monotonic() + 60
    while len(programs_of(who)) > 2:  # the server, and the parent of the programs behind its pages
        assert time.monotonic() < until, f"a program of {who}'s goes on without a page"
        time.sleep(0.2)


def programs_of(who: str) -> list[int]:
    """The numbers of a learner's server, and of what was forked for it, the server first."""
    found = subprocess.run(
        ["pgrep", "-u", who, "-f", LEARNERS_PROGRAM.decode()], stdout=subprocess.PIPE, text=True, check=False
    )
    return sorted(map(int, found.stdout.split()))


def assert_is_the_learners(pid: int, who: str) -> None:
    """A program runs under the learner's account in every way, has no right of the superuser's, and its limits."""
    status = dict(line.split(":\t", 1) for line in Path(f"/proc/{pid}/status").read_text().splitlines())
    account = pwd.getpwnam(who)
    assert {*status["Uid"].split()} == {str(account.pw_uid)} and {*status["Gid"].split()} == {str(account.pw_gid)}
    assert {*status["Groups"].split()} == {*map(str, os.getgrouplist(who, account.pw_gid))}
    assert int(status["CapEff"], 16) == int(status["CapPrm"], 16) == 0
    limits = Path(f"/proc/{pid}/limits").read_text()
    assert "Max address space         1500000000" in limits and "Max processes             300" in limits


def counted(said: str) -> dict[str, list]:
    """What `grade --json` says of each learner."""
    return {
        one["learner"]: [one["points"], one["max_points"], one["to_mark"], one["questions"], one["status"]]
        for one in json.loads(said)["hand_ins"]
        if one["lesson"] == LESSON
    }


def press_at_desk(page, running, name: str, said: str) -> None:
    """Press a button of the desk and wait for what came of it."""
    page.goto(running.room.here.rstrip("/") + running.room.desk_prefix)
    page.get_by_role("button", name=name).click()
    expect(page.locator("pre")).to_contain_text(said, timeout=WAIT_MS)


def test_the_whole_cycle(running):
    """Handed out, worked on, handed in, collected, judged, marked and given back, all on pages: the grades are those of
    the same class without a hub, and each learner finds the own page, and no screen but the lessons'."""
    desk = running.page("ines")
    expect(desk).to_have_url(running.room.here.rstrip("/") + running.room.desk_prefix, timeout=WAIT_MS)
    desk.get_by_role("button", name=f"Hand out {LESSON}").click()
    expect(desk.locator("pre")).to_contain_text("is handed out", timeout=WAIT_MS)
    place = running.lesson_of("ada")
    running.as_account("ada", "-c", f"import os; os.makedirs({str(place)!r})")
    evidence_by(place / "evidence.jsonl", "ada", Habits(), "spring")
    shutil.chown(place / "evidence.jsonl", "ada", "ada")
    for who, choice in CHOICES.items():
        page = running.page(who)
        page.locator(".pp-lesson").first.wait_for(timeout=WAIT_MS)
        assert (running.lesson_of(who).parent / "reference_card.html").is_file()
        open_lesson(page)
        answer(page, choice)
        if who == "ada":
            field = page.locator(".cf-written-field").first
            field.fill("I set the highest vacuum first and then backed off, so that it does not ping on a hill.")
            page.locator(".cf-written .cf-press").first.click()
            page.wait_for_timeout(1500)
        hand_in(page)
        assert read_evidence(running.lesson_of(who) / "evidence.jsonl").header.learner == who
        assert page.locator("text=Formgrader").count() == page.locator("text=Create Assignment").count() == 0
    press_at_desk(desk, running, "Collect and judge", "hand-in(s)")
    at_hub = counted(as_grader(running.room, ["grade", str(running.room.class_folder), "--json"]).stdout)

    apart = Path("/srv/apart/spring")
    Path("/srv/apart").mkdir()
    Path("/srv/apart/list.csv").write_text(ROSTER, encoding="utf-8")
    make(apart, Path("/srv/apart/list.csv"))
    for who in CHOICES:
        make_archive(look_through(running.lesson_of(who)), Path("/srv/apart/archives"))
    command = [sys.executable, "-c", "from course.cli import main; main()"]
    subprocess.run([*command, "collect", apart, "/srv/apart/archives"], check=True, stdout=subprocess.DEVNULL)
    graded = subprocess.run([*command, "grade", apart, "--json"], check=False, stdout=subprocess.PIPE, text=True)
    assert at_hub == counted(graded.stdout)
    assert at_hub["ada"][0] > at_hub["ben"][0] > at_hub["cal"][0] == 0
    assert at_hub["ada"][2]  # the written answer waits

    desk.goto(running.room.here.rstrip("/") + running.room.desk_prefix)
    desk.get_by_role("link", name="Mark written answers").click()
    desk.get_by_role("link", name="Mark the next answer").click()
    for group in desk.locator("fieldset").all():
        group.locator("input[type=radio]").last.check()
    expect(desk.locator(".sum")).to_contain_text("of", timeout=WAIT_MS)
    desk.get_by_role("button", name="Save and next").click()
    expect(desk.locator(".saved")).to_contain_text("Saved", timeout=WAIT_MS)
    marked = counted(as_grader(running.room, ["grade", str(running.room.class_folder), "--json"]).stdout)
    assert marked["ada"][0] > at_hub["ada"][0] and not marked["ada"][2]

    press_at_desk(desk, running, "Give back", "3 learner(s) find their pages")
    for who in CHOICES:
        page = running.page(who)
        page.goto(f"{running.room.here}user/{who}/")
        kernels_end(who)
        page.get_by_role("link", name="What your instructor gave back").click(timeout=WAIT_MS)
        expect(page.locator("body")).to_contain_text(f"{marked[who][0]:g}", timeout=WAIT_MS)
    press_at_desk(desk, running, "Make the report", LESSON)
    desk.goto(running.room.here.rstrip("/") + running.room.desk_prefix + "report")
    expect(desk.locator("body")).to_contain_text("ada")


SUBMIT_AS = """
import os, pathlib
from course.hub.handing_in import exchange_step
from nbgrader.exchange.default import ExchangeSubmit
step = exchange_step(ExchangeSubmit, pathlib.Path.home(), {lesson!r})
step.coursedir.student_id = {claimed!r}
step.start()
"""


def lay_out(running, who: str) -> None:
    """The lesson in a learner's folder, with an answer, as the learner's own server leaves it."""
    running.hand_out()
    running.as_account(
        who,
        "-c",
        "from pathlib import Path; from course.hub.learner_server import bring_lessons; "
        f"bring_lessons(Path.home() / {running.room.name!r})",
    )
    path = running.lesson_of(who) / "evidence.jsonl"
    if not path.exists():
        evidence_by(path, who, Habits(), "spring")
        shutil.chown(path, who, who)


def test_a_hand_in_under_anothers_name_is_refused(running):
    """What ben hands in as cal is put aside and named, and what cal handed in counts; a link in a hand-in is not
    followed."""
    for who in ("ben", "cal"):
        lay_out(running, who)
    inbound = running.room.exchange / "spring" / "inbound"
    assert "Handed in" in running.as_account("cal", "-m", "course.hub.handing_in", LESSON)
    own = (running.lesson_of("cal") / "evidence.jsonl").read_bytes()
    running.as_account("ben", "-c", SUBMIT_AS.format(lesson=LESSON, claimed="cal"))
    said = running.collect()
    assert "under the name 'cal' was made by the account 'ben'" in said
    assert (running.room.class_folder / "submitted" / "cal" / LESSON / "evidence.jsonl").read_bytes() == own
    secret, before = running.room.class_folder / "gradebook.db", set(inbound.glob("cal+*"))
    running.as_account("cal", "-m", "course.hub.handing_in", LESSON)
    (newest,) = set(inbound.glob("cal+*")) - before
    running.as_account("cal", "-c", f"import os; os.chdir({str(newest)!r}); os.remove('class.toml'); "
                       f"os.symlink({str(secret)!r}, 'class.toml')")  # fmt: skip
    running.collect()
    assert not (running.room.class_folder / "submitted" / "cal" / LESSON / "class.toml").exists()


def test_what_is_anothers_is_closed(running):
    """A learner comes into nobody's folder, the class's, the gradebook, the exchange's list or the hub's files; not
    into another's server, the desk or its marking; and nobody into the grader's account."""
    lay_out(running, "ada")
    closed = [
        running.lesson_of("ada") / "evidence.jsonl",
        running.room.class_folder / "gradebook.db",
        running.room.class_folder / "roster.csv",
        running.room.hub / "passwords.csv",
        running.room.hub / "jupyterhub.sqlite",
    ]
    tried = """import sys
for path in sys.argv[1:]:
    for mode in ("rb", "ab"):
        try:
            open(path, mode)
            print("OPEN", path)
        except PermissionError:
            pass"""
    assert running.as_account("ben", "-c", tried, *closed) == ""
    listing = running.room.exchange / "spring" / "inbound"
    assert "PermissionError" in running.as_account("ben", "-c", f"import os; os.listdir({str(listing)!r})")
    running.page("ada").locator(".pp-lesson").first.wait_for(timeout=WAIT_MS)
    ben = running.page("ben")
    ben.locator(".pp-lesson").first.wait_for(timeout=WAIT_MS)
    here, desk = running.room.here.rstrip("/"), running.room.desk_prefix
    for path in ("/user/ada/", desk, f"{desk}mark/", f"{desk}report"):
        answer = ben.goto(here + path)
        assert answer is not None and answer.status in (403, 404), path
        assert "gradebook" not in ben.content()
    sent = ben.request.post(f"{here}{desk}", form={"step": "collect"})
    assert sent.status == 403
    assert ben.request.get(f"{here}/hub/admin").status == 403
    shell = ben.request.get(f"{here}/user/ben/terminals/1")
    assert shell.status == 404  # nothing is served but the pages
    subprocess.run(["chpasswd"], input=f"{running.room.grader}:very-well-known\n", text=True, check=True)
    page = running.browser.new_context().new_page()
    running.log_in(page, running.room.grader, "very-well-known")
    expect(page.locator("body")).to_contain_text("Invalid username or password", timeout=WAIT_MS)
    running.log_in(page, "ada", running.passwords["ben"])
    expect(page.locator("body")).to_contain_text("Invalid username or password", timeout=WAIT_MS)
    page.context.close()


def test_a_hub_that_is_killed_loses_nothing(running):
    """The hub is killed while a learner works: the next answer is kept, the command starts it again, the learner goes
    on in the same page and hands in; a learner's server that is killed comes back with all that was done."""
    lay_out(running, "ada")
    page = running.page("ada")
    open_lesson(page)
    path = running.lesson_of("ada") / "evidence.jsonl"
    before = len(read_evidence(path).events)
    for program in programs_of("ada"):
        assert_is_the_learners(program, "ada")
    pid = hub_process(running.room)
    assert pid is not None
    os.kill(pid, signal.SIGKILL)
    page.locator(".cf-choice").first.locator("input[type=radio]").first.check()
    assert run("start", running.room.folder) == 0
    answer(page, None)
    until = time.monotonic() + 120  # the page finds its way back to the program by itself
    while len(read_evidence(path).events) == before:
        assert time.monotonic() < until, "what was answered after the hub came back was not kept"
        page.wait_for_timeout(200)
    events = read_evidence(path).events
    hand_in(page)
    programs = programs_of("ada")
    os.kill(programs[0], signal.SIGKILL)
    until = time.monotonic() + 30
    while set(programs) & set(programs_of("ada")):
        assert time.monotonic() < until, "a program outlives its server"
        time.sleep(0.1)
    until = time.monotonic() + 120  # the hub looks every ten seconds whether a server is there
    while not page.locator(".pp-lesson").count():
        assert time.monotonic() < until, "a server that was killed did not come back"
        with suppress(Error):  # the page being left may go on by itself, which breaks off where it is sent
            page.goto(f"{running.room.here}hub/spawn/ada")
        page.wait_for_timeout(3000)
    assert len(read_evidence(path).events) >= len(events)


def test_a_hand_in_from_a_time_to_come_is_said(running):
    """A hand-in that was made while the clock was wrong does not count before the next one, and the instructor is told;
    both are collected."""
    lay_out(running, "cal")
    assert "Handed in" in running.as_account("cal", "-m", "course.hub.handing_in", LESSON)
    inbound = running.room.exchange / "spring" / "inbound"
    made = max(inbound.glob("cal+*"))
    learner, lesson, _, random = made.name.split("+")
    made.rename(inbound / f"{learner}+{lesson}+2031-01-05 09:00:00.000000 UTC+{random}")
    assert "says that it is of 2031-01-05" in running.collect()
    submitted = running.room.class_folder / "submitted" / "cal" / LESSON
    first = (submitted / "timestamp.txt").read_text(encoding="utf-8")
    assert "2031" not in first
    assert "Handed in" in running.as_account("cal", "-m", "course.hub.handing_in", LESSON)
    running.collect()
    assert (submitted / "timestamp.txt").read_text(encoding="utf-8") > first


def test_a_full_exchange_is_said(running):
    """Where nothing more fits into the exchange, the learner reads so, no half hand-in is left, and nothing is lost."""
    lay_out(running, "ben")
    inbound = running.room.exchange / "spring" / "inbound"
    grader = inbound.stat()
    options = f"size=4k,mode=3733,uid={grader.st_uid},gid={grader.st_gid}"
    subprocess.run(["mount", "-t", "tmpfs", "-o", options, "none", inbound], check=True)
    try:
        said = running.as_account("ben", "-m", "course.hub.handing_in", LESSON)
        left = list(inbound.iterdir())
    finally:
        subprocess.run(["umount", inbound], check=True)
    assert "is full" in said and "Nothing of yours is lost" in said and left == []
    assert "Handed in" in running.as_account("ben", "-m", "course.hub.handing_in", LESSON)


def test_the_command_again_with_another_list(running):
    """A learner who comes gets an account, one who goes is not let in any more, and work under way is not disturbed."""
    home = Path("/home/ben")
    roster = Path("/srv/other.csv")
    roster.write_text(ROSTER.replace("cal,Cal,Fern", "dot,Dot,Lane"), encoding="utf-8")
    cal = running.passwords["cal"]
    try:
        assert run("start", running.room.folder, roster) == 0
        page = running.browser.new_context().new_page()
        running.log_in(page, "cal", cal)
        expect(page.locator("body")).to_contain_text("Invalid username or password", timeout=WAIT_MS)
        running.log_in(page, "dot", running.passwords["dot"])
        page.locator(".pp-main").wait_for(timeout=WAIT_MS)
        assert home.stat().st_mode & 0o777 == 0o700
        assert Room.of(running.room.folder).settings.learners == ("ada", "ben", "dot")
    finally:
        roster.write_text(ROSTER, encoding="utf-8")
        assert run("start", running.room.folder, roster) == 0
    page.goto(f"{running.room.here}hub/home")  # dot, who was logged in and is gone from the list
    expect(page.locator("#username_input")).to_be_visible(timeout=WAIT_MS)
    page.context.close()


def test_the_check_up_says_what_is_wrong_and_how_to_put_it_right(running, capsys):
    """A room as the command leaves it is all right; each thing that is spoilt gets its line, with its way."""
    running.hand_out()
    assert run("check", running.room.folder) == 0, capsys.readouterr().out
    capsys.readouterr()
    inbound = running.room.exchange / "spring" / "inbound"
    os.chmod(inbound, 0o755)
    os.chmod("/home/ada", 0o755)
    try:
        assert run("check", running.room.folder) == 1
        said = capsys.readouterr().out
    finally:
        os.chmod(inbound, 0o3733)
        os.chmod("/home/ada", 0o700)
    assert f"'chmod 3733 {inbound}'" in said and "'chmod 700 /home/ada'" in said and "2 thing(s)" in said


def test_the_live_view_is_told_and_shows_steps(running):
    """Switched on, it shows where a learner is, says so to the learner, and takes no report under another's name."""
    lay_out(running, "ada")
    restart(running, live=True)
    try:
        page = running.page("ada")
        expect(page.locator(".pp-main")).to_contain_text("your instructor sees at which lesson", timeout=WAIT_MS)
        open_lesson(page)
        answer(page, None)
        desk = running.page("ines")
        desk.get_by_role("link", name="Who is where").click(timeout=WAIT_MS)
        expect(desk.locator("tbody")).to_contain_text("l04_why_back_off", timeout=WAIT_MS)
        assert "adds_up" not in desk.content()
        prefix = running.room.desk_prefix
        forged = desk.request.post(f"{running.room.here.rstrip('/')}{prefix}step", data="{}")
        assert forged.status == 403
    finally:
        restart(running, live=False)


def test_a_server_that_nobody_uses_ends_and_comes_back(running):
    """An open page counts as use, though nothing is done at it; a server without one is ended after its time, and
    somebody who loads a page of it finds it there again, with all that was done."""
    lay_out(running, "ada")
    restart(running, idle_minutes=1.2)
    try:
        page = running.page("ada")
        open_lesson(page)
        answer(page, None)
        place, events = page.url, len(read_evidence(running.lesson_of("ada") / "evidence.jsonl").events)
        server = programs_of("ada")[0]
        page.wait_for_timeout(100_000)
        assert programs_of("ada")[0] == server
        page.goto("about:blank")
        until = time.monotonic() + 240
        while programs_of("ada"):
            assert time.monotonic() < until, "a server that nobody uses goes on"
            time.sleep(0.5)
        page.goto(place)
        page.locator(".cf-hand-in").wait_for(timeout=WAIT_MS)
        page.locator(".cf-choice").first.wait_for(timeout=WAIT_MS)
        assert programs_of("ada")[0] != server
        assert len(read_evidence(running.lesson_of("ada") / "evidence.jsonl").events) == events
    finally:
        restart(running, idle_minutes=60.0)


def test_passwords_chosen_at_the_first_login_and_a_certificate(running):
    """Encrypted pages, and a password that the learner chooses at the first login: nobody else's name, and no other
    password, comes in after it; a lesson works as it does without encryption."""
    subject = ("-subj", "/CN=localhost", "-days", "2", "-nodes", "-newkey", "rsa:2048")
    files = ("/srv/own.crt", "/srv/own.key")
    made = ["openssl", "req", "-x509", *subject, "-out", files[0], "-keyout", files[1]]
    subprocess.run(made, check=True, capture_output=True)
    lay_out(running, "cal")
    restart(running, passwords="first-use", certificate=files)

    def visits(who: str, password: str):
        page = running.browser.new_context(ignore_https_errors=True).new_page()
        running.log_in(page, who, password)
        return page

    try:
        assert running.room.here.startswith("https:")
        cal = visits("cal", "chosen by cal alone")
        cal.locator(".pp-lesson").first.wait_for(timeout=WAIT_MS)
        open_lesson(cal)
        answer(cal, None)
        again = visits("cal", "chosen by cal alone")
        again.locator(".pp-lesson").first.wait_for(timeout=WAIT_MS)
        refused = [
            visits("cal", running.passwords["cal"]),
            visits("cal", "chosen by another"),
            visits("zoe", "whatever"),
        ]
        for page in refused:
            expect(page.locator("body")).to_contain_text("Invalid username or password", timeout=WAIT_MS)
        for page in (cal, again, *refused):
            page.context.close()
        assert run("check", running.room.folder) == 0
    finally:
        restart(running, passwords="pam", certificate=())


def restart(running, **chosen) -> None:
    """Close the room with all servers, and open it with something else chosen."""
    assert run("stop", running.room.folder) == 0
    assert run("start", running.room.folder, None, chosen) == 0
    running.room = Room.of(running.room.folder)
