"""The pages around the lessons: home, glossary, and the printed sheets."""

from __future__ import annotations

import asyncio
import os
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Any

from tornado import web
from voila.handler import BaseVoilaHandler

import course
from course.authoring.glossary_links import terms
from course.learner.at_a_hub import LIVE, at_a_hub, newest_page
from course.learner.lesson_folder import learner_of
from course.learner.progress import kept_progress
from course.owner.written_sheet import SHEET_NAME

from .lesson_list import LessonEntry, lessons_in, other_notebooks, where_you_were
from .style import page_style

SHEET_LESSON = "l10_your_own_engine"
GIVEN_BACK = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; sandbox"
PRINTED = "default-src 'none'; style-src 'unsafe-inline'; sandbox allow-modals"  # a sheet needs no script


class JudgeBehind:
    """Brings the progress of a folder up to date in a process of its own, one at a time."""

    def __init__(self, folder: Path):
        self.folder = folder
        self._lock = asyncio.Lock()
        self._process: asyncio.subprocess.Process | None = None

    async def up_to_date(self) -> None:
        """Return when every lesson has been judged as it stands."""
        async with self._lock:
            self._process = await asyncio.create_subprocess_exec(
                *(sys.executable, "-m", "course.learner.progress", str(self.folder)),
                stdin=asyncio.subprocess.DEVNULL,
                cwd=course.HERE.parent,
            )
            await self._process.wait()

    def end(self) -> None:
        """End the process, where one runs."""
        if self._process is not None and self._process.returncode is None:
            self._process.kill()


def write_page(handler: BaseVoilaHandler, template: str, **values: Any) -> None:
    """Answer a request with the page that a template makes of these values."""
    page = handler.settings["voila_jinja2_env"].get_template(template)
    style = page_style() + values.pop("more_style", "")
    way_out = handler.settings.get("plain_page_way_out", "")
    handler.write(page.render(base_url=handler.base_url, style=style, way_out=way_out, **values))


class Page(BaseVoilaHandler):
    """A page made from a template."""

    @property
    def folder(self) -> Path:
        """The learner's folder."""
        return Path(self.settings["plain_page_folder"])

    def show(self, template: str, **values: Any) -> None:
        """Write the page."""
        write_page(self, template, **values)


class Home(Page):
    """Where a learner begins and goes on."""

    @web.authenticated
    def get(self) -> None:
        """Write the home page of what is in the folder now."""
        self.write_home()

    def write_home(self) -> None:
        """Write it, with how far each lesson was when it was last judged."""
        lessons = lessons_in(self.folder)
        self.show(
            "home.html.j2",
            lessons=lessons,
            go_on=where_you_were(lessons, self.folder),
            learner=learner_of(self.folder),
            others=other_notebooks(self.folder),
            returned={one.lesson for one in lessons if newest_page(self.folder / one.lesson)},
            waits_for_class=at_a_hub(),
            watched=os.environ.get(LIVE, ""),
            forgery_token=self.xsrf_token.decode(),
            points=sum(one.points for one in lessons),
            earned=sum(one.progress.points for one in lessons),
        )


class ProgressNow(Page):
    """How far each lesson is, as the judge sees it now."""

    @web.authenticated
    async def get(self) -> None:
        """Write it as JSON, once everything that changed has been judged."""
        await self.settings["plain_page_judge"].up_to_date()
        kept = kept_progress(self.folder)
        self.write({one.lesson: asdict(kept[one.lesson]) for one in lessons_in(self.folder) if one.lesson in kept})


class LayOutAgain(Page):
    """Today's edition of a lesson in the place of another; the notebook that is there is kept beside it."""

    @web.authenticated
    async def post(self, lesson: str) -> None:
        """Lay the lesson out and go home; the request bears the page's own token against forgery."""
        wanted = next((one for one in lessons_in(self.folder) if one.lesson == lesson and one.replaceable), None)
        if wanted is None:
            raise web.HTTPError(404)
        process = await asyncio.create_subprocess_exec(
            *(sys.executable, "-m", "course.authoring.lay_out_again", str(self.folder), wanted.lesson),
            stdin=asyncio.subprocess.DEVNULL,
            cwd=course.HERE.parent,
        )
        if await process.wait():
            raise web.HTTPError(500)
        self.redirect(self.base_url)


class Glossary(Page):
    """The words of the course, to be searched."""

    @web.authenticated
    def get(self) -> None:
        """Write all words."""
        self.show("glossary.html.j2", terms=terms())


class Returned(Page):
    """What the instructor gave back of a lesson: the newest page, of which nothing is run."""

    @web.authenticated
    def get(self, lesson: str) -> None:
        """Write the page."""
        known = {one.lesson for one in lessons_in(self.folder)}
        path = newest_page(self.folder / lesson) if lesson in known else None
        if path is None:
            raise web.HTTPError(404)
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.set_header("Content-Security-Policy", GIVEN_BACK)
        self.write(path.read_text(encoding="utf-8"))


class Printed(Page):
    """A sheet to print: the course's reference card, or the one that the learner made for an engine of their own."""

    @web.authenticated
    def get(self, name: str) -> None:
        """Write the sheet; nothing in it is run."""
        path = (
            course.AUTHORING / "reference_card.html"
            if name == "reference-card"
            else self.folder / SHEET_LESSON / SHEET_NAME
        )
        if not path.is_file():
            raise web.HTTPError(404)
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.set_header("Content-Security-Policy", PRINTED)
        self.write(path.read_text(encoding="utf-8"))


def place_of(lesson: LessonEntry | None, exercise: str) -> str:
    """The address of an exercise below the home page; nothing where its lesson is not here."""
    return f"lesson/{lesson.lesson}#{exercise}" if lesson else ""
