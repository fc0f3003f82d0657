"""Hostile and unlucky hand-ins of lesson l04, each a small function that lays one down, with what must come of it.

Their sound evidence holds the three answers that need no person and the written one, and no work at the bench, so that
each is written in a moment; what they may earn is the three answers' points or nothing. The evidence is written here
from its description (a digest chained through SHA-256, first 32 hexadecimal digits), not by the course's own writer:
whoever forges a file is not held to that writer's rules.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import course
from engine_sim import MODEL_VERSION
from tests import scripted_learner

LESSON, BENCH = "l04_base_timing", "l04_set_base_timing"
PAGE, EVIDENCE = f"{LESSON}.ipynb", "evidence.jsonl"
ANSWERS = tuple((exercise, value, unit) for exercise, value, unit in scripted_learner.RIGHT_ANSWERS)
SCRIPT = ("<script>alert(1)</script><img src=x onerror=alert(4)> [x](javascript:alert(2)) "
          "$\\href{javascript:alert(3)}{x}$")
ANSWERED, NOTHING = "the three answers", "nothing"

LayDown = Callable[[Path, str, str], None]


@dataclass(frozen=True)
class Hostile:
    """One hand-in: how it is laid down, in a folder of what name, what it earns, and words that the summary says of it.

    `judged` is False where the folder's name cannot be a learner's id, so that the gradebook has no line for it.
    """

    lay_down: LayDown
    learner: str
    earns: str
    says: str
    judged: bool = True


HOSTILE: list[Hostile] = []


def hostile(earns: str, says: str = "written answer waits", learner: str = "", judged: bool = True):
    """Put a builder on the list; it is handed in by `learner`, or by somebody of the builder's own name."""
    def put(function: LayDown) -> LayDown:
        HOSTILE.append(Hostile(function, learner or function.__name__, earns, says, judged))
        return function
    return put


def source_of_one_lesson(folder: Path) -> Path:
    """A folder of lessons that holds l04 alone, for classes in which the other lessons would only cost time."""
    shutil.copytree(course.SOURCE / LESSON, folder / LESSON)
    return folder


# ---- what the builders are made of ----------------------------------------------------------------------------------


def header(learner: str, class_id: str, **changes) -> dict:
    """The first line of a learner's evidence."""
    digest = scripted_learner.engine_of(learner, class_id).card.digest
    return {"learner": learner, "lesson": LESSON, "class_id": class_id, "engine": digest, "schema": 1,
            "created": scripted_learner.CREATED, "model": MODEL_VERSION} | changes


def answer(exercise: str, value, unit: str | None = None, time_s: float = 1.0, control: str = "answer") -> dict:
    """One event."""
    return {"time_s": time_s, "exercise": exercise, "control": control, "value": value, "unit": unit}


def chained(contents: Iterable[Mapping]) -> list[bytes]:
    """Lines with their digests, as whoever knows the format can write them."""
    digest, lines = "", []
    for content in contents:
        text = json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        digest = hashlib.sha256((digest + text).encode()).hexdigest()[:32]
        lines.append(json.dumps({**content, "digest": digest}, sort_keys=True, ensure_ascii=False,
                                separators=(",", ":")).encode() + b"\n")
    return lines


def right_answers() -> list[dict]:
    """The events of all answers, right ones."""
    return [answer(exercise, value, unit) for exercise, value, unit in ANSWERS]


def answered(folder: Path, learner: str, class_id: str, *more: Mapping, **changes) -> list[bytes]:
    """Write evidence of the right answers and `more` events under a header with `changes`; return its lines."""
    lines = chained([header(learner, class_id, **changes), *right_answers(), *more])
    (folder / EVIDENCE).write_bytes(b"".join(lines))
    return lines


def rewritten(folder: Path, lines: Iterable[bytes]) -> None:
    """Put other lines in the place of the evidence."""
    (folder / EVIDENCE).write_bytes(b"".join(lines))


def change(folder: Path, alter: Callable[[dict], object]) -> None:
    """Let `alter` change the notebook's JSON."""
    content = json.loads((folder / PAGE).read_text(encoding="utf-8"))
    alter(content)
    (folder / PAGE).write_text(json.dumps(content), encoding="utf-8")


def change_marks(folder: Path, alter: Callable[[dict], object]) -> None:
    """Let `alter` change nbgrader's marks of every cell that has some."""
    change(folder, lambda content: [alter(cell["metadata"]["nbgrader"]) for cell in content["cells"]
                                    if "nbgrader" in cell["metadata"]])


def trap_of(folder: Path) -> Path:
    """The file that exists if code of this hand-in was run: in the class folder, named for the learner."""
    return folder.parents[2] / f"was_run_by_{folder.parent.name}"


def code_everywhere(folder: Path, source: str) -> None:
    """Put code that springs the trap and then does `source` into every code cell and into a new first one."""
    code = f"open({str(trap_of(folder))!r}, 'w').close()\n{source}"

    def plant(content: dict) -> None:
        for cell in content["cells"]:
            if cell["cell_type"] == "code":
                cell["source"] = code
        content["cells"].insert(0, {"cell_type": "code", "id": "first", "metadata": {}, "outputs": [],
                                    "execution_count": None, "source": code})
    change(folder, plant)


# ---- unlucky: something is not there --------------------------------------------------------------------------------


@hostile(NOTHING, "There is no evidence.jsonl")
def empty_folder(folder, learner, class_id):
    """Nothing at all in the folder."""
    (folder / PAGE).unlink()


@hostile(ANSWERED, "it is missing or empty")
def missing_notebook(folder, learner, class_id):
    """The evidence alone."""
    answered(folder, learner, class_id)
    (folder / PAGE).unlink()


@hostile(ANSWERED, "l04_base_timing (1).ipynb")
def renamed_notebook(folder, learner, class_id):
    """The name that a browser gives to a second download."""
    answered(folder, learner, class_id)
    (folder / PAGE).rename(folder / f"{LESSON} (1).ipynb")


@hostile(ANSWERED, "could not be read")
def notebook_not_json(folder, learner, class_id):
    """Half of a notebook."""
    answered(folder, learner, class_id)
    (folder / PAGE).write_bytes((folder / PAGE).read_bytes()[:500])


@hostile(ANSWERED, "could not be read")
def notebook_deeply_nested(folder, learner, class_id):
    """Brackets within brackets until a parser gives up."""
    answered(folder, learner, class_id)
    (folder / PAGE).write_text("[" * 200_000, encoding="utf-8")


@hostile(ANSWERED, "it is missing or empty")
def notebook_is_a_folder(folder, learner, class_id):
    """A folder of the notebook's name, as some archive tools make."""
    answered(folder, learner, class_id)
    (folder / PAGE).unlink()
    (folder / PAGE).mkdir()


@hostile(NOTHING, "There is no evidence.jsonl")
def no_evidence(folder, learner, class_id):
    """The notebook alone."""


@hostile(NOTHING, "evidence.jsonl is a folder")
def evidence_is_a_folder(folder, learner, class_id):
    """A folder of the evidence's name."""
    (folder / EVIDENCE).mkdir()


@hostile(ANSWERED)
def lost_among_files(folder, learner, class_id):
    """The whole of a download folder handed in, sorted before and after what is wanted."""
    answered(folder, learner, class_id)
    for number in range(700):
        (folder / f"{'az'[number % 2]}{number:04d}.txt").write_bytes(b"")


# ---- evidence that is not what a lesson wrote -----------------------------------------------------------------------


@hostile(NOTHING, "is empty")
def evidence_empty(folder, learner, class_id):
    """A file of no length."""
    (folder / EVIDENCE).write_bytes(b"")


@hostile(ANSWERED, "cut off")
def evidence_torn(folder, learner, class_id):
    """A last line of which half is there."""
    lines = answered(folder, learner, class_id, answer("l04_why_back_off", "peak_is_right"))
    rewritten(folder, [*lines[:-1], lines[-1][:40]])


@hostile(NOTHING, "seal of this line")
def evidence_edited(folder, learner, class_id):
    """An answer made right by hand."""
    rewritten(folder, [line.replace(b"adds_up", b"lower_idle") for line in answered(folder, learner, class_id)])


@hostile(NOTHING, "seal of this line")
def evidence_reordered(folder, learner, class_id):
    """Two lines in each other's place."""
    first, one, two, *rest = answered(folder, learner, class_id)
    rewritten(folder, [first, two, one, *rest])


@hostile(NOTHING, "seal of this line")
def evidence_duplicated(folder, learner, class_id):
    """A line written twice."""
    lines = answered(folder, learner, class_id)
    rewritten(folder, [*lines, lines[-1]])


@hostile(NOTHING, "seal of this line")
def evidence_appended_twice(folder, learner, class_id):
    """The whole file after itself."""
    rewritten(folder, answered(folder, learner, class_id) * 2)


@hostile(NOTHING, "was written by 'a friend'")
def evidence_of_another_learner(folder, learner, class_id):
    """A friend's file."""
    answered(folder, "a friend", class_id)


@hostile(NOTHING, "belongs to lesson 'l03_hook_up'")
def evidence_of_another_lesson(folder, learner, class_id):
    """The file of the lesson before."""
    answered(folder, learner, class_id, lesson="l03_hook_up")


@hostile(NOTHING, "made on an engine with digest")
def evidence_of_another_engine(folder, learner, class_id):
    """One's own name on an engine that suits one better."""
    answered(folder, learner, class_id, engine="0" * 32)


@hostile(NOTHING, "is written in schema 7")
def evidence_of_another_schema(folder, learner, class_id):
    """A format that this edition does not know."""
    answered(folder, learner, class_id, schema=7)


@hostile(NOTHING, "was made with engine model 999")
def evidence_of_a_newer_model(folder, learner, class_id):
    """The engine of a later edition."""
    answered(folder, learner, class_id, model="999")


@hostile(NOTHING, "goes back from 90 s to 30 s")
def clock_going_backwards(folder, learner, class_id):
    """An act before the one before it."""
    answered(folder, learner, class_id, answer(BENCH, "on", None, 90.0, "brake"),
             answer(BENCH, "in place", None, 30.0, "chocks"))


@hostile(NOTHING, "one JSON object was wanted")
def not_a_number(folder, learner, class_id):
    """NaN, which Python writes and JSON does not know."""
    answered(folder, learner, class_id, answer("l04_altitude_vacuum", float("nan"), "inHg"))


@hostile(NOTHING, "one JSON object was wanted")
def infinity(folder, learner, class_id):
    """An infinite answer."""
    answered(folder, learner, class_id, answer("l04_altitude_vacuum", float("inf"), "inHg"))


@hostile(NOTHING, "one JSON object was wanted")
def number_beyond_all_numbers(folder, learner, class_id):
    """A number that JSON allows and that is infinite once it is read."""
    lines = answered(folder, learner, class_id)
    text = json.dumps(answer("l04_altitude_vacuum", 14.0, "inHg"))
    rewritten(folder, [*lines, text.replace("14.0", "1e999").encode() + b"\n"])


@hostile(NOTHING, "time_s must be a number")
def time_beyond_all_time(folder, learner, class_id):
    """An act in the year three million."""
    answered(folder, learner, class_id, answer(BENCH, "on", None, 1e14, "brake"))


@hostile(ANSWERED)
def unit_mixed_up(folder, learner, class_id):
    """A first try in the wrong unit, then the right one: the best try counts."""
    wrong = answer("l04_altitude_vacuum", 14.0, "crank degrees")
    right = answer("l04_altitude_vacuum", 14.0, "inHg")
    rewritten(folder, chained([header(learner, class_id), wrong, *right_answers(), right]))


@hostile(NOTHING, "MB long")
def evidence_of_500_mb(folder, learner, class_id):
    """Half a gigabyte (a sparse file: it takes no room here)."""
    answered(folder, learner, class_id)
    os.truncate(folder / EVIDENCE, 500_000_000)


@hostile(NOTHING, "MB long")
def a_million_events(folder, learner, class_id):
    """A million answers, a hundred and thirty megabytes of them."""
    digest, line = "0" * 32, json.dumps(answer("l04_why_back_off", "adds_up"), separators=(",", ":"))
    with (folder / EVIDENCE).open("wb") as file:
        file.writelines(answered(folder, learner, class_id))
        block = (line[:-1] + f',"digest":"{digest}"}}\n').encode() * 10_000
        for _ in range(100):
            file.write(block)


@hostile(ANSWERED)
def as_many_events_as_may_be(folder, learner, class_id):
    """A sound chain as long as the judge still reads: a hundred thousand answers."""
    answered(folder, learner, class_id, *[answer("l04_why_back_off", "adds_up")] * 100_000)


@hostile(ANSWERED, "There is no control 'turbocharger'")
def impossible_acts(folder, learner, class_id):
    """Controls that do not exist and values that they cannot take, in a sound chain."""
    answered(folder, learner, class_id, answer(BENCH, None, None, 1.0, "turbocharger"),
             answer(BENCH, "sideways", None, 2.0, "brake"))


@hostile(ANSWERED)
def months_of_engine_time(folder, learner, class_id):
    """A sound chain that asks the judge's engine to run for months."""
    safe = [answer(BENCH, value, None, 1.0, control) for control, value in scripted_learner.SAFE.items()]
    answered(folder, learner, class_id, *safe, answer(BENCH, None, None, 2.0, "starter"),
             answer(BENCH, None, None, 9e6, "read_gauges"))


@hostile(NOTHING, "written by")
def a_name_of_a_million_letters(folder, learner, class_id):
    """A header whose learner fills a book."""
    lines = chained([header("x", class_id) | {"learner": "<b>" * 400_000}, *right_answers()])
    rewritten(folder, lines)


@hostile(NOTHING, "written by")
def script_for_a_name(folder, learner, class_id):
    """A header whose learner is a script."""
    rewritten(folder, chained([header("x", class_id) | {"learner": SCRIPT}, *right_answers()]))


@hostile(NOTHING, "not UTF-8 text")
def evidence_not_text(folder, learner, class_id):
    """A picture under the evidence's name."""
    (folder / EVIDENCE).write_bytes(b"\x89PNG\r\n\x1a\n\xff\x00" * 50)


# ---- links, pipes and sizes -----------------------------------------------------------------------------------------


@hostile(ANSWERED, "notes.txt is a link")
def link_to_the_gradebook(folder, learner, class_id):
    """A link beside honest work."""
    answered(folder, learner, class_id)
    os.symlink(folder.parents[2] / "gradebook.db", folder / "notes.txt")


@hostile(NOTHING, "evidence.jsonl is a link")
def link_to_anothers_evidence(folder, learner, class_id):
    """A link in the place of work."""
    os.symlink(folder.parents[1] / "good_00" / LESSON / EVIDENCE, folder / EVIDENCE)


@hostile(ANSWERED, "l04_base_timing.ipynb is a link")
def link_to_anothers_notebook(folder, learner, class_id):
    """A link in the place of the notebook."""
    answered(folder, learner, class_id)
    (folder / PAGE).unlink()
    os.symlink(folder.parents[1] / "good_00" / LESSON / PAGE, folder / PAGE)


@hostile(NOTHING, "is a link and was not followed")
def link_to_anothers_folder(folder, learner, class_id):
    """The whole hand-in is a link."""
    shutil.rmtree(folder)
    os.symlink(folder.parents[1] / "good_00" / LESSON, folder)


@hostile(ANSWERED, "around is a link")
def link_that_goes_round(folder, learner, class_id):
    """A link to the folder in which it stands."""
    answered(folder, learner, class_id)
    os.symlink(folder, folder / "around")


@hostile(NOTHING, "is not a plain file")
def pipe_for_evidence(folder, learner, class_id):
    """A pipe, whose reader waits for ever."""
    os.mkfifo(folder / EVIDENCE)


@hostile(ANSWERED, "MB long")
def huge_notebook(folder, learner, class_id):
    """A notebook of two hundred megabytes (sparse)."""
    answered(folder, learner, class_id)
    os.truncate(folder / PAGE, 200_000_000)


@hostile(ANSWERED)
def huge_stranger(folder, learner, class_id):
    """A film in a folder beside honest work (sparse)."""
    answered(folder, learner, class_id)
    (folder / "films").mkdir()
    with (folder / "films" / "film.bin").open("wb") as film:
        film.truncate(2_000_000_000)


@hostile(ANSWERED)
def output_of_one_line(folder, learner, class_id):
    """Nine megabytes of output in one line, and as much HTML as fits."""
    answered(folder, learner, class_id)
    output = {"output_type": "display_data", "metadata": {}, "data": {"text/html": "<b>x</b>" * 1_000_000}}
    change(folder, lambda content: next(cell for cell in content["cells"] if cell["cell_type"] == "code").update(
        outputs=[output]))


@hostile(ANSWERED, "further cells")
def forty_thousand_cells(folder, learner, class_id):
    """Empty cells until the file is as long as the judge still reads."""
    answered(folder, learner, class_id)
    change(folder, lambda content: content["cells"].extend(
        {"cell_type": "markdown", "id": f"c{number}", "metadata": {}, "source": "x"} for number in range(40_000)))


# ---- names ----------------------------------------------------------------------------------------------------------


def _of_that_name(folder: Path, learner: str, class_id: str) -> None:
    """Honest work under that name."""
    answered(folder, learner, class_id)


def _under_a_name_that_is_refused(folder: Path, learner: str, class_id: str) -> None:
    """Honest work under a name that cannot be an id."""
    answered(folder, "somebody", class_id)


REFUSED_NAMES = ("s[1]", "two\nlines", "star*", " spaced", "one,two", "{x}", "<img src=x onerror=alert(9)>",
                 'quo"te', "right\u202eleft", os.fsdecode(b"latin-\xe9"))
ACCEPTED_NAMES = ("Zoë of the Yard", "Ясень", "学習者一", "متعلم", "O'Brook & Sons", "x" * 120, "e\u0301clair")
HOSTILE += [Hostile(_under_a_name_that_is_refused, name, NOTHING, "rename the folder", judged=False)
            for name in REFUSED_NAMES]
HOSTILE += [Hostile(_of_that_name, name, ANSWERED, "written answer waits") for name in ACCEPTED_NAMES]


# ---- pages ----------------------------------------------------------------------------------------------------------


@hostile(ANSWERED)
def script_in_the_answer(folder, learner, class_id):
    """Commands for a browser in the written answer and in a notebook that shows it."""
    answered(folder, learner, class_id, answer("l04_explain", SCRIPT * 20))
    change(folder, lambda content: content["cells"][0].update(source=SCRIPT))


@hostile(ANSWERED)
def script_around_the_cells(folder, learner, class_id):
    """Commands for a browser in titles, outputs, attachments, raw cells, ids and cell metadata."""
    answered(folder, learner, class_id)

    def plant(content: dict) -> None:
        content["metadata"] |= {"title": SCRIPT, "widgets": {SCRIPT: {}}, "authors": [{"name": SCRIPT}]}
        for cell in content["cells"]:
            cell["metadata"] |= {"tags": [SCRIPT], "collapsed": SCRIPT}
            if cell["cell_type"] == "code":
                cell["outputs"] = [{"output_type": "display_data", "metadata": {}, "data": {"text/html": SCRIPT}}]
        content["cells"].append({"cell_type": "raw", "id": "raw1", "metadata": {"raw_mimetype": "text/html"},
                                 "source": SCRIPT})
        content["cells"].append({"cell_type": "markdown", "id": "m1", "metadata": {}, "source": SCRIPT, "attachments": {
            "x.svg": {"image/svg+xml": f"<svg onload='alert(7)'>{SCRIPT}</svg>"}}})
    change(folder, plant)


# ---- cells and their marks ------------------------------------------------------------------------------------------


@hostile(ANSWERED)
def locked_cells_edited(folder, learner, class_id):
    """Checks that give full points."""
    answered(folder, learner, class_id)
    change(folder, lambda content: [cell.update(source="100") for cell in content["cells"]
                                    if cell["metadata"].get("nbgrader", {}).get("locked")])


@hostile(ANSWERED)
def locked_cells_deleted(folder, learner, class_id):
    """Checks taken out."""
    answered(folder, learner, class_id)
    change(folder, lambda content: content.update(cells=[
        cell for cell in content["cells"] if not cell["metadata"].get("nbgrader", {}).get("grade")]))


@hostile(ANSWERED)
def every_cell_copied(folder, learner, class_id):
    """All cells selected, copied and pasted, as happens in JupyterLab."""
    answered(folder, learner, class_id)
    change(folder, lambda content: content["cells"].extend(
        [dict(cell, id=f"copy-{number}") for number, cell in enumerate(content["cells"])]))


@hostile(ANSWERED)
def points_changed(folder, learner, class_id):
    """Every exercise worth a thousand points."""
    answered(folder, learner, class_id)
    change_marks(folder, lambda marks: marks.update(points=1000))


@hostile(ANSWERED)
def points_beyond_number(folder, learner, class_id):
    """Every exercise worth infinitely much."""
    answered(folder, learner, class_id)
    change_marks(folder, lambda marks: marks.update(points=float("inf")))


@hostile(ANSWERED)
def marks_swapped(folder, learner, class_id):
    """The easy exercise's mark on the hard one's cell."""
    answered(folder, learner, class_id)
    names = {BENCH: "l04_why_back_off", "l04_why_back_off": BENCH}
    change_marks(folder, lambda marks: marks.update(grade_id=names.get(marks["grade_id"], marks["grade_id"])))


@hostile(ANSWERED)
def tags_forged(folder, learner, class_id):
    """Tags that tell an executing grader to leave a cell alone."""
    answered(folder, learner, class_id)
    change(folder, lambda content: [cell["metadata"].update(tags=["skip-execution", "remove_cell"])
                                    for cell in content["cells"]])


@hostile(ANSWERED)
def schema_of_marks_old(folder, learner, class_id):
    """Marks of an old schema, which stop a whole class where they are believed."""
    answered(folder, learner, class_id)
    change_marks(folder, lambda marks: marks.update(schema_version=2))


@hostile(ANSWERED)
def schema_of_marks_of_the_future(folder, learner, class_id):
    """Marks of schema 99."""
    answered(folder, learner, class_id)
    change_marks(folder, lambda marks: marks.update(schema_version=99))


@hostile(ANSWERED)
def metadata_stripped(folder, learner, class_id):
    """A notebook that went through a tool that leaves the bare cells."""
    answered(folder, learner, class_id)
    change(folder, lambda content: [content.update(metadata={}), *(
        cell.update(metadata={}) for cell in content["cells"])])


@hostile(ANSWERED, "could not be read")
def notebook_of_another_age(folder, learner, class_id):
    """A notebook that says to be of format 99."""
    answered(folder, learner, class_id)
    change(folder, lambda content: content.update(nbformat=99))


@hostile(ANSWERED)
def score_painted_on(folder, learner, class_id):
    """Outputs that look like full scores."""
    answered(folder, learner, class_id)
    output = {"output_type": "execute_result", "metadata": {}, "execution_count": 1, "data": {"text/plain": "27.0"}}
    change(folder, lambda content: [cell.update(outputs=[output]) for cell in content["cells"]
                                    if cell["cell_type"] == "code"])


@hostile(ANSWERED)
def verdict_painted_on(folder, learner, class_id):
    """A notebook that says the judge had been here."""
    answered(folder, learner, class_id)
    change(folder, lambda content: content["metadata"].update(timing_course={
        "exercises": {BENCH: {"points": 27.0, "max_points": 27.0, "needs_person": "", "title": "x"}}, "key": "x"}))


# ---- code that must not be run --------------------------------------------------------------------------------------


@hostile(ANSWERED)
def code_that_loops(folder, learner, class_id):
    """A loop without an end."""
    answered(folder, learner, class_id)
    code_everywhere(folder, "while True: pass")


@hostile(ANSWERED)
def code_that_exits(folder, learner, class_id):
    """An exit, and one that no handler sees."""
    answered(folder, learner, class_id)
    code_everywhere(folder, "import os; os._exit(0)")


@hostile(ANSWERED)
def code_that_prints_without_end(folder, learner, class_id):
    """Output without an end."""
    answered(folder, learner, class_id)
    code_everywhere(folder, "while True: print('x' * 10_000)")


@hostile(ANSWERED)
def code_that_reads_other_folders(folder, learner, class_id):
    """The work of the neighbours."""
    answered(folder, learner, class_id)
    code_everywhere(folder, "import glob; print([open(name).read() for name in glob.glob('../../*/*/*')])")


@hostile(ANSWERED)
def code_that_writes_the_gradebook(folder, learner, class_id):
    """Full points for everybody."""
    answered(folder, learner, class_id)
    code_everywhere(folder, f"import sqlite3; c = sqlite3.connect({str(folder.parents[2] / 'gradebook.db')!r}); "
                            "c.execute('UPDATE grade SET auto_score = 100'); c.commit()")


@hostile(ANSWERED)
def code_that_replaces_the_judge(folder, learner, class_id):
    """Packages and start-up files that stand beside the notebook under the names of the course's own."""
    answered(folder, learner, class_id)
    code_everywhere(folder, "import graders.judge; graders.judge.judge_lesson = lambda *a, **k: 1 / 0")
    springs = f"open({str(trap_of(folder))!r}, 'w').close()\n"
    for name in ("graders", "engine_sim", "nbgrader", "json", "numpy"):
        (folder / name).mkdir()
        (folder / name / "__init__.py").write_text(springs, encoding="utf-8")
    for name in ("sitecustomize.py", "usercustomize.py", "nbgrader_config.py", "ipython_config.py", "conftest.py"):
        (folder / name).write_text(springs, encoding="utf-8")
