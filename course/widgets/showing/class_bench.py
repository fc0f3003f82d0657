"""What the instructor's desk and the recordings have in common: a bench before a class, of which nothing is written
down, and a card above it."""

from __future__ import annotations

from typing import Any

import ipywidgets

from course.widgets.at_work import LessonAtWork
from course.widgets.bench.bench import Bench
from course.widgets.shared.base_widget import BaseWidget
from course.widgets.shared.front_end import style_text
from engine_sim import Session
from graders.bench.label import AS_MADE, Label


class ClassBench(Bench):
    """A bench of an engine as it was made, or of what `label` says of it; `task` says in a few words what it is for."""

    def __init__(self, session: Session, exercise: str, task: str, label: Label = AS_MADE, **more: Any):
        card = session.engine.card
        super().__init__(
            session,
            exercise=exercise,
            title=card.title,
            task=task,
            nameplate_of=lambda _number: [list(pair) for pair in label.nameplate(card).items()],
            conditions=LessonAtWork.day_in_numbers(session),
            **more,
        )


class CardAboveBench(BaseWidget):
    """The card; `box` holds it and the bench that it was last given."""

    _css = style_text("shared/palette.css", "forms/forms.css", "showing/showing.css")

    def __init__(self, **traits: Any):
        super().__init__(**traits)
        self.bench: Bench | None = None
        self.box = ipywidgets.VBox((self,))
        self.on_msg(self._on_message)

    def put(self, bench: Bench | None) -> None:
        """Show this bench below, or none; the one before goes."""
        before, self.bench = self.bench, bench
        self.box.children = (self,) if bench is None else (self, bench)
        if before is not None:
            before.close()

    def told(self, content: dict) -> None:
        """Do what the browser asks for."""

    def _on_message(self, _widget, content, _buffers) -> None:
        if not isinstance(content, dict):
            return
        if content.get("heartbeat"):
            self.send({"alive": content["heartbeat"]})
        self.told(content)
