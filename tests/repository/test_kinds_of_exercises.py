"""A kind of exercise is one module with its form under the same name, and nothing else asks for it by name."""

from __future__ import annotations

import functools
import re
from pathlib import Path
from typing import get_args

from graders.exercises.kinds import KINDS
from tests.every_case import check_every

ROOT = Path(__file__).parents[2]
REGISTRATION = "graders/exercises/kinds/__init__.py"
# Words that mean something else in one file or folder, and what they mean there.
ANOTHER_THING = {
    ("course/widgets/forms/form.py", "number"): "how many sentences were said, so that the same one is said again",
    ("graders/exercises/sentences.py", "number"): "what a tolerance is, in a sentence about a slip",
    ("course/widgets/bench/", "number"): "a control that takes a number, its field, and the count of what was said",
    ("course/widgets/bench/", "choice"): "a control with a list of settings",
    ("graders/nbgrader_bridge/marks.py", "sum"): "what the marks of one answer come to",
}
QUOTED = re.compile(rf"""(["'`])({"|".join(KINDS)})\1""")


@functools.cache
def sources() -> dict[str, str]:
    """The text of every Python and JavaScript file of the judge and the course, by its path."""
    return {
        path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8")
        for package in ("graders", "course")
        for path in sorted((ROOT / package).rglob("*"))
        if path.suffix in (".py", ".js")
    }


def own_stems(kind: str) -> tuple[str, ...]:
    """The files that may name this kind besides the registration."""
    form = f"course/widgets/forms/{kind}"
    return f"graders/exercises/kinds/{kind}.py", f"{form}.py", f"{form}.js"


def means_another_thing(path: str, word: str) -> bool:
    """Whether a word is something else than a kind of exercise in this file."""
    return any(path.startswith(place) and word == other for place, other in ANOTHER_THING)


def kinds_named(path: str, text: str) -> list[str]:
    """The kinds that a file names in quotes, without its own and without words that mean another thing there."""
    return [
        kind
        for _, kind in QUOTED.findall(text)
        if path != REGISTRATION and path not in own_stems(kind) and not means_another_thing(path, kind)
    ]


def test_a_kind_has_its_two_stems():
    """The class stands in the module of the kind's name and says that name; the form stands under the same stem."""

    def check(kind):
        judged, form, _ = own_stems(kind)
        (said,) = get_args(KINDS[kind].__pydantic_fields__["kind"].annotation)
        assert said == kind and KINDS[kind].__module__ == judged.removesuffix(".py").replace("/", ".")
        assert (ROOT / form).is_file()

    check_every(check, ((kind, kind) for kind in KINDS))


def test_no_other_file_names_a_kind():
    """In graders/ and course/ the name of a kind stands in quotes in its own stems and in the registration alone."""
    named = {path: kinds_named(path, text) for path, text in sources().items()}
    assert {path: kinds for path, kinds in named.items() if kinds} == {}


def test_every_exception_is_still_needed():
    """A word that means another thing is there: an exception that nobody needs any more is taken out."""
    for place, word in ANOTHER_THING:
        texts = [text for path, text in sources().items() if path.startswith(place)]
        assert any(word == found for text in texts for _, found in QUOTED.findall(text)), (place, word)


WRONG = {
    "graders/judge/__init__.py": 'if exercise.kind == "order":',
    "course/widgets/forms/form_view.js": "this.kind === 'written' || !tries",
    "graders/exercises/kinds/order.py": 'VARIED = ("several",)',
    "course/widgets/forms/form.py": 'kind in ("choice", "number")',
    "course/commands/answers.py": "_IN_WORDS = {`hook_up`: 1}",
}


def test_the_search_can_find_something():
    """A kind asked for by name is found in Python and JavaScript, and in the module of another kind."""
    assert [path for path, text in WRONG.items() if not kinds_named(path, text)] == []
