"""How a lesson's picture is known by its name, drawn once, and turned into an SVG in the colours of the page."""

from __future__ import annotations

import functools
import importlib
import io
import pkgutil
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from engine_sim import TimingCourseError
from graders.palette import LIGHT, chart_style

from .sheet import fit_a_phone, for_a_phone

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_COLOUR = re.compile(r"#[0-9a-f]{6}\b")
_WHOLE_PAGE_STYLE = re.compile(r'<style type="text/css">.*?</style>', re.DOTALL)
_ROLES = {colour: role for role, colour in reversed([*LIGHT.items()])}


class LessonPictureError(TimingCourseError):
    """A picture was asked for that there is not."""


@dataclass(frozen=True)
class Drawn:
    """A picture as it was drawn, and what it shows in words, the text alternative."""

    figure: Figure
    words: str


@dataclass(frozen=True)
class LessonPicture:
    """One picture: its name, its title, and the function that draws it."""

    name: str
    title: str
    draw: Callable[[], Drawn]

    @functools.cached_property
    def drawn(self) -> Drawn:
        """Figure and words, drawn when they are first needed, in the style of the course."""
        from matplotlib import rc_context

        with rc_context(chart_style(LIGHT)):
            return self.draw()

    @functools.cached_property
    def drawn_narrow(self) -> Drawn:
        """The same on a sheet as narrow as a phone."""
        from matplotlib import rc_context

        with rc_context(chart_style(LIGHT)), for_a_phone():
            drawn = self.draw()
            fit_a_phone(drawn.figure)
            return drawn

    @functools.cached_property
    def svg(self) -> str:
        """The picture as an SVG element whose colours are those of the page that it stands on, light or dark."""
        return _as_svg(self.drawn.figure, self.name)

    @functools.cached_property
    def narrow_svg(self) -> str:
        """The same for a phone."""
        return _as_svg(self.drawn_narrow.figure, f"{self.name} narrow")


def _as_svg(figure: Figure, name: str) -> str:
    from matplotlib import rc_context

    file = io.StringIO()
    # A salt of its own keeps the ids inside the drawing apart from those of other pictures on the page.
    with rc_context(chart_style(LIGHT) | {"svg.hashsalt": name}):
        figure.savefig(file, format="svg", metadata={"Date": None})
    text = file.getvalue()
    return in_colours_of_the_page(_WHOLE_PAGE_STYLE.sub("", text[text.index("<svg") :]))


def in_colours_of_the_page(svg: str) -> str:
    """The same drawing with the palette's roles instead of its light colours; other colours stay as they are."""
    return _COLOUR.sub(lambda found: f"var(--eb-{_ROLES[found[0]]})" if found[0] in _ROLES else found[0], svg)


_PICTURES: dict[str, LessonPicture] = {}


def lesson_picture(title: str) -> Callable[[Callable[[], Drawn]], Callable[[], Drawn]]:
    """Make a function that returns a Drawn known by its name, which lessons use."""

    def known(draw: Callable[[], Drawn]) -> Callable[[], Drawn]:
        _PICTURES[draw.__name__] = LessonPicture(draw.__name__, title, draw)
        return draw

    return known


def pictures() -> dict[str, LessonPicture]:
    """All pictures by name, from every module of this folder."""
    package = __name__.rpartition(".")[0]
    for module in pkgutil.iter_modules(importlib.import_module(package).__path__, f"{package}."):
        importlib.import_module(module.name)
    return _PICTURES


def picture_named(name: str) -> LessonPicture:
    """The picture of that name. Raises LessonPictureError that lists the names there are."""
    known = pictures()
    if name not in known:
        raise LessonPictureError(f"There is no picture '{name}'; there are {', '.join(sorted(known))}.")
    return known[name]
