"""The button that hands a lesson in: it makes one file to be sent or, at a class's hub, gives it to the exchange. What
is missing is shown first."""

from __future__ import annotations

import threading

import traitlets

from course.learner.at_a_hub import at_a_hub, hand_over
from course.learner.hand_in_archive import FOLDER, Ready, look_through, make_archive
from course.learner.lesson_folder import LessonFolder
from course.widgets.shared.base_widget import BaseWidget
from course.widgets.shared.front_end import module_text, style_text
from engine_sim import TimingCourseError


class HandInCard(BaseWidget):
    """What is missing, and the archive. The browser sends `{"press": "look"}` or `{"press": "make"}`;
    `{"heartbeat": number}` is answered by `{"alive": number}`.

    `step` is `begin`, `ask` (something is missing: it is listed in `missing`) or `made` (`name` is the file's name,
    `content` the file itself, for a copy that the browser saves; at a hub, `at_hub`, both stay empty).
    """

    _esm = module_text("cards/hand_in.js")
    _css = style_text("shared/palette.css", "forms/forms.css")

    lesson = traitlets.Unicode("").tag(sync=True)
    learner = traitlets.Unicode("").tag(sync=True)
    at_hub = traitlets.Bool(False).tag(sync=True)
    step = traitlets.Enum(("begin", "ask", "made"), "begin").tag(sync=True)
    missing = traitlets.List(traitlets.Unicode()).tag(sync=True)
    name = traitlets.Unicode("").tag(sync=True)
    content = traitlets.Bytes(b"").tag(sync=True)
    said = traitlets.Unicode("").tag(sync=True)
    problem = traitlets.Unicode("").tag(sync=True)

    def __init__(self, folder: LessonFolder | None = None, **traits):
        super().__init__(**traits)
        self._folder, self._lock = folder, threading.RLock()
        self.on_msg(lambda _widget, message, _buffers: self._pressed(message))

    def press(self, what: str) -> None:
        """Look through the lesson; make the archive where nothing is missing or `make` was pressed."""
        with self._lock:
            try:
                ready = look_through(self._folder.path)
                self.problem, self.missing = "", list(ready.missing)
                if ready.missing and what != "make":
                    self.step, self.said = "ask", "Some of your work is missing:"
                else:
                    self._make(ready)
            except (TimingCourseError, OSError) as error:
                self.problem = str(error)

    def _make(self, ready: Ready) -> None:
        if self.at_hub:
            said = hand_over(self._folder.path)
            self.said, self.step = f"{said}{' It went without this:' if ready.missing else ''}", "made"
            return
        path = make_archive(ready, self._folder.path.parent / FOLDER)
        self.name, self.content, self.step = path.name, path.read_bytes(), "made"
        without = " It goes without this:" if ready.missing else ""
        self.said = (
            f"Your file is made. It is called {path.name} and lies in the folder {FOLDER}, beside the lessons.{without}"
        )

    def _pressed(self, message) -> None:
        if not isinstance(message, dict):
            return
        if message.get("heartbeat"):
            self.send({"alive": message["heartbeat"]})
        what = message.get("press")
        if what in ("look", "make") and self._folder is not None:
            self.press(what)


def hand_in() -> HandInCard:
    """The button that hands in the lesson whose notebook this is."""
    try:
        folder = LessonFolder.here()
        return HandInCard(folder, lesson=folder.lesson, learner=folder.learner, at_hub=at_a_hub())
    except TimingCourseError as error:
        return HandInCard(problem=str(error))
