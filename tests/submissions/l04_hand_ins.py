"""Named hand-ins of lesson l04, good and bad: each function lays one down in a folder that holds the released notebook.

Used by the class run's tests and by whoever wants to look at one. The learner's id and the class's decide the engine.
"""

from __future__ import annotations

import json
import os
from pathlib import Path

from engine_sim import EvidenceWriter, Header
from tests import scripted_learner

LESSON = "l04_base_timing"
PAGE, EVIDENCE = f"{LESSON}.ipynb", "evidence.jsonl"
POISON = (
    "<script>alert(1)</script> [x](javascript:alert(2)) $\\href{javascript:alert(3)}{x}$ "
    "<img src=x onerror=alert(4)> The weights add their degrees."
)


def work(folder: Path, learner: str, class_id: str, **habits) -> None:
    """Evidence of a learner with these habits."""
    (folder / EVIDENCE).unlink(missing_ok=True)
    scripted_learner.evidence_by(folder / EVIDENCE, learner, scripted_learner.Habits(**habits), class_id=class_id)


def change(folder: Path, alter) -> None:
    """Let `alter` change the notebook's JSON."""
    content = json.loads((folder / PAGE).read_text(encoding="utf-8"))
    alter(content)
    (folder / PAGE).write_text(json.dumps(content), encoding="utf-8")


def perfect(folder: Path, learner: str, class_id: str) -> None:
    """Everything as the method says, every answer right, the written one given."""
    work(folder, learner, class_id)


def careless(folder: Path, learner: str, class_id: str) -> None:
    """Stays at the peak, leaves the hose open and the clamp loose, guesses the choice and slips in a unit."""
    work(
        folder,
        learner,
        class_id,
        hose="off and open",
        backs_off_with="nothing",
        tightens=False,
        answers=(("l04_why_back_off", "peak_is_right", None), ("l04_distributor_degrees", 6.0, "distributor degrees")),
    )


def empty(folder: Path, learner: str, class_id: str) -> None:
    """Opened the lesson and did nothing: a header without events."""
    digest = scripted_learner.engine_of(learner, class_id).card.digest
    EvidenceWriter(folder / EVIDENCE, Header(learner, LESSON, class_id, digest, scripted_learner.CREATED))


def damaged(folder: Path, learner: str, class_id: str) -> None:
    """All the work done, and a notebook that is no longer JSON."""
    work(folder, learner, class_id)
    (folder / PAGE).write_text('{"cells": [', encoding="utf-8")


def no_evidence(folder: Path, learner: str, class_id: str) -> None:
    """The notebook alone."""


def of_another(folder: Path, learner: str, class_id: str) -> None:
    """A friend's evidence."""
    work(folder, "a friend", class_id)


def altered(folder: Path, learner: str, class_id: str) -> None:
    """One answer corrected by hand in the evidence file."""
    work(folder, learner, class_id, answers=(("l04_why_back_off", "peak_is_right", None),))
    text = (folder / EVIDENCE).read_text(encoding="utf-8")
    (folder / EVIDENCE).write_text(text.replace("peak_is_right", "adds_up"), encoding="utf-8")


def power_cut(folder: Path, learner: str, class_id: str) -> None:
    """All the work done, and half a line at the end."""
    work(folder, learner, class_id)
    with (folder / EVIDENCE).open("ab") as file:
        file.write(b'{"control": "begi')


def half_a_letter(folder: Path, learner: str, class_id: str) -> None:
    """A line that holds half of a character, which is no text that can be written again."""
    work(folder, learner, class_id, answers=())
    with (folder / EVIDENCE).open("ab") as file:
        file.write(
            b'{"control":"answer","digest":"0","exercise":"l04_explain","time_s":1.0,"unit":null,"value":"\\ud800"}\n'
        )


def copied_cell(folder: Path, learner: str, class_id: str) -> None:
    """All the work done, and every cell copied and pasted once."""
    work(folder, learner, class_id)
    change(
        folder,
        lambda content: content["cells"].extend(
            [dict(cell, id=f"copy-{number}") for number, cell in enumerate(content["cells"])]
        ),
    )


def link_out_of_folder(folder: Path, learner: str, class_id: str) -> None:
    """The work done, and a link to a file that belongs to the computer."""
    work(folder, learner, class_id)
    os.symlink("/etc/passwd", folder / "notes.txt")


def poison(folder: Path, learner: str, class_id: str) -> None:
    """HTML, script, Markdown and MathJax commands in the written answer and in the lesson's prose."""
    work(folder, learner, class_id, answers=(("l04_explain", POISON, None),))
    change(folder, lambda content: content["cells"][0].update(source=POISON))


HAND_INS = {
    function.__name__: function
    for function in (
        perfect,
        careless,
        empty,
        damaged,
        no_evidence,
        of_another,
        altered,
        power_cut,
        half_a_letter,
        copied_cell,
        link_out_of_folder,
        poison,
    )
}
