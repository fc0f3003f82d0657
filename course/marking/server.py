"""The marking page's server: on this machine alone, and only with the key that the command prints.

Each press is a request of its own and works without script; the script adds the keyboard. What levels earn is worked
out by `graders.exercises.marking` alone: the page asks the server for the sum.
"""

from __future__ import annotations

import asyncio
import contextlib
import hmac
import secrets
import signal
import webbrowser
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

import nh3
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from nbconvert.filters import markdown2html
from sqlalchemy.exc import SQLAlchemyError
from tornado import httpserver, netutil, web

import course
from engine_sim import TimingCourseError
from graders.classroom.marking import AnswerToMark, MarkingDesk, Place
from graders.exercises.marking import MarkedAnswer, MarkingError
from graders.nbgrader_bridge.course_config import NbgraderCourse
from graders.palette import THEMES, css_variables

HERE = Path(__file__).resolve().parent
GUIDE = course.HERE / "instructors.md"
HOSTS = ("localhost", "127.0.0.1")
CONTENT = (
    "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
BUSY = "The gradebook is in use by another program. Nothing was changed: save once more in a moment."
ONE_ANSWER = r"([^/]+)/([^/]+)/([^/]+)"


def markdown(text: str) -> str:
    """Markdown of the course or the class as harmless HTML, without links that could lead away."""
    return nh3.clean(markdown2html(text), url_schemes=set())


def path_to(kind: str, lesson: str, exercise: str, learner: str = "") -> str:
    """The address of a page about one answer or one exercise."""
    return "/".join(("", kind, *(quote(part, safe="") for part in (lesson, exercise, learner) if part)))


class Desk:
    """What all requests share: the class, the person who marks, the lesson that is marked, or None for all, and where
    the pages stand."""

    def __init__(self, root: Path, marker: str, lesson: str | None = None, prefix: str = "", *more_templates: Path):
        self.root, self.marker, self.lesson, self.prefix = root, marker, lesson, prefix
        self.shown: dict[tuple[str, ...], AnswerToMark] = {}  # for the sum, which is asked for at every key
        self.open_again()
        self.templates = Environment(
            loader=FileSystemLoader([HERE / "templates", *more_templates]),
            autoescape=select_autoescape(default=True, default_for_string=True),
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self.templates.filters |= {
            "markdown": markdown,
            "points": lambda points: f"{round(points, 2):g}",
            "first_upper": lambda text: text[:1].upper() + text[1:],
        }
        self.templates.globals |= {"path_to": self.path_to, "marker": marker, "prefix": prefix}

    def open_again(self) -> None:
        """Read the class again: hand-ins and names may have come."""
        self.desk = MarkingDesk(self.root, GUIDE.read_text(encoding="utf-8"))

    def path_to(self, kind: str, *key: str) -> str:
        """The address of a page about one answer or one exercise."""
        return self.prefix + path_to(kind, *key)

    def places(self) -> list[Place]:
        """The answers, in the order in which they are marked."""
        return self.desk.places(self.lesson)


class MarkingPage(web.RequestHandler):
    """What every page has: the key is asked for, nothing is fetched from elsewhere, nothing is kept by the browser."""

    @property
    def desk(self) -> Desk:
        """What all requests share."""
        return self.settings["desk"]

    def prepare(self) -> None:
        """Let in who has the key, at this machine's own address."""
        if self.request.host.rpartition(":")[0] not in HOSTS:
            raise web.HTTPError(403)
        name, key = self.settings["cookie_name"], self.settings["key"]
        if hmac.compare_digest(self.get_query_argument("token", ""), key):
            self.set_signed_cookie(name, "yes", expires_days=None, httponly=True, samesite="Strict")
            if self.request.method == "GET":
                self.redirect(self.request.path)
        elif self.get_signed_cookie(name) != b"yes":
            raise web.HTTPError(403)

    def set_default_headers(self) -> None:
        """Let a page act on nothing but itself."""
        self.set_header("Content-Security-Policy", CONTENT)
        self.set_header("X-Content-Type-Options", "nosniff")
        self.set_header("Referrer-Policy", "same-origin")
        self.set_header("Cache-Control", "no-store")

    def show(self, template: str, **values: Any) -> None:
        """Write a page."""
        page = self.desk.templates.get_template(template)
        self.write(page.render(xsrf=self.xsrf_form_html(), **values))

    def write_error(self, status_code: int, **details: Any) -> None:
        """Say in one sentence what is wrong."""
        error = details.get("exc_info", (None, None, None))[1]
        if status_code == 403:
            sentence = (
                "This page opens at the address that the command printed, with the key in it: open that once more."
            )
        elif isinstance(error, TimingCourseError):
            sentence = str(error)
        elif isinstance(error, SQLAlchemyError):
            sentence = BUSY
        else:
            sentence = "There is no such page, or something went wrong here: go back to the list of answers."
        self.finish(self.desk.templates.get_template("message.html.j2").render(sentence=sentence))

    def answer(self, lesson: str, exercise: str, learner: str) -> AnswerToMark:
        """One answer. Raises MarkingError where there is none."""
        desk = self.desk.desk
        return desk.answer(desk.place(lesson, exercise, learner))

    def levels(self, answer: AnswerToMark) -> dict[str, int]:
        """The levels that were chosen; a thing that is no number counts as not chosen."""
        chosen = {one.id: self.get_body_argument(f"level-{one.id}", "") for one in answer.to_mark}
        return {name: int(level) for name, level in chosen.items() if level.isdecimal() and len(level) < 3}

    def saved(self) -> Place | None:
        """The answer that was saved a moment ago, named in the address."""
        key = tuple(map(unquote, self.get_query_argument("saved", "").split("/")))
        return next((one for one in self.desk.places() if one.key == key), None)

    @property
    def unsafe(self) -> bool:
        """Whether the answer was said to be one that could hurt somebody."""
        return bool(self.get_body_argument("unsafe", ""))


class Waiting(MarkingPage):
    """What waits, exercise by exercise, and who."""

    def get(self) -> None:
        """Write the list, of the class as it is now."""
        self.desk.open_again()
        desk, places = self.desk.desk, self.desk.places()
        exercises: dict[tuple[str, str], list[Place]] = {}
        for one in places:
            exercises.setdefault((one.lesson, one.exercise), []).append(one)
        self.show(
            "list.html.j2",
            class_name=desk.course.directory.course_id,
            exercises=exercises,
            titles={key: desk.title(found[0]) for key, found in exercises.items()},
            saved=self.saved(),
            first=next((one for one in places if one.waits), None),
            others=desk.others_waiting(self.desk.lesson),
        )


class OneAnswer(MarkingPage):
    """One answer to be marked."""

    def get(self, *key: str) -> None:
        """Write its page."""
        lesson, exercise, learner = key
        self.page(self.answer(lesson, exercise, learner))

    def post(self, *key: str) -> None:
        """Save the mark and go to the next one that waits; a mark that cannot be saved is shown again with the reason,
        as it was filled in."""
        lesson, exercise, learner = key
        answer, levels = self.answer(lesson, exercise, learner), {}
        try:
            levels = self.levels(answer)
            comment = self.get_body_argument("comment", "")
            self.desk.desk.save(answer, levels, self.unsafe, comment, self.desk.marker)
        except (MarkingError, SQLAlchemyError) as error:
            self.set_status(400 if isinstance(error, MarkingError) else 503)
            sentence = str(error) if isinstance(error, MarkingError) else BUSY
            comment = self.get_body_argument("comment", "", strip=False)
            self.page(answer, problem=sentence, levels=levels, unsafe=self.unsafe, comment=comment)
            return
        places = self.desk.places()
        at = next((number for number, one in enumerate(places) if one.key == answer.place.key), 0)
        following = next((one for one in [*places[at + 1 :], *places[:at]] if one.waits), None)
        saved = quote("/".join(quote(part, safe="") for part in answer.place.key), safe="")
        place = self.desk.path_to("answer", *following.key) if following else f"{self.desk.prefix}/"
        self.redirect(f"{place}?saved={saved}", status=303)

    def page(self, answer: AnswerToMark, problem: str = "", **filled: Any) -> None:
        """Write the page of an answer, with what was filled in before it could not be saved."""
        places = self.desk.places()
        self.desk.shown = {answer.place.key: answer}
        at = next((number for number, one in enumerate(places) if one.key == answer.place.key), 0)
        own = answer.mark_by(self.desk.marker)
        shown = {
            "levels": {one.id: one.level for one in own.mark.criteria} if own and not answer.is_new else {},
            "unsafe": bool(own and own.mark.unsafe and not answer.is_new),
            "comment": own.comment if own else "",
        } | filled
        self.show(
            "answer.html.j2",
            answer=answer,
            saved=self.saved(),
            own=own,
            others=[one for one in answer.marks if one.marker != self.desk.marker],
            used=self.desk.desk.comments_used(answer.place.exercise),
            before=places[at - 1] if at else None,
            after=places[at + 1] if at + 1 < len(places) else None,
            number=at + 1,
            of=len(places),
            waiting=sum(one.waits for one in places),
            problem=problem,
            **shown,
        )


class Sum(MarkingPage):
    """What the levels of a form earn so far."""

    def post(self, *key: str) -> None:
        """Write the sum in words; what is missing, where something is."""
        lesson, exercise, learner = key
        answer = self.desk.shown.get(key) or self.answer(lesson, exercise, learner)
        levels = self.levels(answer)
        missing = len(answer.to_mark) - len(levels)
        if missing:
            self.write({"words": f"{missing} of {len(answer.to_mark)} still to mark", "whole": False})
        else:
            mark = self.desk.desk.sum(answer, levels, self.unsafe)
            self.write({"words": in_words(mark, answer.max_points), "whole": True})


class Paper(MarkingPage):
    """The answers to one exercise, to be printed and marked on paper."""

    def get(self, *key: str) -> None:
        """Write one sheet for each answer that waits; all of them with `?all=1`."""
        lesson, exercise = key
        every = bool(self.get_query_argument("all", ""))
        desk = self.desk.desk
        places = [one for one in desk.places(lesson) if one.exercise == exercise and (one.waits or every)]
        self.show("paper.html.j2", answers=[desk.answer(one) for one in places])


class Style(MarkingPage):
    """The page's style, in the course's colours."""

    def get(self) -> None:
        """Write the style sheet."""
        self.set_header("Content-Type", "text/css; charset=utf-8")
        dark = f"@media screen and (prefers-color-scheme: dark) {{ :root {{\n{css_variables(THEMES['dark'])}\n}} }}"
        self.write(f":root {{ color-scheme: light dark;\n{css_variables(THEMES['light'])}\n}}\n{dark}\n")
        self.write((HERE / "marking.css").read_text(encoding="utf-8"))


class Script(MarkingPage):
    """The keyboard."""

    def get(self) -> None:
        """Write the script."""
        self.set_header("Content-Type", "text/javascript; charset=utf-8")
        self.write((HERE / "marking.js").read_text(encoding="utf-8"))


def in_words(mark: MarkedAnswer, most: float) -> str:
    """A mark's points as a sentence."""
    if mark.points == mark.sum:
        return f"{mark.points:g} of {most:g} points"
    return (
        f"{mark.points:g} of {most:g} points: the criteria add up to {mark.sum:g}, and the limit leaves {mark.points:g}"
    )


def pages_of(prefix: str) -> list[tuple[str, type[MarkingPage]]]:
    """The pages of the marking below `prefix`, by the pattern of their addresses."""
    return [
        (rf"{prefix}/", Waiting),
        (rf"{prefix}/answer/{ONE_ANSWER}", OneAnswer),
        (rf"{prefix}/sum/{ONE_ANSWER}", Sum),
        (rf"{prefix}/paper/([^/]+)/([^/]+)", Paper),
        (rf"{prefix}/marking.css", Style),
        (rf"{prefix}/marking.js", Script),
    ]


def application(desk: Desk, key: str, cookie_name: str = "marking") -> web.Application:
    """All pages of the marking of a class."""
    return web.Application(
        pages_of(""),
        default_handler_class=MarkingPage,
        desk=desk,
        key=key,
        cookie_name=cookie_name,
        cookie_secret=secrets.token_hex(32),
        xsrf_cookies=True,
        xsrf_cookie_kwargs={"samesite": "Strict"},
        xsrf_cookie_name=f"_xsrf_{cookie_name}",
        log_function=lambda _: None,
    )


def serve(course_folder: NbgraderCourse, marker: str, lesson: str | None, browser: bool, port: int) -> int:
    """Serve the marking page until Ctrl+C; say where. Returns 0. Raises MarkingError where the port is taken."""
    key = secrets.token_urlsafe(24)
    try:
        sockets = netutil.bind_sockets(port, "127.0.0.1")
    except OSError as error:
        raise MarkingError(f"Port {port} cannot be used ({error}): give another one with --port.") from None
    port = sockets[0].getsockname()[1]
    pages = application(Desk(course_folder.root, marker, lesson), key, f"marking_{port}")
    with contextlib.suppress(KeyboardInterrupt):
        asyncio.run(_until_stopped(pages, sockets, f"http://localhost:{port}/?token={key}", browser))
    print("\nThe marking page is closed. What you saved is in the gradebook.", flush=True)
    return 0


async def _until_stopped(pages: web.Application, sockets: list, address: str, browser: bool) -> None:
    server = httpserver.HTTPServer(pages)
    server.add_sockets(sockets)
    stopped = asyncio.Event()
    for name in ("SIGTERM", "SIGHUP"):
        with contextlib.suppress(NotImplementedError, AttributeError):  # Windows knows neither
            asyncio.get_running_loop().add_signal_handler(getattr(signal, name), stopped.set)
    print(f"The marking page is at {address} (to close it, press Ctrl+C here)", flush=True)
    if browser:
        webbrowser.open(address)
    await stopped.wait()
