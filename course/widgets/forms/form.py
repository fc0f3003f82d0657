"""What every form of a lesson has in common: a widget that records answers and shows what the judge says of them."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from typing import Any, NoReturn, Self

import traitlets

from course.widgets.shared.base_widget import BaseWidget
from course.widgets.shared.front_end import style_text
from course.widgets.shared.verdict import shown_result, spoken_result
from engine_sim import Event, TimingCourseError
from graders.exercises.kinds.common import AnswerError
from graders.exercises.kinds.exercise import Exercise
from graders.outcome import ExerciseResult

Record = Callable[[str | float, str | None], int]
Judge = Callable[[], ExerciseResult]
STYLE = ("shared/palette.css", "forms/forms.css")
ANOTHER_ENGINE = (
    "The course was updated since you answered, and its engines are computed in another way: look again and answer "
    "once more. What you answered before is kept."
)
RECORDED = "Your answer is recorded."
NO_LONGER_FITS = "Your last answer is kept, but does not fit this exercise as it is now: please answer once more."


def no_exercise(*_given: object) -> NoReturn:
    """What a form does in the place of `record` and its like where it only says why there is nothing. Raises
    TypeError."""
    raise TypeError("there is no exercise here to work on")


def pairs() -> traitlets.List:
    """A trait for several things to choose or to move, each with its id and its text."""
    return traitlets.List(traitlets.List(traitlets.Unicode(), minlen=2, maxlen=2)).tag(sync=True)


class Form(BaseWidget):
    """One form of a lesson; each kind has its own, with `kind`, `_esm` and `_checked`.

    The browser sends `{"answer": {"value": ..., "unit": ...}}`; `{"heartbeat": number}` is answered by `{"alive":
    number}`, so that a page tells a kernel that is gone from one that has done it.
    `record(value, unit)` writes an answer as evidence and returns the number of tries; `judge()` returns the
    result of the exercise, which the same card then shows. `problem` holds the one sentence to show
    where there is no exercise to work on.
    """

    _css = style_text(*STYLE)

    kind = traitlets.Unicode("").tag(sync=True)
    exercise = traitlets.Unicode("").tag(sync=True)
    title = traitlets.Unicode("").tag(sync=True)
    question = traitlets.Unicode("").tag(sync=True)
    points = traitlets.Float(0.0).tag(sync=True)
    answer = traitlets.Dict(key_trait=traitlets.Unicode()).tag(sync=True)
    tries = traitlets.Int(0).tag(sync=True)
    said = traitlets.Dict(key_trait=traitlets.Unicode()).tag(sync=True)
    result = traitlets.Dict(key_trait=traitlets.Unicode()).tag(sync=True)
    problem = traitlets.Unicode("").tag(sync=True)

    def __init__(
        self,
        record: Record | None = None,
        judge: Judge | None = None,
        **traits,
    ):
        super().__init__(**traits)
        self._record: Record = record or no_exercise
        self._judge = judge
        self._lock = threading.RLock()
        self.on_msg(self._on_message)

    @classmethod
    def for_exercise(
        cls,
        exercise: Exercise,
        record: Record | None = None,
        judge: Judge | None = None,
        given: Sequence[Event] = (),
        **of_its_own,
    ) -> Self:
        """The form of an exercise as its learner has it; `given` are the answers so far, of which the last is shown,
        `of_its_own` what only this kind of form takes."""
        form = cls(
            record=record,
            judge=judge,
            **of_its_own,
            exercise=exercise.id,
            title=exercise.title,
            question=exercise.question,
            points=float(exercise.points),
            tries=len(given),
            **exercise.form_traits(),
        )
        if given:
            form._show_again(exercise, given[-1])
        elif exercise.said_before:
            form._say("note", exercise.said_before)
        return form

    @classmethod
    def with_problem(cls, exercise_id: str, sentence: str) -> Self:
        """A form that says why there is nothing to work on."""
        return cls(exercise=exercise_id, title=exercise_id, problem=sentence)

    @classmethod
    def of_its_own(cls, at_work: Any, exercise: Exercise) -> dict:
        """What only this kind of form takes, from the lesson at work."""
        return {}

    def submit(self, value: object, unit: str | None = None) -> None:
        """Record one answer and show what came of it; an answer that cannot be taken is said and not
        recorded."""
        with self._lock:
            try:
                checked, unit = self._checked(value, unit)
                self._take(checked, unit, str(value))
            except TimingCourseError as error:
                self._say("wrong", str(error))

    def show_result(self) -> ExerciseResult | None:
        """Ask the judge about the evidence so far and show what it says; None where there is no judge."""
        with self._lock:
            try:
                result = self._judge() if self._judge else None
            except TimingCourseError as error:
                self._say("wrong", str(error))
                return None
            if result is not None:
                self.result = shown_result(result)
            return result

    def _on_message(self, _widget, content, _buffers) -> None:
        if not isinstance(content, dict):
            return
        try:
            if content.get("heartbeat"):
                self._heartbeat(content["heartbeat"])
            else:
                self._act_on(content)
        except Exception as error:
            self._say(
                "wrong",
                f"This could not be done ({type(error).__name__}: {error}); what you did so "
                "far is kept: run this cell again and tell your instructor.",
            )
            raise

    def _heartbeat(self, number) -> None:
        self.send({"alive": number})

    def _act_on(self, content: dict) -> None:
        """Do what the browser asks for in a message."""
        answer = content.get("answer")
        if isinstance(answer, dict):
            self.submit(answer.get("value"), answer.get("unit"))

    def _checked(self, value, unit: str | None) -> tuple[str | float, str | None]:
        """Value and unit as the evidence keeps them. Raises TimingCourseError for what is no answer."""
        raise NotImplementedError

    def _take(self, checked, unit: str | None, text: str) -> None:
        """Record an answer that was checked, and show what came of it; `text` is how it was written."""
        self._keep(checked, unit, text)
        self._say("done", RECORDED)
        result = self.show_result()
        if result is not None:
            self._say("done", f"{RECORDED} {spoken_result(result)}")

    def _keep(self, checked, unit: str | None, text: str) -> None:
        self.tries = self._record(checked, unit)
        self.answer = self.shown(checked, unit, text)

    def _show_again(self, exercise: Exercise, event: Event) -> None:
        """Show the last answer as it was given; where it is no answer to the exercise of today, say so."""
        try:
            exercise.read(event.value, event.unit)
        except AnswerError:
            self._say("note", NO_LONGER_FITS)
            return
        text = f"{event.value:g}" if isinstance(event.value, int | float) else str(event.value)
        self.answer = self.shown(event.value, event.unit, text)

    def shown(self, value: Any, unit: str | None, text: str) -> dict:
        """An answer as the browser shows it; `text` is how it was written."""
        return {"value": value, "unit": unit, "text": text}

    def begin_again(self) -> None:
        """Say that the engine in question became another one, so that what was answered before is not shown."""
        self._say("note", ANOTHER_ENGINE)

    def _say(self, kind: str, sentence: str) -> None:
        self.said = {"number": self.said.get("number", 0) + 1, "kind": kind, "sentence": sentence}
