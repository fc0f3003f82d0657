"""What every part of a lesson that listens to its kernel has in common."""

from __future__ import annotations

import uuid
import weakref
from pathlib import Path
from typing import ClassVar

import anywidget
import traitlets

from course.learner.chosen_units import choose_units, chosen_units


class BaseWidget(anywidget.AnyWidget):
    """A widget that receives messages however late the browser shows it; `late_start.js` does it in the browser.

    `connection` names the connection between the two: the page finds the widget's own model by it. `chosen_units` are
    those of the learner, by quantity: the browser sets them, the learner's folder keeps them, and every widget of the
    lesson has the same.
    """

    connection = traitlets.Unicode("").tag(sync=True)
    chosen_units = traitlets.Dict(value_trait=traitlets.Unicode(), key_trait=traitlets.Unicode()).tag(sync=True)

    _shown: ClassVar[weakref.WeakSet[BaseWidget]] = weakref.WeakSet()

    def __init__(self, **traits):
        name = uuid.uuid4().hex
        super().__init__(model_id=name, connection=name, **traits)
        self._shown.add(self)
        self.observe(self._keep_units, "chosen_units")

    @traitlets.default("chosen_units")
    def _units_of_the_folder(self) -> dict[str, str]:
        return chosen_units(Path.cwd())

    def _keep_units(self, change) -> None:
        if change["new"] == chosen_units(Path.cwd()):
            return
        choose_units(Path.cwd(), change["new"])
        for other in list(self._shown):
            if other is not self and other.comm is not None:
                other.chosen_units = dict(change["new"])
