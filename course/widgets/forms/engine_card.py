"""The form for an engine of one's own: what is entered, what follows from it, and the sheet to print."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Any

import traitlets

from course import ENGINES
from course.learner.number_text import named_number
from course.owner.from_card import keep_from_card
from course.owner.kept_engines import KeptEngines
from course.owner.written_sheet import SHEET_NAME, write_sheet
from course.widgets.shared.front_end import module_text, style_text
from engine_sim import TimingCourseError
from graders.exercises.kinds.common import AnswerError
from graders.exercises.kinds.exercise import Exercise
from graders.exercises.kinds.own_engine import ENTRIES, read_card, read_entry
from graders.exercises.kinds.own_engine_advice import FIRST, advice_for

from .form_of_parts import STYLE_OF_PARTS, FormOfParts
from .opening import opened

KEPT = (
    "The engine is now also under My engine on the home page, which 'python3 -m course own' opens, too: there it is "
    "described further, with what to expect, a comparison with what you read, and practice on a stand-in."
)
LEFT_OUT = f"{KEPT} Not taken over, because it does not fit there: {{}}."


class EngineCardForm(FormOfParts):
    """Entries by group; the browser sends `{"entry": {"text": ..., "unit": ...}}`, or
    `{"entry": ...}` with one of its choices.

    `wrong` holds a sentence by entry, for those that cannot be taken. `told` are title, text and basis of what follows;
    `sheet` is the name of the page to print, once it is written into `folder`, and `page` is that page; `kept` says
    where the engine is described further.
    """

    _esm = module_text("forms/engine_card.js")
    _css = style_text(*STYLE_OF_PARTS, "forms/engine_card.css")
    kind = traitlets.Enum(("engine_card",), "engine_card").tag(sync=True)
    entries = traitlets.List(traitlets.Dict()).tag(sync=True)
    told = traitlets.List(traitlets.Dict()).tag(sync=True)
    first = traitlets.Unicode(FIRST).tag(sync=True)
    sheet = traitlets.Unicode("").tag(sync=True)
    page = traitlets.Unicode("").tag(sync=True)
    kept = traitlets.Unicode("").tag(sync=True)
    wrong = traitlets.Dict(value_trait=traitlets.Unicode(), key_trait=traitlets.Unicode()).tag(sync=True)

    def __init__(self, record=None, judge=None, read=None, folder: Path | None = None, **traits):
        self.folder = folder
        super().__init__(record, judge, read, entries=[_shown(entry) for entry in ENTRIES.values()], **traits)
        if folder is not None and (folder / SHEET_NAME).is_file():
            self._show_sheet(folder)

    @classmethod
    def of_its_own(cls, at_work: Any, exercise: Exercise) -> dict:
        """The folder into which the sheet goes."""
        return {"folder": at_work.folder.path}

    def submit(self, value: object, unit: str | None = None) -> None:
        """Record the card, say what follows from it, and write the sheet."""
        before = self.tries
        super().submit(value, unit)
        if self.tries != before:
            with self._lock:
                self._write_sheet()

    def shown(self, value: Any, unit: str | None, text: str) -> dict:
        """The entries of an answer, and what follows from them."""
        card = read_card(value)
        self.told = [dataclasses.asdict(one) for one in advice_for(card, ENGINES)]
        return {"value": json.loads(value)}

    def _write_sheet(self) -> None:
        if self.folder is None:
            return
        try:
            card = read_card(json.dumps(self.answer["value"]))
            write_sheet(self.folder, card)
            self._show_sheet(self.folder)
            found = keep_from_card(KeptEngines(self.folder.parent), card)
            self.kept = LEFT_OUT.format(", ".join(found.left_out)) if found.left_out else KEPT
        except OSError as error:
            self._say(
                "wrong",
                f"Your entries are recorded, but {SHEET_NAME} could not be written ({error.strerror}): "
                "make room or allow writing in the lesson's folder, and record again.",
            )

    def _show_sheet(self, folder: Path) -> None:
        self.page = (folder / SHEET_NAME).read_text(encoding="utf-8", errors="replace")
        self.sheet = SHEET_NAME

    def _cleaned(self, value):
        given, cleaned, wrong = value if isinstance(value, dict) else {}, {}, {}
        for name in ENTRIES:
            try:
                cleaned[name] = self._entry(name, given.get(name))
            except TimingCourseError as error:
                wrong[name] = str(error)
        self.wrong = wrong
        if len(wrong) > 1:
            raise AnswerError(f"{len(wrong)} entries cannot be taken as they are: each has beside it what is wanted.")
        for sentence in wrong.values():
            raise AnswerError(sentence)
        return cleaned

    def _entry(self, name: str, given):
        written = self._written(name, given)
        if written is not None:
            read_entry(ENTRIES[name], written)
        return written

    def _written(self, name: str, given):
        entry = ENTRIES[name]
        if entry.choices:
            return given or None
        text = str(given.get("text") or "") if isinstance(given, dict) else ""
        if not text.strip():
            return None
        if given.get("unit") not in entry.units:
            raise AnswerError(f"{entry.label}: choose the unit as well, {' or '.join(entry.units)}.")
        return [named_number(text, entry.label), given["unit"]]


def engine_card(exercise_id: str) -> EngineCardForm:
    """A card of the learner's own engine, what follows from it, and a sheet to print."""
    return opened(EngineCardForm, exercise_id)


def _shown(entry) -> dict:
    return {
        "id": entry.id,
        "group": entry.group,
        "label": entry.label,
        "help": entry.help,
        "units": list(entry.units),
        "choices": list(entry.choices),
    }
