"""A lesson's picture on the page, with its title, and the same in words below it."""

from __future__ import annotations

from dataclasses import asdict

import anywidget
import traitlets

from course.widgets.shared.front_end import module_text, style_text
from engine_sim import TimingCourseError

from .kept_pictures import shown_picture


class PictureCard(anywidget.AnyWidget):
    """One picture, for a page and, in `narrow`, for a phone. `words` are paragraphs with empty lines between; `problem`
    says why there is no picture."""

    _esm = module_text("cards/picture_card.js")
    _css = style_text("shared/palette.css", "forms/forms.css", "cards/picture_card.css")

    title = traitlets.Unicode("").tag(sync=True)
    svg = traitlets.Unicode("").tag(sync=True)
    narrow = traitlets.Unicode("").tag(sync=True)
    words = traitlets.Unicode("").tag(sync=True)
    problem = traitlets.Unicode("").tag(sync=True)


def picture(name: str) -> PictureCard:
    """The picture of that name from course/authoring/lesson_pictures."""
    try:
        return PictureCard(**asdict(shown_picture(name)))
    except TimingCourseError as error:
        return PictureCard(title=name, problem=str(error))
