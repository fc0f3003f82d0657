"""The words of a lesson on its page: a list to open, and the meaning of a word beside the place where it is used."""

from __future__ import annotations

import json

import anywidget
import traitlets

from course.authoring.glossary_links import Term, terms, text_of
from course.learner.lesson_folder import LessonFolder
from course.widgets.shared.front_end import module_text, style_text
from engine_sim import TimingCourseError
from graders.exercises.kinds.exercise import Exercise
from graders.exercises.loader import rubric_for, rubric_path

HERE, ALL = "Words of this lesson", "Words of the course"


class WordsCard(anywidget.AnyWidget):
    """Every term of the glossary, so that any link finds its meaning; those marked as `here` are listed. `problem` says
    why there are none."""

    _esm = module_text("cards/words_card.js")
    _css = style_text("shared/palette.css", "forms/forms.css", "cards/words_card.css")

    title = traitlets.Unicode(HERE).tag(sync=True)
    words = traitlets.List(traitlets.Dict(key_trait=traitlets.Unicode())).tag(sync=True)
    problem = traitlets.Unicode("").tag(sync=True)


def words() -> WordsCard:
    """The words of the lesson in whose folder the notebook runs; of the whole course where its notebook has another
    name than its folder."""
    try:
        text = text_of_lesson(LessonFolder.here())
        listed = [(term, text is None or term.used_in(text)) for term in terms()]
        return WordsCard(title=ALL if text is None else HERE, words=[_shown(*one) for one in listed])
    except TimingCourseError as error:
        return WordsCard(problem=str(error))
    except (OSError, json.JSONDecodeError, KeyError) as error:
        return WordsCard(
            problem=f"The words of this lesson cannot be listed, because its notebook cannot be read "
            f"({type(error).__name__}): save the notebook and run this cell again."
        )


def text_of_lesson(folder: LessonFolder) -> str | None:
    """What a learner reads in a lesson, and in the questions of its exercises; None where there is no such notebook."""
    if not (folder.path / f"{folder.lesson}.ipynb").is_file():
        return None
    has_rubric = rubric_path(folder.lesson, folder.path).is_file()
    asked = rubric_for(folder.lesson, folder.path).exercises.values() if has_rubric else ()
    return "\n".join([text_of(folder.lesson, folder.path.parent), *map(_asked, asked)])


def _asked(exercise: Exercise) -> str:
    return "\n".join([exercise.title, exercise.question, *exercise.texts()])


def _shown(term: Term, here: bool) -> dict:
    return {
        "anchor": term.anchor,
        "term": term.term,
        "meaning": term.meaning,
        "symbol": term.symbol,
        "unit": term.unit,
        "here": here,
    }
