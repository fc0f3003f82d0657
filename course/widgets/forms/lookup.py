"""The form of a kind, by its name: the module of this folder that has the kind's own name."""

from __future__ import annotations

from collections.abc import Iterable
from importlib import import_module
from types import ModuleType

from engine_sim import TimingCourseError


class NoForm(TimingCourseError):
    """A kind of exercise is registered and has no form."""


def form_module(kind: str) -> ModuleType:
    """The module with the form of this kind. Raises NoForm where there is none."""
    name = f"{__package__}.{kind}"
    try:
        return import_module(name)
    except ModuleNotFoundError as error:
        if error.name != name:
            raise
        missing = f"{name.replace('.', '/')}.py"
        raise NoForm(
            f"The kind of exercise '{kind}' has no form: write {missing}, or take the kind out of "
            "graders/exercises/kinds/__init__.py."
        ) from None


def need_forms(kinds: Iterable[str]) -> None:
    """Raise NoForm for the first of these kinds that has no form."""
    for kind in kinds:
        form_module(kind)
