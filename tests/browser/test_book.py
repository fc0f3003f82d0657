"""The book: made once, in a box without a network, then read page by page, and some of its pages in a browser."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest
from bs4 import BeautifulSoup

from course.authoring.edition import lessons
from course.authoring.glossary_links import terms
from course.authoring.lesson_pictures import pictures
from course.book.exercises import DONE_IN_THE_COURSE
from course.book.site import MARKER
from course.owner.cautions import CAUTIONS
from graders.exercises.loader import FOLDER, load_rubric
from tests.browser.axe import violations
from tests.every_case import check_every
from tests.tiers import ROOT

MAKE = "import sys; from course.cli import main; main()"
# Where a rubric says what is right or what an answer comes to. Nothing of it may stand in the book.
TELLING = ("sentence", "sentences", "samples", "marking", "unsafe", "misconceptions", "reference", "wrong", "before")
REMOTE = re.compile(r"""(?:src|href|url|from|import)\s*[=(]?\s*["']?\s*(?:https?:)?//""")


@pytest.fixture(scope="module")
def book(tmp_path_factory) -> Path:
    """The folder of the book, made where there is no network and nothing but a folder for it can be written."""
    place = tmp_path_factory.mktemp("book")
    folder, passing = place / "shelf" / "the book – книга", place / "passing"
    passing.mkdir()
    command = [sys.executable, "-c", MAKE, "book", str(folder)]
    box = shutil.which("bwrap")
    if box:
        command = [box, "--ro-bind", "/", "/", "--dev", "/dev", "--bind", place, place, "--unshare-net", *command]
    environment = {**os.environ, "TMPDIR": str(passing)}
    run = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=300)
    assert run.returncode == 0, run.stderr
    assert str(folder) in run.stdout
    return folder


@pytest.fixture(scope="module")
def pages(book) -> dict[str, BeautifulSoup]:
    """Every page, by its name."""
    return {path.name: BeautifulSoup(path.read_text(encoding="utf-8"), "html.parser") for path in book.glob("*.html")}


def broken_links(found: dict[str, BeautifulSoup], book: Path) -> list[str]:
    """Links and sources that lead nowhere in the book: another machine, a file or a place in it that is not there."""
    broken = []
    places = {name: {tag["id"] for tag in page.find_all(id=True)} for name, page in found.items()}
    for name, page in found.items():
        for tag in page.find_all(["a", "link", "script", "img", "use", "form", "iframe"]):
            address = tag.get("href") or tag.get("src") or tag.get("action") or ""
            parts = urlsplit(address)
            file, place = unquote(parts.path) or name, unquote(parts.fragment)
            there = not parts.scheme and not parts.netloc and (book / file).is_file()
            if there and place and file in found:
                there = place in places[file]
            if not there and address != "#":
                broken.append(f"{name}: {address}")
    return broken


def answers_of(lesson: str) -> Iterator[str]:
    """Every text of a lesson's rubric that tells what is right or why an answer is wrong."""
    content = tomllib.loads((FOLDER / f"{lesson}.toml").read_text(encoding="utf-8"))

    def texts(value: object, telling: bool) -> Iterator[str]:
        if isinstance(value, dict):
            for key, inner in value.items():
                yield from texts(inner, telling or key in TELLING)
        elif isinstance(value, list):
            for inner in value:
                yield from texts(inner, telling)
        elif isinstance(value, str) and telling and len(value) > 25:
            yield value

    yield from texts(content, False)


def told(lesson: str, text: str) -> list[str]:
    """The answers of a lesson that a text holds, braces or not: the longest piece between two braces counts."""
    pieces = (max(re.split(r"\{[^{}]*\}", one), key=len).strip() for one in answers_of(lesson))
    return [piece for piece in pieces if len(piece) > 25 and piece in text]


def nothing_told(lesson: str, text: str) -> None:
    """A text tells no answer of a lesson."""
    assert any(answers_of(lesson)) and told(lesson, text) == []


def test_every_link_leads_somewhere(book, pages):
    """Within the book alone, down to the place on a page; and a broken one would be found."""
    assert broken_links(pages, book) == []
    spoilt = BeautifulSoup(
        '<a href="glossary.html#term-none">x</a><img src="//elsewhere.invalid/x.png">', "html.parser"
    )
    assert len(broken_links({**pages, "index.html": spoilt}, book)) >= 2


def test_nothing_comes_from_elsewhere(book):
    """No page, style or script of the book names another machine as a source; a drawing's name for its grammar is
    none."""
    for path in sorted(book.rglob("*")):
        if path.suffix in (".html", ".css", ".js"):
            text = path.read_text(encoding="utf-8").replace("http://www.w3.org/", "")
            assert not REMOTE.search(text), path
    assert REMOTE.search('<script src="https://elsewhere.invalid/x.js">') and REMOTE.search("url(//elsewhere.invalid)")


def test_the_whole_course_is_in_it(pages):
    """Every lesson, exercise with its note, picture, caution and word; and no talk about the pages of the course."""
    text = {name: page.get_text(" ", strip=True) for name, page in pages.items()}

    def lesson_is_whole(lesson: str) -> None:
        page = pages[f"{lesson}.html"]
        shown = {section["id"]: section.get_text() for section in page.select("section.exercise")}
        assert set(shown) == set(load_rubric(lesson).exercises)
        assert all(DONE_IN_THE_COURSE in one for one in shown.values())
        assert page.find("blockquote") is not None and page.find("h1") is not None
        assert "First of all:" not in text[f"{lesson}.html"] and "Handing in." not in text[f"{lesson}.html"]
        assert "course.widgets" not in text[f"{lesson}.html"] and "{" not in text[f"{lesson}.html"]

    check_every(lesson_is_whole, [(lesson, lesson) for lesson in lessons()])
    drawn = {figure["aria-labelledby"].removesuffix("-title") for one in pages.values() for figure in one("figure")}
    assert drawn <= set(pictures()) and len(drawn) >= 15
    assert all(caution in text["index.html"] for caution in CAUTIONS)
    assert all(term.meaning in " ".join(text["glossary.html"].split()) for term in terms())
    assert "The method" in text["reference_card.html"]


def test_no_answer_is_told(pages):
    """Nothing of a rubric that says what is right or wrong stands on any page; and it would be found."""
    whole = " ".join(page.get_text(" ", strip=True) for page in pages.values())
    check_every(nothing_told, [(lesson, lesson, whole) for lesson in lessons()])
    assert told("l04_base_timing", "x The vacuum gauge was on a manifold source and the tachometer was connected. x")


def test_a_book_says_that_it_is_one(book):
    """By this it may be made again in its place; and nothing lies beside it."""
    assert (book / MARKER).is_file() and [path.name for path in book.parent.iterdir()] == [book.name]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["index", "l02_what_the_gauges_say"])
def test_axe_finds_nothing(book, browser, name, scheme):
    """On the front page and on a lesson with pictures, tables and exercises, in light and dark, on a phone's width."""
    page = browser.new_page(viewport={"width": 390, "height": 800}, color_scheme=scheme)
    page.goto((book / f"{name}.html").as_uri())
    paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
    found = violations(page)
    wide = page.evaluate("document.documentElement.scrollWidth")
    page.close()
    assert found == []
    assert (paper == "rgb(255, 255, 255)") is (scheme == "light")
    assert wide <= 390


def test_a_page_prints_without_what_is_around_it(book, browser):
    """On paper there are no menus, and the colours are the light ones, whatever the screen has."""
    page = browser.new_page(color_scheme="dark")
    page.goto((book / "l04_base_timing.html").as_uri())
    page.emulate_media(media="print", color_scheme="dark")
    seen = page.evaluate(
        """() => ['.sidebar-drawer', '.mobile-header', '.toc-drawer', '.related-pages', '.content-icon-container']
        .filter((part) => document.querySelector(part)?.checkVisibility())"""
    )
    ink = page.evaluate("getComputedStyle(document.querySelector('article')).color")
    page.close()
    assert seen == [] and ink == "rgb(29, 35, 39)"


def test_the_search_finds_words_from_a_folder(book, browser):
    """Opened as files, without a server: a word leads to its lessons."""
    page = browser.new_page()
    page.goto(f"{(book / 'search.html').as_uri()}?q=dwell")
    page.wait_for_selector("#search-results li a")
    titles = page.locator("#search-results li a").all_inner_texts()
    page.close()
    assert "Glossary" in titles and "Getting it to start" in titles
