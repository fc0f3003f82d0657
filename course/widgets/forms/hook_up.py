"""The form for hoses to put on their fittings."""

from __future__ import annotations

import traitlets

from course.widgets.shared.front_end import module_text, style_text

from .form import pairs
from .form_of_parts import STYLE_OF_PARTS, FormOfParts
from .opening import opened


class HookUpForm(FormOfParts):
    """Connect hoses; the browser sends the port of every hose: `{"hose": "port" or null}`.

    `hoses` are tables of id, label and start; `ports` pairs of id and name.
    """

    _esm = module_text("forms/hook_up.js")
    _css = style_text(*STYLE_OF_PARTS, "forms/hook_up.css")
    kind = traitlets.Enum(("hook_up",), "hook_up").tag(sync=True)
    hoses = traitlets.List(traitlets.Dict()).tag(sync=True)
    ports = pairs()


def hook_up(exercise_id: str) -> HookUpForm:
    """Hoses to put on their fittings."""
    return opened(HookUpForm, exercise_id)
