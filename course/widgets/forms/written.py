"""The form for an answer in the learner's own words."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import traitlets

from course.widgets.shared.front_end import module_text, style_text
from engine_sim import TimingCourseError
from graders.exercises.kinds.common import AnswerError, as_text
from graders.exercises.kinds.exercise import Exercise
from graders.exercises.kinds.written import SELF_MARKED, WrittenExercise
from graders.schema import proven

from .form import STYLE, Form
from .opening import opened

_SECTION = re.compile(r"^#{2,4} +(?P<title>[^\n]+)\n+(?P<text>.+)\Z", re.DOTALL)
_LINK = re.compile(r"\[([^\]\n]+)\]\([^)\n]*\)|</?[a-z][^>\n]*>|\*{1,2}(?=\S)|(?<=\S)\*{1,2}")
LONGEST_ANSWER = 20_000  # characters, as much as the evidence format takes


class WrittenForm(Form):
    """Write a text. It is saved when the field is left and when Save is pressed; no judge speaks, since a person reads
    it.

    `beside` are title and text of the part of the lesson that is answered, where there is one: a letter.
    Somebody who learns alone is shown the marking table and samples once a text is saved, and may send
    `{"own_marks": {id: points}}`. `keep_marks(value)` writes them down; they earn nothing and are counted apart. In a
    class nothing of it is shown: a person marks.
    """

    _esm = module_text("forms/written.js")
    _css = style_text(*STYLE, "forms/written.css")
    kind = traitlets.Enum(("written",), "written").tag(sync=True)
    beside = traitlets.List(traitlets.Unicode()).tag(sync=True)
    longest = traitlets.Int(LONGEST_ANSWER).tag(sync=True)
    marking = traitlets.List(traitlets.Dict(key_trait=traitlets.Unicode())).tag(sync=True)
    samples = traitlets.List(traitlets.Dict(key_trait=traitlets.Unicode())).tag(sync=True)
    own = traitlets.Dict(key_trait=traitlets.Unicode()).tag(sync=True)

    def __init__(
        self,
        record=None,
        judge=None,
        alone: WrittenExercise | None = None,
        keep_marks: Callable[[str], None] | None = None,
        marked: dict[str, float] | None = None,
        **traits,
    ):
        super().__init__(record, judge, **traits)
        self._alone, self._keep_marks = alone, keep_marks
        self.own = marked or {}

    @classmethod
    def of_its_own(cls, at_work: Any, exercise: Exercise) -> dict:
        """The part of the lesson that the question names. And where somebody learns alone, what marks are given by, and
        those that were given."""
        notebook = at_work.folder.path / f"{at_work.folder.lesson}.ipynb"
        beside = {"beside": named_part(notebook, exercise.question)}
        if at_work.folder.class_id or not isinstance(exercise, WrittenExercise) or not exercise.marking:
            return beside
        return beside | {
            "alone": exercise,
            "keep_marks": lambda value: at_work.note(exercise.id, SELF_MARKED, value),
            "marked": at_work.own_marks(exercise),
        }

    def _show_again(self, exercise, event) -> None:
        super()._show_again(exercise, event)
        self._show_marking()

    def _show_marking(self) -> None:
        if self._alone is not None and self.answer.get("value"):
            self.marking, self.samples = self._alone.shown_marking(), self._alone.shown_samples()

    def _act_on(self, content: dict) -> None:
        if "own_marks" in content:
            self.mark(content["own_marks"])
        else:
            super()._act_on(content)

    def mark(self, marks: object) -> None:
        """Keep the marks that somebody who learns alone gives their own answer."""
        with self._lock:
            if not self.marking:
                self._say("wrong", "Save your text first; then mark it.")
                return
            exercise, keep = proven(self._alone, "the exercise"), proven(self._keep_marks, "the record")
            try:
                given = exercise.read_own_marks(as_text(marks))
                keep(as_text(given))
            except TimingCourseError as error:
                self._say("wrong", str(error))
                return
            self.own = given
            in_all = sum(one.points for one in exercise.marking)
            self._say("done", f"Saved: {sum(given.values()):g} of {in_all:g} by your own marks, counted apart.")

    def _checked(self, value, unit):
        # Half of a character pair, as some keyboards leave behind, has no place in a UTF-8 file.
        text = str(value or "").encode("utf-8", "replace").decode("utf-8").strip()
        if len(text) > LONGEST_ANSWER:
            raise AnswerError(
                f"An answer may have {LONGEST_ANSWER} characters and yours has {len(text)}: "
                "shorten it and save again; nothing of it was lost."
            )
        return text, None

    def _take(self, checked, unit, text: str) -> None:
        if checked == self.answer.get("value", ""):
            self._say("done", "Saved." if checked else "There is nothing to save yet.")
            return
        self._keep(checked, unit, text)
        self.own = {}  # marks belong to the text to which they were given
        self._show_marking()
        self._say("done", "Saved.")


def named_part(notebook: Path, question: str) -> list[str]:
    """Title and plain text of the first part of a notebook that a question names by its heading; an empty list where
    there is none, or no such notebook."""
    try:
        cells = json.loads(notebook.read_text(encoding="utf-8"))["cells"]
        texts = ["".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown"]
    except (OSError, ValueError, KeyError, TypeError):
        return []
    sections = (found for found in map(_SECTION.match, texts) if found)
    named = next((one for one in sections if plain(one["title"]).lower() in question.lower()), None)
    return [plain(named["title"]), plain(named["text"])] if named else []


def plain(markdown: str) -> str:
    """The words of a short piece of Markdown, without its links and emphasis."""
    return _LINK.sub(lambda found: found[1] or "", markdown).strip()


def written(exercise_id: str) -> WrittenForm:
    """A question that is answered in the learner's own words and read by a person."""
    return opened(WrittenForm, exercise_id)
