"""Marking a class's letters: who waits, what helps, saving by criterion, and what the class run leaves alone."""

from __future__ import annotations

import asyncio
import http.cookiejar
import json
import re
import shutil
import threading
import urllib.error
import urllib.parse
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

import pytest
from tornado import httpserver, netutil

import course
from course.commands import make_class
from course.marking import server
from engine_sim import Event, EvidenceWriter, Header
from graders.bench.assignment import engine_of
from graders.classroom import class_list
from graders.classroom.marking import MarkingDesk
from graders.classroom.run import JUDGED, NEEDS_PERSON, Classroom
from graders.exercises.marking import MarkingError
from graders.nbgrader_bridge.marks import TABLE, counting, kept_marks, marks_that_count
from tests.submissions.hostile import source_of_one_lesson

LESSON, LETTER, CLASS = "l09_answer_the_letter", "l09_answer", "evening"
CREATED = "2026-01-05T09:00:00+00:00"
SCRIPT = "<script>alert(1)</script> Dear Marit, first of all: come out from under it."
LETTERS = {"a1": SCRIPT, "b2": "Dear Sir, drive it hard.", "c3": "Dear friend, what does the gauge show?", "d4": ""}
FULL = dict.fromkeys(("safe", "readings", "right", "followed", "honest"), 2)

pytestmark = [pytest.mark.classroom, pytest.mark.usefixtures("schema_asked_once")]


def hand_in(root, learner, letter, number=0):
    """Lay down a hand-in with a letter, or none, and nothing else."""
    folder = root / "submitted" / learner / LESSON
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(root / "release" / LESSON, folder)
    drawn = engine_of(Header(learner, LESSON, CLASS, "", CREATED), course.ENGINES, "hill_hauler_eight")
    writer = EvidenceWriter(folder / "evidence.jsonl", Header(learner, LESSON, CLASS, drawn.card.digest, CREATED))
    if letter:
        writer.append(Event(1.0 + number, LETTER, "answer", letter))


@pytest.fixture(scope="module")
def judged(tmp_path_factory):
    """A class of four on a list, three letters among them, judged once."""
    place = tmp_path_factory.mktemp("marking")
    (place / "list.csv").write_text("id,first_name,last_name\na1,Ada,Berg\nb2,Ben,Lind\nc3,Cleo,Dahl\nd4,,\n", "utf-8")
    root = place / CLASS
    make_class.make(root, place / "list.csv", source=source_of_one_lesson(place / "lessons", LESSON))
    for learner, letter in LETTERS.items():
        hand_in(root, learner, letter)
    Classroom(root).judge(LESSON)
    return root


@pytest.fixture
def root(judged, tmp_path):
    """A copy to mark."""
    return shutil.copytree(judged, tmp_path / CLASS)


def mark(root, learner, marker="Ida", unsafe=False, comment="", **levels):
    """Mark one letter: all points, but for the levels that are given."""
    desk = MarkingDesk(root)
    return desk.save(desk.answer(desk.place(LESSON, LETTER, learner)), FULL | levels, unsafe, comment, marker)


def grade_of(root, learner):
    """What the gradebook has of a letter: points by hand, whether it waits, the comment, and every person's mark."""
    with Classroom(root).course.gradebook() as gradebook:
        grade = gradebook.find_grade(LETTER, LESSON, LESSON, learner)
        comment = gradebook.find_comment(LETTER, LESSON, LESSON, learner)
        return grade.manual_score, grade.needs_manual_grade, comment.manual_comment, kept_marks(gradebook.db, grade.id)


def page_of(root, learner):
    """The learner's page, made again where it is out of date."""
    classroom = Classroom(root)
    (report,) = [one for one in classroom.standing(LESSON) if one.learner == learner]
    assert classroom.page(report) == ""
    return (root / "feedback" / learner / LESSON / f"{LESSON}.html").read_text(encoding="utf-8")


def test_the_letters_come_by_what_was_drawn_and_by_name(root):
    """Who wrote none is not there; names are the list's; letters to the same thing come one after the other."""
    places = MarkingDesk(root).places()
    assert {one.learner.id for one in places} == {"a1", "b2", "c3"} and all(one.waits for one in places)
    assert {one.learner.first_name for one in places} == {"Ada", "Ben", "Cleo"}
    drawn = [one.drawn for one in places]
    assert drawn == sorted(drawn) and all(len(one) == 1 and one[0].startswith("letter ") for one in drawn)


def test_all_that_helps_is_beside_the_answer(root):
    """The letter drawn, its danger, what fits best, the guide, and the rubric's samples; what was typed cannot act."""
    desk = MarkingDesk(root, server.GUIDE.read_text(encoding="utf-8"))
    answer = desk.answer(desk.place(LESSON, LETTER, "a1"))
    assert dict(answer.notes.about).keys() == {"danger", "what fits best"}
    assert answer.place.drawn[0].casefold() in answer.notes.given.casefold()
    assert "Ten points" in answer.notes.guide and "The writer would not know" not in answer.notes.guide
    assert [one["to"] for one in answer.notes.samples] == [answer.place.drawn[0]] * 3
    assert "<script" not in answer.text and "marked-for" not in answer.text and "come out" in answer.text
    assert answer.words == len(SCRIPT.split())


def test_a_mark_is_points_comment_and_criteria_and_the_learner_sees_all_three(root):
    """The gradebook has the sum after the limit; the page has every criterion with its words, and the limit's."""
    mark(root, "b2", unsafe=True, comment="Nobody drives it now.", readings=0)
    points, waits, comment, (kept,) = grade_of(root, "b2")
    assert (points, waits, comment) == (4.0, False, "Nobody drives it now.")
    assert [one.level for one in kept.mark.criteria] == [0, 0, 2, 2, 2] and kept.mark.sum == 6.0
    page = page_of(root, "b2")
    assert "Nobody drives it now." in page and "4 points at most in all" in page and "All points: " in page
    assert page.count('<li class="met"><strong>') == 3 and "Marked for:" not in page


def test_the_page_follows_the_criteria_though_the_sum_is_the_same(root):
    """One point moved from one criterion to another makes the page again."""
    mark(root, "a1", safe=1)
    before = page_of(root, "a1")
    mark(root, "a1", honest=1)
    assert page_of(root, "a1") != before and grade_of(root, "a1")[0] == 9.0


def test_judging_again_keeps_marks_and_a_new_letter_asks_for_a_second_look(root):
    """The same hand-in judged again stays settled; another letter waits again, with the mark of the one before."""
    mark(root, "a1", safe=1)
    reports = {one.learner: one.status for one in Classroom(root, again=True).judge(LESSON)}
    points, waits, _, (kept,) = grade_of(root, "a1")
    assert (reports["a1"], reports["b2"]) == (JUDGED, NEEDS_PERSON)
    assert (points, waits, kept.mark.criteria[0].level) == (9.0, False, 1)
    hand_in(root, "a1", "Dear Anselm, I have thought again.", number=1)
    Classroom(root).judge(LESSON)
    desk = MarkingDesk(root)
    answer = desk.answer(desk.place(LESSON, LETTER, "a1"))
    assert answer.place.waits and answer.is_new and answer.counts.mark.points == 9.0 and "thought again" in answer.text
    assert "How it was marked" not in page_of(root, "a1")


def test_a_second_persons_mark_is_kept_beside_the_first(root):
    """The newest counts; each has a mark of their own, and what one gave first is replaced by what they give next."""
    mark(root, "c3", "Ida", right=1)
    mark(root, "c3", "Olaf", right=0, honest=0)
    mark(root, "c3", "Ida", right=2)
    points, _, _, kept = grade_of(root, "c3")
    assert points == 10.0 and [(one.marker, one.mark.points) for one in kept] == [("Ida", 10.0), ("Olaf", 6.0)]


def test_nothing_is_half_written(root, monkeypatch):
    """Where saving breaks in the middle, points, comment and criteria are as before."""
    mark(root, "a1", comment="first")
    monkeypatch.setattr("nbgrader.api.Gradebook.find_comment", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        mark(root, "a1", comment="second", safe=0)
    monkeypatch.undo()
    points, _, comment, (kept,) = grade_of(root, "a1")
    assert (points, comment, kept.mark.points) == (10.0, "first", 10.0)


def test_points_of_nbgraders_own_screen_win_over_criteria(root):
    """Where somebody types other points there, the criteria are not shown as though they made them."""
    mark(root, "a1")
    with Classroom(root).course.gradebook() as gradebook:
        gradebook.find_grade(LETTER, LESSON, LESSON, "a1").manual_score = 7.0
        gradebook.db.commit()
        assert marks_that_count(gradebook, LESSON, "a1") == {}
    points, _, _, kept = grade_of(root, "a1")
    assert counting(kept, points) is None and "How it was marked" not in page_of(root, "a1")


def test_marks_go_with_a_learner_who_is_merged_and_are_forgotten_with_one(root):
    """What was marked under another id is the learner's after a merge, and leaves no row when they are forgotten."""
    from graders.classroom.forgetting import forget

    mark(root, "a1", safe=1)
    classroom = Classroom(root)
    (root / "roster.csv").write_text("id,first_name,last_name\nz9,Ada,Berg\nb2,Ben,Lind\nc3,Cleo,Dahl\n", "utf-8")
    class_list.merge(classroom.course, "a1", "z9")
    assert grade_of(root, "z9")[3][0].mark.criteria[0].level == 1
    forget(classroom.course, "z9", "given_back")
    with classroom.course.gradebook() as gradebook:
        assert gradebook.db.execute(TABLE.select()).all() == []


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"safe": 3}, "'Safe' has no level yet"),
        ({"marker": "  "}, "needs the name"),
        ({"comment": "x" * 5000}, "5000 letters"),
    ],
)
def test_a_mark_that_cannot_be_is_refused(root, change, sentence):
    """One sentence, and nothing is written."""
    with pytest.raises(MarkingError, match=sentence):
        mark(root, "a1", **change)
    assert grade_of(root, "a1")[:2] == (None, True)


# ---- the page ----------------------------------------------------------------------------------------------------


class Browser:
    """A browser without script that keeps its cookies."""

    def __init__(self, port):
        self.base = f"http://localhost:{port}"
        cookies = urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
        self.opener = urllib.request.build_opener(cookies)

    def ask(self, path, data=None, **headers):
        """Status, address and text that come of a request."""
        body = urllib.parse.urlencode(data).encode() if data is not None else None
        try:
            reply = self.opener.open(urllib.request.Request(self.base + path, body, headers), timeout=60)
        except urllib.error.HTTPError as error:
            reply = error
        with reply:
            return reply.status, reply.url.removeprefix(self.base), reply.read().decode("utf-8")


@contextmanager
def served(root, key="the key", marker="Ida"):
    """The marking page of a class, served from a thread; a browser that has not been let in yet."""
    (socket,) = netutil.bind_sockets(0, "127.0.0.1")
    started, ended = threading.Event(), []

    async def run():
        stop = asyncio.Event()
        ended.append((asyncio.get_running_loop(), stop))
        httpserver.HTTPServer(server.application(server.Desk(root, marker), key)).add_sockets([socket])
        started.set()
        await stop.wait()

    thread = threading.Thread(target=lambda: asyncio.run(run()))
    thread.start()
    try:
        assert started.wait(60)
        yield Browser(socket.getsockname()[1])
    finally:
        loop, stop = ended[0]
        loop.call_soon_threadsafe(stop.set)
        thread.join()


def filled(page, **values):
    """The form's hidden field, and these values."""
    return {"_xsrf": re.search(r'name="_xsrf" value="([^"]+)"', page)[1], **values}


def test_only_who_has_the_key_gets_in_and_only_at_this_machine(root):
    """Without the key, from another address or without the form's own field nothing is shown or saved."""
    levels = {f"level-{name}": 2 for name in FULL}
    with served(root) as browser:
        assert browser.ask("/")[0] == browser.ask("/?token=another")[0] == browser.ask("/marking.js")[0] == 403
        status, address, page = browser.ask("/?token=the%20key")
        assert (status, address) == (200, "/") and "Ada Berg" in page
        assert browser.ask("/", Host="evil.example:80")[0] == 403
        assert browser.ask(f"/answer/{LESSON}/{LETTER}/a1", levels)[0] == 403
        status, _, page = browser.ask(f"/answer/{LESSON}/{LETTER}/nobody")
        assert status == 500 and "no answer of &#39;nobody&#39;" in page
    assert grade_of(root, "a1")[:2] == (None, True)


def test_marking_a_whole_class_press_by_press(root):
    """Each saving leads to the next that waits, and the last to the list; the sum is the server's own."""
    with served(root) as browser:
        _, _, page = browser.ask("/?token=the%20key")
        address = re.search(r'class="button" href="([^"]+)"', page)[1]
        seen = []
        for _ in range(3):
            _, _, page = browser.ask(address)
            assert 'http-equiv="refresh"' not in page and "<script>" not in page and "style=" not in page
            form = filled(page, **{f"level-{name}": 1 for name in FULL}, comment="One step, one line.")
            reply = json.loads(browser.ask(address.split("?")[0].replace("/answer/", "/sum/"), form)[2])
            assert reply == {"words": "5 of 10 points", "whole": True}
            seen.append(address.split("?")[0])
            status, address, _ = browser.ask(address.split("?")[0], form)
            assert status == 200
        assert len(set(seen)) == 3 and address.startswith("/?saved=")
        _, _, page = browser.ask(address)
        assert "Every answer has its mark." in page and "Saved:" in page
        _, _, page = browser.ask(seen[0])
        assert "Used before in this class" in page and page.count(" checked") == 5
    assert {grade_of(root, learner)[0] for learner in ("a1", "b2", "c3")} == {5.0}


def test_a_form_that_cannot_be_saved_comes_back_as_it_was_filled_in(root):
    """A missing level is named, and neither levels nor comment are lost."""
    with served(root) as browser:
        browser.ask("/?token=the%20key")
        where = f"/answer/{LESSON}/{LETTER}/b2"
        form = filled(browser.ask(where)[2], **{"level-safe": 1, "unsafe": "yes"}, comment="Half <b>done</b>")
        status, _, page = browser.ask(where, form)
        assert status == 400 and "has no level yet" in page and "Half &lt;b&gt;done&lt;/b&gt;" in page
        assert page.count(" checked") == 2
        reply = json.loads(browser.ask(where.replace("/answer/", "/sum/"), form)[2])
        assert reply == {"words": "4 of 5 still to mark", "whole": False}


def test_sheets_for_paper_have_the_answer_and_every_level(root):
    """One sheet for each letter that waits, with name, danger, letter, levels and the limit; no script at all."""
    mark(root, "a1")
    with served(root) as browser:
        browser.ask("/?token=the%20key")
        _, _, page = browser.ask(f"/paper/{LESSON}/{LETTER}")
    assert page.count('<section class="sheet">') == 2 and "Ben Lind" in page and "Ada Berg" not in page
    assert page.count('class="box"') == 2 * (15 + 1) and page.count("4 points at most in all") == 2
    assert "<script" not in page


def test_a_second_person_sees_where_the_first_differs(root):
    """Once both have marked, the other's level is shown under each criterion in which they differ."""
    mark(root, "c3", "Olaf", right=0)
    where = f"/answer/{LESSON}/{LETTER}/c3"
    with served(root) as browser:
        browser.ask("/?token=the%20key")
        assert "differs" not in browser.ask(where)[2]
        mark(root, "c3", "Ida", safe=2)
        page = browser.ask(where)[2]
    assert page.count("differs") == 1 and "Olaf: 0" in page


def test_a_whole_class_is_marked_by_the_keyboard(root, chromium_path):
    """In a browser: a digit sets the level and goes on, U marks what could hurt, C is for the comment, Enter saves and
    goes to the next; the page fits its window, runs nothing that was typed and reports no error."""
    with served(root) as browser, ThreadPoolExecutor(1) as apart:
        said, width, errors = apart.submit(marked_by_keyboard, chromium_path, browser.base).result()
    assert said == ["4 of 10 points: the criteria add up to 6, and the limit leaves 4", "Every answer has its mark."]
    assert width <= 1024 and errors == []
    found = {learner: grade_of(root, learner) for learner in ("a1", "b2", "c3")}
    assert sorted(one[0] for one in found.values()) == [4.0, 10.0, 10.0]
    assert [one[2] for one in found.values() if one[0] == 4.0] == ["Stop first.\nSay what to look for."]


def marked_by_keyboard(chromium_path, base):
    """Mark three letters with keys alone: what the page said of the first and at the end, its width, and errors."""
    from playwright.sync_api import expect, sync_playwright

    from tests.browser.conftest import FLAGS

    errors: list[str] = []
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=chromium_path, args=list(FLAGS))
        page = chromium.new_page(viewport={"width": 1024, "height": 768})
        page.on("console", lambda message: errors.append(message.text))
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on("dialog", lambda dialog: (errors.append(dialog.message), dialog.dismiss()))
        page.goto(f"{base}/?token=the%20key")
        expect(page.get_by_text("Mark the next answer")).to_be_focused()
        page.keyboard.press("Enter")
        page.wait_for_selector("form.by-keys")
        page.wait_for_load_state()
        width = page.evaluate("document.documentElement.scrollWidth")
        for key in ("2", "1", "ArrowUp", "0", "2", "2", "2", "u", "c"):
            page.keyboard.press(key)
        page.keyboard.type("Stop first.\nSay what to look for.")
        expect(page.locator(".sum")).to_contain_text("the limit leaves")
        said = [page.inner_text(".sum")]
        page.keyboard.press("Control+Enter")
        for _ in range(2):
            expect(page.locator("input[type=radio]:checked")).to_have_count(0)
            page.wait_for_selector("form.by-keys")
            page.wait_for_load_state()
            for _criterion in range(5):
                page.keyboard.press("2")
            page.keyboard.press("Enter")
            page.wait_for_selector(".saved")
        said.append(page.get_by_text("Every answer has its mark.").inner_text())
        chromium.close()
    return said, width, errors
