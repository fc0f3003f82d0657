"""A class folder as an instructor who knows nbgrader expects it: source, release, configuration, gradebook, roster."""

from __future__ import annotations

import json
import re
from dataclasses import asdict, dataclass
from pathlib import Path

from course import HERE, SOURCE
from course.authoring.edition import copy_source, lessons
from engine_sim import TimingCourseError
from engine_sim.version import Edition
from graders.exercises.loader import FOLDER as SHIPPED_RUBRICS, lessons_with_rubrics
from graders.nbgrader_bridge.course_config import CONFIGURATION, NbgraderCourse
from graders.submissions.roster import COLUMNS, ROSTER, RosterError, read_rows, state_same, write_list, write_whole
from graders.submissions.verdict_key import OWN_RUBRICS


class ClassFolderError(TimingCourseError):
    """A class folder cannot be made."""


@dataclass(frozen=True)
class MadeClass:
    """What was made."""

    lessons: list[str]
    learners: int


def make(folder: Path, roster: Path | None = None, source: Path = SOURCE) -> MadeClass:
    """Make a class in a new or empty folder. Raises ClassFolderError; nothing that exists is overwritten."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ClassFolderError(
            f"{folder} exists and is not an empty folder: a class wants a new folder, and nothing was changed."
        )
    wanted, (columns, learners) = lessons(source), read_roster(roster) if roster else (COLUMNS, [])
    folder.mkdir(parents=True, exist_ok=True)
    class_id = re.sub(r"[^\w-]+", "-", folder.resolve().name).strip("-") or "class"
    configuration = (HERE / "nbgrader_config.py").read_text(encoding="utf-8")
    named = f"course_id = {json.dumps(class_id)}\n\n# The edition of the course that this class was made with.\n"
    made_with = f"c.Judge.made_with = {json.dumps(asdict(Edition.here()))}"
    configuration = configuration.replace('course_id = "timing"', named + made_with)
    (folder / CONFIGURATION).write_text(configuration, encoding="utf-8")
    (folder / "README.md").write_text(
        README.format(name=class_id, first=wanted[0], edition=Edition.here()), encoding="utf-8"
    )
    (folder / "submitted").mkdir()
    course = NbgraderCourse(folder)
    for lesson in wanted:
        copy_source(lesson, folder / "source", source)
        (folder / "source" / lesson / "class.toml").write_text(f"class = {json.dumps(class_id)}\n", encoding="utf-8")
        course.release(lesson)
    if roster:
        write_list(folder / ROSTER, learners, columns)
    for row in learners:
        course.add_learner(row["id"], row["first_name"], row["last_name"], row["email"])
    return MadeClass(wanted, len(learners))


def read_roster(path: Path) -> tuple[list[str], list[dict[str, str]]]:
    """Columns and rows of a class list with the column `id`. Raises ClassFolderError with the line that is wrong."""
    try:
        return read_rows(path)
    except RosterError as error:
        raise ClassFolderError(str(error)) from None


def say_same(folder: Path, name: str, learner: str) -> str:
    """Write into the class list that `name` is `learner`; return a sentence. Raises TimingCourseError."""
    course = NbgraderCourse(folder)
    submitted = course.root / course.directory.submitted_directory
    handed_in = [path.name for path in submitted.iterdir() if path.is_dir()] if submitted.is_dir() else []
    return state_same(course.root, name, learner, {*course.learners(), *handed_in} - {name})


def own_rubric(folder: Path, lesson: str) -> str:
    """Copy a lesson's rubric into the class folder, for the instructor to change; return a sentence.

    Raises ClassFolderError where there is no such rubric or the class has its own already.
    """
    root = NbgraderCourse(folder).root
    path = root / OWN_RUBRICS / f"{lesson}.toml"
    if path.exists():
        raise ClassFolderError(f"This class has a rubric of its own for {lesson} already, in {path}: change it there.")
    if lesson not in lessons_with_rubrics():
        raise ClassFolderError(f"There is no lesson '{lesson}'; there are {', '.join(lessons_with_rubrics())}.")
    path.parent.mkdir(exist_ok=True)
    write_whole(path, (SHIPPED_RUBRICS / path.name).read_bytes())
    return (
        f"{path} is this class's rubric of {lesson} from now on. Change points, tolerances and sentences there, "
        "then run 'timing-course class FOLDER --check-rubrics', and with '--release-rubrics' let the learners' own "
        "checks go by it."
    )


README = """# Class {name}

This folder is an nbgrader course. Every step can be done with nbgrader's own tools or with the commands below. It was
made with {edition}.

1. **Hand out.** Give each learner a copy of the folder `release/` (or use `nbgrader release_assignment`). A learner
   opens it with `timing-course start FOLDER --name ID --lessons RELEASE`. ID is the learner's id in your roster: it is
   written into the evidence, and the learner's own engine is drawn from it and from the name of this class.
2. **Hand in.** A learner makes one archive of a lesson with `timing-course hand-in`, or with `hand_in()` in the
   notebook, and uploads or sends it. Put the archives of a lesson into `downloaded/LESSON/archive/` and run
   `nbgrader zip_collect LESSON` here (`--force` when there are newer ones). An archive that is damaged, not named so,
   or would unpack without end or outside its folder is left alone; the next class run says which and why.
   Or copy: a hand-in is the whole lesson folder with its `evidence.jsonl`, in `submitted/ID/LESSON/`, for example
   `submitted/ada/{first}/`.
3. **Judge.** `timing-course grade .` judges all that was handed in, shows who has what, names the hand-ins that need
   a person and why, and makes the pages in `feedback/`. Run it as often as you like, and stop it when you like: what
   was judged is not judged again, a new hand-in is, and marks given by hand are kept (and put before you again after
   a new hand-in).
4. **Names.** Where the class has a `roster.csv`, names are matched by it, whatever their capitals, spaces and accents.
   A name that is not known is put to you, and not judged until you say who it is:
   `timing-course class . --same "TYPED NAME" ID` (it is kept in the column `also_known_as`).
5. **Mark by hand.** Written answers are marked on nbgrader's marking screen: run `jupyter lab` in this folder and open
   Nbgrader, Formgrader. Then run `timing-course grade .` once more for the pages.
6. **Give back.** `feedback/ID/LESSON/` holds the learner's page (copy, or `nbgrader release_feedback`).
7. **See and keep.** `timing-course report .` makes `report/index.html` (objectives, misconceptions, hard items, every
   learner, everybody's way at the bench) and `report/grades.csv`, whose column `status` tells a real zero from a
   hand-in that is missing or could not be judged. In `nbgrader export` all three stand as 0.0.
8. **Change how it is judged.** `timing-course class . --own-rubric LESSON` puts the lesson's rubric into `rubrics/`,
   where you may change points, tolerances and sentences; `timing-course class . --check-rubrics` says what is wrong,
   and whether a faultless try can still earn everything on the engines of a dozen learners. The next
   `timing-course grade .` judges by it. `timing-course class . --release-rubrics` puts it into `source/` and
   `release/`, packed beside the notebook, and gives the grade cells its points: hand these lessons out (again), and a
   learner's own check says what your run says. Who has the lesson already takes the new rubric with
   `timing-course start FOLDER --lessons RELEASE`; who fetches with nbgrader deletes `LESSON.rubric` and fetches with
   `--replace`. Until then their check goes by the rubric that they have, and your run tells you so.
9. **Late hand-ins.** Give a lesson its last day with
   `nbgrader db assignment add LESSON --duedate="2026-02-01 12:00 UTC"` and write into `nbgrader_config.py` what it
   costs: `c.LateSubmissionPlugin.penalty_method = "zero"` takes all points, and a plugin of your own any other number
   (nbgrader's manual: `c.AssignLatePenalties.plugin_class`). Without such a line lateness is noted and costs nothing.
   The penalty is worked out when a hand-in is judged.
10. **Exercises with code, of your own.** Make a lesson in `source/` with nbgrader's own tools and test cells, and run
    `nbgrader generate_assignment LESSON`. A lesson without a rubric is executed when it is judged, in a box made by
    bubblewrap: no network, no contents of this folder (its path may show), limits on time, memory, processes and the
    output that is kept, not on what arrives at once (`c.CodeInBox.notebook_seconds` and its like in
    `nbgrader_config.py`). Without bubblewrap (Linux; `apt-get install bubblewrap`) nothing is executed, and the summary
    says so. Files beside the notebook come from `source/` alone.

    A test cell earns its points when it ran to its end without an error, and ended in nothing; one that ends in a
    number earns that number. One that ends in any other value, was stopped by the time limit, ended its kernel or never
    reported back earns nothing, and the gradebook asks you to look at it. A learner's object can make a cell end in
    nothing (`_ipython_display_`, `... or None`): test plain values, as in `assert type(x) is int and x == 42`.

    Hidden tests, their tracebacks and their values are for you alone. From the first cell with hidden tests on, a
    learner's feedback page shows only the kind of error for a failed test.

    **What the box cannot prevent.** A learner's code runs in the same kernel as your tests, and before them. Code
    written to cheat can change what `assert` and your functions do, report success in the kernel's name, read a hidden
    test while it runs, and show what it read by the tests it fails. The box keeps that code away from everything
    outside, but it cannot make its answers honest. Read the code before its points decide anything, and use other
    values in the hidden tests of the next class.

11. **Updates of the course.** An update takes no points away. What was judged keeps its points and says which edition
    gave them; `timing-course grade . --again` judges it by the new edition, but for work at an engine of another model,
    which only the edition of that model can judge. Such work that was never judged waits for you without points: mark
    it by hand, or install the edition that this class was made with (`timing-course grade .` prints the command), run
    it once, and update again. Where the class goes on with the new edition, write that edition into the line
    `c.Judge.made_with` of `nbgrader_config.py`. A learner who updated finds every answer and begins again at the
    engines; for a class it is best that all update together, between two lessons.

No code of a learner's is run to judge the course's own lessons. Keep `nbgrader_config.py` as it is in that respect: it
names the judge where nbgrader would run notebooks. nbgrader's own `autograde` command works too, and leaves out
hand-ins that hold links or huge files; `timing-course grade` judges those without following the links. It takes the
name of a hand-in's folder for the learner's id: with a `roster.csv`, a folder under any other name is left out, and
the log says whose it is on the list. Use `timing-course grade`, which files it under the id, or rename the folder.
"""
