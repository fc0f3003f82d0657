"""The pages of an owner's engines: description, sheet, and the file that is mailed. Nothing runs in a kernel here."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any

from tornado import web

from course.learner.chosen_units import chosen_units
from course.owner import fields, form
from course.owner.answer import answer_text, headings
from course.owner.band_picture import band_picture
from course.owner.cautions import CAUTIONS
from course.owner.filled_sheet import example_sheet, sheet_of, to_compare
from course.owner.kept_engines import ENDING, KeptEngines
from course.owner.practice_page import write_practice_page
from course.owner.sheet import Sheet, blank_sheet
from course.owner.sheet_page import sheet_page
from course.owner.where_to_look import drawing
from course.owner.work import Worked, share_in_words, shown_bands, work_out
from course.owner.written_sheet import SHEET_NAME
from engine_sim import TimingCourseError
from engine_sim.owned.description import DescriptionError, OwnedEngine, OwnedIdentity, as_toml
from engine_sim.owned.nominal import assumed

from .lesson_list import lessons_in
from .pages import PRINTED, SHEET_LESSON, Page, place_of
from .style import owner_style

PRACTICE = "l04_base_timing"
PRACTICE_BENCH, SHEET_FORM = "l04_set_base_timing", "l10_engine_card"
LONGEST_TITLE = 80
AT_ONCE_S = 0.4  # after which the page shows how far it is
KEPT_WORK = 8  # descriptions whose work is kept
NOT_WORKED_OUT = "This could not be worked out ({}). That is the program's fault and not the description's."
NOT_SENT = "No file came along: choose the .toml file that was mailed, and press again."


class OwnerPage(Page):
    """A page about the engines of this folder."""

    @property
    def kept(self) -> KeptEngines:
        """The engines of this folder."""
        return KeptEngines(self.folder)

    @property
    def metric(self) -> bool:
        """Whether the learner chose the metric units on a bench."""
        return chosen_units(self.folder / SHEET_LESSON)["vacuum"] == "kPa"

    @property
    def work(self) -> WorkBehind:
        """What works descriptions out, behind the pages."""
        return self.settings["plain_page_work"]

    def engine(self, name: str) -> OwnedEngine:
        """The engine of that name. Raises HTTPError 404 where there is none, or its file cannot be read."""
        try:
            return self.kept.load(name)
        except TimingCourseError as error:
            raise web.HTTPError(404, str(error)) from None

    def show_inside(self, template: str, name: str, engine: OwnedEngine, **values: Any) -> None:
        """Write a page of one engine."""
        self.show(
            template,
            more_style=owner_style(),
            name=name,
            engine_title=engine.identity.title or name,
            forgery_token=self.xsrf_token.decode(),
            **values,
        )


class MyEngines(OwnerPage):
    """Every engine that is described here, and what helps tonight."""

    @web.authenticated
    def get(self) -> None:
        """Write the list."""
        self.list()

    @web.authenticated
    def post(self) -> None:
        """Begin a further engine under its title, and go to its description."""
        title = self.get_body_argument("title", "").strip()[:LONGEST_TITLE]
        try:
            name = self.kept.add(OwnedEngine(identity=OwnedIdentity(title=title)))
        except ValueError:
            self.list("Give the engine a name of one line without signs that cannot be printed.")
            return
        self.redirect(f"{self.base_url}my-engine/{name}")

    def list(self, said: str = "") -> None:
        """Write the list, with a sentence about what was wrong."""
        here = {one.lesson: one for one in lessons_in(self.folder) if not one.problem}
        self.show(
            "my_engine.html.j2",
            more_style=owner_style(),
            engines=self.kept.listed(),
            folder=self.kept.folder,
            said=said,
            forgery_token=self.xsrf_token.decode(),
            cautions=CAUTIONS,
            practice=place_of(here.get(PRACTICE), PRACTICE_BENCH),
            sheet=place_of(here.get(SHEET_LESSON), SHEET_FORM),
            made=(self.folder / SHEET_LESSON / SHEET_NAME).is_file(),
        )


class TakeIn(MyEngines):
    """A file of an engine that somebody mailed."""

    @web.authenticated
    def post(self) -> None:
        """Keep it under a name of its own, and go to its description."""
        sent = self.request.files.get("file")
        if not sent:
            self.list(NOT_SENT)
            return
        try:
            name = self.kept.take_in(sent[0]["body"])
        except TimingCourseError as error:
            self.list(f"{sent[0]['filename']}: {error}")
            return
        self.redirect(f"{self.base_url}my-engine/{name}")


class Describe(OwnerPage):
    """The form of one engine's description."""

    @web.authenticated
    def get(self, name: str) -> None:
        """Write the form as it is kept, or as it was typed where something could not be taken."""
        engine, typed = self.engine(name), self.kept.typed(name)
        wrong: Mapping[str, str] = {}
        if typed is not None:
            try:
                form.taken(typed, engine, self.metric)
            except DescriptionError as error:
                wrong = error.at
        self.show_form(name, engine, typed, wrong)

    @web.authenticated
    def post(self, name: str) -> None:
        """Keep the description and go on, or keep what was typed and say what is wrong with it."""
        engine, typed = self.engine(name), self.typed()
        try:
            described = form.taken(typed, engine, self.metric)
        except DescriptionError:
            self.kept.keep_typed(name, typed)
            self.redirect(f"{self.base_url}my-engine/{name}")
            return
        self.kept.keep(name, described)
        look = self.get_body_argument("then", "stay") == "look"
        self.redirect(f"{self.base_url}my-engine/{name}{'/look' if look else '?kept'}")

    def typed(self) -> dict[str, str]:
        """What the form sent, by the name of its box."""
        sent = {name: self.get_body_argument(name, strip=False) for name in self.request.body_arguments}
        return {name: text for name, text in sent.items() if not name.startswith("_") and name != "then"}

    def show_form(
        self, name: str, engine: OwnedEngine, typed: Mapping[str, str] | None, wrong: Mapping[str, str]
    ) -> None:
        """Write the form."""
        shown = typed if typed is not None else form.boxes(engine, self.metric)
        self.show_inside(
            "owner_form.html.j2",
            name,
            engine,
            groups=fields.GROUPS,
            shown=shown,
            wrong=wrong,
            assumed={one.field: one for one in assumed(engine)},
            saved="kept" in self.request.arguments,
            waits=typed is not None,
            file=self.kept.path(name),
            drawing=drawing,
            rows=lambda table: form.rows_shown(table, shown),
            count=lambda group: _filled(group, shown),
            faults_in=lambda group: any(field.startswith(item.name) for item in group.items for field in wrong),
            name_of=_name_of,
        )


class Typed(Describe):
    """What is typed into the form while it is typed, so that a page that is closed loses nothing."""

    @web.authenticated
    def post(self, name: str) -> None:
        """Keep it."""
        self.engine(name)
        self.kept.keep_typed(name, self.typed())
        self.set_status(204)


class OwnFile(OwnerPage):
    """The file of an engine, to be mailed."""

    @web.authenticated
    def get(self, name: str) -> None:
        """Write the file."""
        self.engine(name)
        self.set_header("Content-Type", "application/toml; charset=utf-8")
        self.set_header("Content-Disposition", f'attachment; filename="{name}{ENDING}"')
        self.write(self.kept.path(name).read_text(encoding="utf-8"))


class OwnSheet(OwnerPage):
    """Where the sheet of an engine is opened and printed."""

    @web.authenticated
    def get(self, name: str) -> None:
        """Write the page."""
        engine = self.engine(name)
        worked = None if engine.lacking else self.work.found(engine)
        self.show_inside("owner_sheet.html.j2", name, engine, worked=worked)


class WorkBehind:
    """Works out one description at a time in a thread, and keeps what came of the latest ones."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(1)
        self._begun: dict[str, Future[Worked]] = {}
        self._said: dict[str, str] = {}

    def found(self, engine: OwnedEngine) -> Worked | None:
        """What was worked out; None where it is still under way or could not be done. Begins it where it was not."""
        one = self._of(engine)
        return one.result() if one.done() and one.exception() is None else None

    def problem(self, engine: OwnedEngine) -> str:
        """Why it could not be worked out; empty where it could, or is under way."""
        one = self._of(engine)
        error = one.exception() if one.done() else None
        if error is None:
            return ""
        return str(error) if isinstance(error, TimingCourseError) else NOT_WORKED_OUT.format(error)

    def said(self, engine: OwnedEngine) -> str:
        """What is under way."""
        return self._said.get(as_toml(engine), "")

    def _of(self, engine: OwnedEngine) -> Future[Worked]:
        key = as_toml(engine)
        if key not in self._begun:
            while len(self._begun) >= KEPT_WORK:
                oldest = next(iter(self._begun))
                self._said.pop(oldest, None)
                self._begun.pop(oldest).cancel()
            self._begun[key] = self._pool.submit(work_out, engine, lambda said: self._said.update({key: said}))
        return self._begun[key]


class Look(OwnerPage):
    """What to expect of an engine, and what its readings say together."""

    @web.authenticated
    async def get(self, name: str) -> None:
        """Write it, or how far it is."""
        engine = self.engine(name)
        if engine.lacking:
            self.show_inside("owner_lacking.html.j2", name, engine, lacking=engine.lacking, tab="/look")
            return
        worked = await self.worked(engine, AT_ONCE_S)
        self.show_inside(
            "owner_look.html.j2",
            name,
            engine,
            worked=worked,
            bands=shown_bands(engine, worked, self.metric) if worked else (),
            band_picture=band_picture,
            share=share_in_words,
            tests_group=fields.GROUPS.index(fields.TESTS) + 1,
        )

    async def worked(self, engine: OwnedEngine, within_s: float) -> Worked | None:
        """What was worked out, where it is ready within that time."""
        until = time.monotonic() + within_s
        while (found := self.work.found(engine)) is None and not self.work.problem(engine):
            if time.monotonic() >= until:
                break
            await asyncio.sleep(0.05)
        return found


class WorkedNow(OwnerPage):
    """How far the work on an engine is."""

    @web.authenticated
    def get(self, name: str) -> None:
        """Write it as JSON."""
        engine = self.engine(name)
        ready, problem = self.work.found(engine) is not None, self.work.problem(engine)
        self.write({"ready": ready, "problem": problem, "said": self.work.said(engine)})


class AnswerPage(OwnerPage):
    """The answer to a letter about an engine: its headings, their figures, and the writer's sentences."""

    @web.authenticated
    def get(self, name: str) -> None:
        """Write the page."""
        engine = self.engine(name)
        worked = None if engine.lacking else self.work.found(engine)
        self.show_inside(
            "owner_answer.html.j2",
            name,
            engine,
            headings=headings(engine, worked),
            sentences=self.kept.answer(name),
            worked=worked,
            lacking=engine.lacking,
            saved="kept" in self.request.arguments,
        )

    @web.authenticated
    def post(self, name: str) -> None:
        """Keep the sentences; give them back as a file where that was asked for."""
        engine = self.engine(name)
        worked = None if engine.lacking else self.work.found(engine)
        found = headings(engine, worked)
        sentences = {one.id: self.get_body_argument(one.id, "").replace("\r\n", "\n") for one in found}
        self.kept.keep_answer(name, sentences)
        if self.get_body_argument("then", "stay") != "file":
            self.redirect(f"{self.base_url}my-engine/{name}/answer?kept")
            return
        self.set_header("Content-Type", "text/plain; charset=utf-8")
        self.set_header("Content-Disposition", f'attachment; filename="{name}_answer.txt"')
        self.write(answer_text(found, sentences))


class Practise(OwnerPage):
    """A stand-in for an engine, on the bench."""

    @web.authenticated
    def get(self, name: str) -> None:
        """Lay out its page and go there; say what is missing where no stand-in can be drawn."""
        engine = self.engine(name)
        if engine.lacking:
            self.show_inside("owner_lacking.html.j2", name, engine, lacking=engine.lacking, tab="/practise")
            return
        self.redirect(f"{self.base_url}{write_practice_page(self.folder, name)}")


class PrintedSheet(OwnerPage):
    """A sheet as a page or as PDF: an engine's, the blank one, or the filled example."""

    @web.authenticated
    def get(self, name: str, form_of_it: str) -> None:
        """Write the sheet; nothing in it is run."""
        sheet = self.sheet(name)
        if form_of_it == ".html":
            self.set_header("Content-Type", "text/html; charset=utf-8")
            self.set_header("Content-Security-Policy", PRINTED)
            self.write(sheet_page(sheet))
            return
        from course.owner.sheet_pdf import sheet_pdf

        paper = form_of_it.removesuffix(".pdf").removeprefix("-")
        self.set_header("Content-Type", "application/pdf")
        self.set_header("Content-Disposition", f'inline; filename="{name}-{paper}.pdf"')
        self.write(sheet_pdf(sheet, "Letter" if paper == "letter" else "A4"))

    def sheet(self, name: str) -> Sheet:
        """The sheet of that name. An engine may not be called blank or example in an address of a sheet."""
        if name == "blank":
            return blank_sheet()
        if name == "example":
            return example_sheet()
        engine = self.engine(name.removeprefix("of-"))
        return sheet_of(engine, to_compare(engine, None if engine.lacking else self.work.found(engine)))


def _filled(group: fields.Group, shown: Mapping[str, str]) -> int:
    """How many boxes of a group are filled in; a row of a table counts as often as it has numbers."""
    names = [item.name for item in group.items]
    return sum(
        bool(text) and not box.endswith(form.UNIT) and any(box == name or box.startswith(f"{name}.") for name in names)
        for box, text in shown.items()
    )


def _name_of(box: str) -> str:
    """What a box is called where its sentence stands above the form."""
    known = fields.labels()
    name, row = box, ""
    while name and name not in known:
        name, _, last = name.rpartition(".")
        row = f", row {int(last) + 1}" if last.isdecimal() else row
    return known.get(name, "The file") + row


def owner_handlers(base: str, ours: dict[str, Any]) -> list[tuple]:
    """The addresses of these pages below the server's own."""
    name = r"([a-z0-9][a-z0-9_]*)"
    return [
        (f"{base}my-engine", MyEngines, ours),
        (f"{base}my-engine/take-in", TakeIn, ours),
        (f"{base}my-engine/{name}", Describe, ours),
        (f"{base}my-engine/{name}/typed", Typed, ours),
        (f"{base}my-engine/{name}/file", OwnFile, ours),
        (f"{base}my-engine/{name}/look", Look, ours),
        (f"{base}my-engine/{name}/worked", WorkedNow, ours),
        (f"{base}my-engine/{name}/answer", AnswerPage, ours),
        (f"{base}my-engine/{name}/sheet", OwnSheet, ours),
        (f"{base}my-engine/{name}/practise", Practise, ours),
        (
            rf"{base}my-engine-sheet/(blank|example|of-[a-z0-9][a-z0-9_]*)(\.html|-a4\.pdf|-letter\.pdf)",
            PrintedSheet,
            ours,
        ),
    ]
