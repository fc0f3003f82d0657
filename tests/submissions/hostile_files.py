"""Hand-ins of which something is missing, is a link or a pipe, is far too large, or has a strange name."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from graders.exercises.loader import FOLDER as RUBRICS
from graders.exercises.packing import packed

from .making import (
    ANSWERED,
    EVIDENCE,
    HOSTILE,
    LESSON,
    NOTHING,
    PAGE,
    Hostile,
    answered,
    beside_honest_work,
    change,
    hostile,
)

# ---- unlucky: something is not there --------------------------------------------------------------------------------


@hostile(NOTHING, "There is no evidence.jsonl")
def empty_folder(folder, learner, class_id):
    """Nothing at all in the folder."""
    (folder / PAGE).unlink()


@beside_honest_work("it is missing or empty")
def missing_notebook(folder):
    """The evidence alone."""
    (folder / PAGE).unlink()


@beside_honest_work("l04_base_timing (1).ipynb")
def renamed_notebook(folder):
    """The name that a browser gives to a second download."""
    (folder / PAGE).rename(folder / f"{LESSON} (1).ipynb")


@beside_honest_work("could not be read")
def notebook_not_json(folder):
    """Half of a notebook."""
    (folder / PAGE).write_bytes((folder / PAGE).read_bytes()[:500])


@beside_honest_work("could not be read")
def notebook_deeply_nested(folder):
    """Brackets within brackets until a parser gives up."""
    (folder / PAGE).write_text("[" * 200_000, encoding="utf-8")


@beside_honest_work("it is missing or empty")
def notebook_is_a_folder(folder):
    """A folder of the notebook's name, as some archive tools make."""
    (folder / PAGE).unlink()
    (folder / PAGE).mkdir()


@hostile(NOTHING, "There is no evidence.jsonl")
def no_evidence(folder, learner, class_id):
    """The notebook alone."""


@hostile(NOTHING, "evidence.jsonl is a folder")
def evidence_is_a_folder(folder, learner, class_id):
    """A folder of the evidence's name."""
    (folder / EVIDENCE).mkdir()


@beside_honest_work()
def lost_among_files(folder):
    """The whole of a download folder handed in, sorted before and after what is wanted."""
    for number in range(700):
        (folder / f"{'az'[number % 2]}{number:04d}.txt").write_bytes(b"")


@beside_honest_work()
def time_that_is_none(folder):
    """A time of handing in that no calendar has; no lateness is drawn from it."""
    (folder / "timestamp.txt").write_text("the day before yesterday", encoding="utf-8")


@beside_honest_work("timestamp.txt is")
def time_of_a_megabyte(folder):
    """A time of handing in that fills a book."""
    (folder / "timestamp.txt").write_text("2026-01-01 00:00:00 UTC " * 50_000, encoding="utf-8")


@beside_honest_work()
def rubric_of_ones_own(folder):
    """The lesson's rubric, plain and packed, with every point on a wrong answer, under the names that a class gives."""
    text = (RUBRICS / f"{LESSON}.toml").read_bytes().replace(b"value = 3.0", b"value = 7.0")
    (folder / f"{LESSON}.toml").write_bytes(text)
    (folder / f"{LESSON}.rubric").write_bytes(packed(text))
    (folder / "rubrics").mkdir()
    (folder / "rubrics" / f"{LESSON}.toml").write_bytes(text)


# ---- links, pipes and sizes -----------------------------------------------------------------------------------------


@beside_honest_work("notes.txt is a link")
def link_to_the_gradebook(folder):
    """A link beside honest work."""
    os.symlink(folder.parents[2] / "gradebook.db", folder / "notes.txt")


@hostile(NOTHING, "evidence.jsonl is a link")
def link_to_anothers_evidence(folder, learner, class_id):
    """A link in the place of work."""
    os.symlink(folder.parents[1] / "good_00" / LESSON / EVIDENCE, folder / EVIDENCE)


@beside_honest_work("l04_base_timing.ipynb is a link")
def link_to_anothers_notebook(folder):
    """A link in the place of the notebook."""
    (folder / PAGE).unlink()
    os.symlink(folder.parents[1] / "good_00" / LESSON / PAGE, folder / PAGE)


@hostile(NOTHING, "is a link and was not followed")
def link_to_anothers_folder(folder, learner, class_id):
    """The whole hand-in is a link."""
    shutil.rmtree(folder)
    os.symlink(folder.parents[1] / "good_00" / LESSON, folder)


@beside_honest_work("around is a link")
def link_that_goes_round(folder):
    """A link to the folder in which it stands."""
    os.symlink(folder, folder / "around")


@hostile(NOTHING, "is not a plain file")
def pipe_for_evidence(folder, learner, class_id):
    """A pipe, whose reader waits for ever."""
    os.mkfifo(folder / EVIDENCE)


@beside_honest_work("MB long")
def huge_notebook(folder):
    """A notebook of two hundred megabytes (sparse)."""
    os.truncate(folder / PAGE, 200_000_000)


@beside_honest_work()
def huge_stranger(folder):
    """A film in a folder beside honest work (sparse)."""
    (folder / "films").mkdir()
    with (folder / "films" / "film.bin").open("wb") as film:
        film.truncate(2_000_000_000)


@beside_honest_work()
def output_of_one_line(folder):
    """Nine megabytes of output in one line, and as much HTML as fits."""
    output = {"output_type": "display_data", "metadata": {}, "data": {"text/html": "<b>x</b>" * 1_000_000}}
    change(
        folder,
        lambda content: next(cell for cell in content["cells"] if cell["cell_type"] == "code").update(outputs=[output]),
    )


@beside_honest_work("further cells")
def forty_thousand_cells(folder):
    """Empty cells until the file is as long as the judge still reads."""
    change(
        folder,
        lambda content: content["cells"].extend(
            {"cell_type": "markdown", "id": f"c{number}", "metadata": {}, "source": "x"} for number in range(40_000)
        ),
    )


# ---- names ----------------------------------------------------------------------------------------------------------


def _of_that_name(folder: Path, learner: str, class_id: str) -> None:
    """Honest work under that name."""
    answered(folder, learner, class_id)


def _under_a_name_that_is_refused(folder: Path, learner: str, class_id: str) -> None:
    """Honest work under a name that cannot be an id."""
    answered(folder, "somebody", class_id)


REFUSED_NAMES = (
    "s[1]",
    "two\nlines",
    "star*",
    " spaced",
    "one,two",
    "{x}",
    "<img src=x onerror=alert(9)>",
    'quo"te',
    "right\u202eleft",
    os.fsdecode(b"latin-\xe9"),
)
ACCEPTED_NAMES = ("Zoë of the Yard", "Ясень", "学習者一", "متعلم", "O'Brook & Sons", "x" * 120, "e\u0301clair")
HOSTILE += [
    Hostile(_under_a_name_that_is_refused, name, NOTHING, "rename the folder", judged=False) for name in REFUSED_NAMES
]
HOSTILE += [Hostile(_of_that_name, name, ANSWERED, "written answer waits") for name in ACCEPTED_NAMES]
