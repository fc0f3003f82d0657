"""What every part of a lesson that listens to its kernel has in common."""

from __future__ import annotations

import uuid

import anywidget
import traitlets


class BaseWidget(anywidget.AnyWidget):
    """A widget that receives messages however late the browser shows it; `late_start.js` does it in the browser.

    `connection` names the connection between the two: the page finds the widget's own model by it.
    """

    connection = traitlets.Unicode("").tag(sync=True)

    def __init__(self, **traits):
        name = uuid.uuid4().hex
        super().__init__(model_id=name, connection=name, **traits)
