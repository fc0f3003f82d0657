"""A class folder as an instructor who knows nbgrader expects it: source, release, configuration, gradebook, roster."""

from __future__ import annotations

import json
import re
import shlex
from dataclasses import asdict, dataclass
from pathlib import Path

from course import HERE, SOURCE
from course.authoring.edition import copy_source, lessons
from engine_sim import TimingCourseError
from engine_sim.version import Edition
from graders.classroom import class_list
from graders.classroom.gradebook_copy import OneAtATime
from graders.exercises.loader import FOLDER as SHIPPED_RUBRICS, OWN_RUBRICS, lessons_with_rubrics
from graders.nbgrader_bridge.course_config import CONFIGURATION, NbgraderCourse
from graders.submissions.command_name import command_line, command_name
from graders.submissions.roster import ROSTER, RosterError, quoted, read_list, state_same, write_whole

from . import workshop_sheet
from .school_list import Ask, SchoolList, read_school_list


class ClassFolderError(TimingCourseError):
    """A class folder cannot be made."""


@dataclass(frozen=True)
class MadeClass:
    """What was made."""

    lessons: list[str]
    learners: int
    taken: str = ""  # which columns of the school's list were taken for what


def make(
    folder: Path,
    roster: Path | None = None,
    source: Path = SOURCE,
    columns: str = "",
    ask: Ask | None = None,
    gradebook: str = "",
) -> MadeClass:
    """Make a class in a new or empty folder, its gradebook on the database server at the address `gradebook` where one
    is given. Raises ClassFolderError; nothing that exists is overwritten."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise ClassFolderError(
            f"{folder} exists and is not an empty folder: a class wants a new folder, and nothing was changed."
        )
    wanted, listed = lessons(source), read_roster(roster, columns, ask) if roster else None
    folder.mkdir(parents=True, exist_ok=True)
    class_id = re.sub(r"[^\w-]+", "-", folder.resolve().name).strip("-") or "class"
    configuration = (HERE / "nbgrader_config.py").read_text(encoding="utf-8")
    named = f"course_id = {json.dumps(class_id)}\n\n# The edition of the course that this class was made with.\n"
    made_with = f"c.Judge.made_with = {json.dumps(asdict(Edition.here()))}"
    configuration = configuration.replace('course_id = "timing"', named + made_with)
    if gradebook:
        configuration += f"\n# Where the gradebook is kept.\nc.CourseDirectory.db_url = {json.dumps(gradebook)}\n"
    (folder / CONFIGURATION).write_text(configuration, encoding="utf-8")
    (folder / "README.md").write_text(
        README.format(
            name=class_id,
            first=wanted[0],
            edition=Edition.here(),
            command=command_name(),
            folder=_as_a_word(str(folder)),
        ),
        encoding="utf-8",
    )
    workshop_sheet.write(folder)
    (folder / "submitted").mkdir()
    course = NbgraderCourse(folder)
    for lesson in wanted:
        copy_source(lesson, folder / "source", source)
        (folder / "source" / lesson / "class.toml").write_text(f"class = {json.dumps(class_id)}\n", encoding="utf-8")
        course.release(lesson)
    if listed is None:
        return MadeClass(wanted, 0)
    class_list.take_in(course, listed.columns, listed.rows)
    return MadeClass(wanted, len(listed.rows), listed.taken)


def _as_a_word(text: str) -> str:
    """A path as one word of a command line; without quotes where it needs none."""
    return text if re.fullmatch(r"[\w./\\:-]+", text) else quoted(text)


def read_roster(path: Path, columns: str = "", ask: Ask | None = None) -> SchoolList:
    """A school's list of learners. `columns` says which of its columns is which, as in `id=Number,name=Pupil`.

    Raises ClassFolderError with the line that is wrong.
    """
    try:
        return read_school_list(path, dict(_pair(one) for one in columns.split(",") if one.strip()), ask)
    except RosterError as error:
        raise ClassFolderError(str(error)) from None


def _pair(text: str) -> tuple[str, str]:
    wanted, _, heading = text.partition("=")
    return wanted.strip(), heading.strip()


def is_class(folder: Path) -> bool:
    """Whether there is a class in this folder already."""
    return (folder / CONFIGURATION).is_file()


def take_in(folder: Path, roster: Path, columns: str = "", ask: Ask | None = None) -> list[str]:
    """Bring the list of a class that is there up to date with a school's; return what came of it, in sentences.

    Nobody is taken off the list. Raises TimingCourseError.
    """
    course, listed = NbgraderCourse(folder), read_roster(roster, columns, ask)
    with OneAtATime(course.root):
        found = class_list.take_in(course, listed.columns, listed.rows)
    sentences = [listed.taken, f"{len(listed.rows)} learner(s) on the list, {len(found.new)} of them new to the class."]
    if found.not_listed:
        sentences.append(
            f"In the class and not on this list, and kept: {', '.join(found.not_listed)}. To take somebody off, delete "
            f"their line in {ROSTER} and the learner on the marking screen."
        )
    return [*sentences, *found.ghosts]


def say_same(folder: Path, name: str, learner: str) -> str:
    """Write into the class list that `name` is `learner`, and give what the gradebook has under that name to the
    learner; return sentences. Raises TimingCourseError."""
    course = NbgraderCourse(folder)
    submitted = course.root / course.directory.submitted_directory
    handed_in = [path.name for path in submitted.iterdir() if path.is_dir()] if submitted.is_dir() else []
    with OneAtATime(course.root):
        sentence = state_same(course.root, name, learner, {*course.learners(), *handed_in} - {name}, course.typed)
        is_ghost = any(
            ghost.name == name for ghost in class_list.ghosts(course)
        )  # else it is somebody on the list, too
        if is_ghost:
            sentence = f"{class_list.merge(course, name, learner)}\n{sentence}"
        class_list.bring_names(course, read_list(course.root / ROSTER))  # the screens show no learner without a name
        return sentence


def say_due(folder: Path, lesson: str, time: str) -> str:
    """Write into the gradebook when a lesson is due; return a sentence. Raises TimingCourseError."""
    course = NbgraderCourse(folder)
    due = class_list.set_due(course, lesson, time)
    return (
        f"{lesson} is due on {due.day} {due:%B %Y at %H:%M} UTC. Lateness is noted, and costs what nbgrader_config.py "
        "says. The cost is worked out when a hand-in is judged; for those that were judged already: "
        f"{command_line(f'grade {course.typed} {lesson} --again')}"
    )


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
        f"then run '{command_line(f'class {shlex.quote(str(folder))} --check-rubrics')}', and with "
        "'--release' let the learners' own checks go by it."
    )


README = """# Class {name}

The steps of an instructor's week, from a school's list of learners to pages in the learners' hands. Type the commands
where you typed the one that made this class: `{folder}` is this folder, seen from there. The class was made with
{edition}.

1. **The list of learners.** At any time, and again whenever it changes, give the class your school's list: a CSV file
   with columns of its own. The headings say which column has id, names and e-mail address; where they do not, you are
   asked, or say it with `--columns`.

       {command} class {folder} --students LIST.csv

   Nobody is taken off by that. A name that a learner typed and that is not on the list is put to you, and not judged
   until you say who it is (it is kept in the column `also_known_as` of `roster.csv`; what was judged under that name
   goes to the learner):

       {command} class {folder} --same "TYPED NAME" ID

2. **Hand out.** Give each learner a copy of the folder `release/`. A learner opens it with

       {command} start --name ID --lessons RELEASE

   ID is the learner's id in your list: it is written into the evidence, and the learner's own engine is drawn from it
   and from the name of this class.
3. **Collect.** A learner makes one archive of a lesson with `{command} hand-in`, or with the button at the end of the
   lesson, and uploads or sends it. Name the folder, the stick or your school's archive of everything in which they
   lie:

       {command} collect {folder} FOLDER

   Each archive is put where it belongs, also out of archives in archives. What is left alone is named, and why. A
   hand-in is never replaced by an older one. Or copy by hand: a hand-in is the whole lesson folder with its
   `evidence.jsonl`, in `submitted/ID/LESSON/`, for example `submitted/ada/{first}/`.
4. **Judge.**

       {command} grade {folder}

   judges all that was handed in, shows what is new, and ends with the questions that only you can answer. Run it as
   often as you like, and stop it when you like: what was judged is not judged again, a new hand-in is, and marks given
   by hand are kept (and put before you again after a new hand-in). `--all` shows every hand-in.
5. **Mark by hand.** Written answers are marked criterion by criterion, each with its danger and its samples beside it:

       {command} mark {folder}

   A level is one key, Enter saves and goes to the next that waits. The page prints sheets for marking on paper, too. A
   second person gives `--marker NAME`, and sees where the two differ. `--nbgrader` opens nbgrader's own screen.

6. **Give back.** One archive for each learner, with the learner's pages alone, in `given_back/`; only those that
   changed are written again, and named:

       {command} give-back {folder}

7. **See and keep.** `{command} report {folder}` makes `report/index.html` (what to talk about next, everybody,
   objectives, misconceptions, hard items, everybody's way at the bench; printed, it is a few pages), and two tables:
   `report/grades_wide.csv` with a line for each learner and a column for each lesson, for your school's own system, and
   `report/grades.csv`, whose column `status` tells a real zero from a hand-in that is missing or could not be judged.
   In nbgrader's own export all three are 0.0.
8. **Change how it is judged.** `{command} class {folder} --own-rubric LESSON` puts the lesson's rubric into `rubrics/`,
   where you may change points, tolerances and sentences; `{command} class {folder} --check-rubrics` says what is wrong,
   and whether a faultless try can still earn everything on the engines of a dozen learners. The next run of `grade`
   judges by it. `{command} class {folder} --release` puts it into `source/` and `release/`, packed beside the
   notebook, and gives the grade cells its points: hand these lessons out (again), and a learner's own check says what
   your run says. A learner who has the lesson already takes the new rubric with `{command} start --lessons RELEASE`;
   one who fetches with nbgrader deletes `LESSON.rubric` and `engines/` and fetches with `--replace`. Until then their
   check goes by the rubric that they have, and your run tells you so. After `--check-rubrics` and `--release` you may
   name one lesson.

   *Engines of your own.* Put an engine card into `engines/`, such as `engines/our_four.toml`, and let an exercise of a
   rubric of yours name it: `engine = "our_four"`. A card that has the name of one of the course's takes its place in
   every lesson of this class. `{command} engine {folder}/engines/our_four.toml` draws what such an engine does. Then
   `--check-rubrics`, `--release`, and hand out. Do not change a card once learners have begun: their work belongs to
   the engine that it was done on.

   *Lessons of your own.* Put a notebook into `source/l11_our_engine/l11_our_engine.ipynb` (a name of this form: by it a
   hand-in is known) and its rubric into `rubrics/l11_our_engine.toml`. A copy of a lesson and rubric that are near to
   what you want is the shortest way. Each exercise is a locked cell that shows it, such as `bench("l11_set_it")`, and a
   grade cell `check("l11_set_it")` whose id is the exercise's, both made with nbgrader's own tools in JupyterLab. Then
   `--check-rubrics l11_our_engine`, `--release l11_our_engine`, and hand out: it is collected, judged and given back as
   all others are.
9. **Late hand-ins.** Say when a lesson is due:

       {command} class {folder} --due {first} "2030-02-01 12:00 UTC"

   Summary, report, table and pages say then how late a hand-in was. What it costs stands in `nbgrader_config.py`:
   nothing without a further line; `c.LateSubmissionPlugin.penalty_method = "zero"` takes all points, and a plugin of
   your own any other number (nbgrader's manual: `c.AssignLatePenalties.plugin_class`). The cost is worked out when a
   hand-in is judged.
10. **Exercises with code, of your own.** Make a lesson in `source/` with nbgrader's own tools and test cells, and run

        {command} nbgrader {folder} generate_assignment LESSON

    A lesson without a rubric is executed when it is judged, in a box made by bubblewrap: no network, no
    contents of this folder (its path may show), limits on time, memory, processes and the output that is kept, not on
    what arrives at once (`c.CodeInBox.notebook_seconds` and its like in `nbgrader_config.py`). Without
    bubblewrap (Linux; `apt-get install bubblewrap`) nothing is executed, and the summary says so. Files beside the
    notebook come from `source/` alone.

    A test cell earns its points when it ran to its end without an error, and ended in nothing; one that ends in a
    number earns that number. One that ends in any other value, was stopped by the time limit, ended its kernel or never
    reported back earns nothing, and the gradebook asks you to look at it. A learner's object can make a cell end in
    nothing (`_ipython_display_`, `... or None`): test plain values, as in `assert type(x) is int and x == 42`.

    The memory limit counts what the processes of the box hold in use, what was moved to swap, and their files without
    a name. It is looked at twenty times a second, and not by the kernel of Linux: for a moment, and in memory that the
    kernel holds for them (pipes, sockets), they can take more. On x86_64 and aarch64, where the kernel of Linux can
    filter calls (seccomp), the box is refused what no lesson needs: a look into other processes, memory that belongs
    to no process, other views of the files, and calls behind which faults of the kernel were often found.

    Hidden tests, their tracebacks and their values are for you alone. From the first cell with hidden tests on, a
    learner's feedback page shows only the kind of error for a failed test.

    **What the box cannot prevent.** A learner's code runs in the same kernel as your tests, and before them. Code
    written to cheat can change what `assert` and your functions do, report success in the kernel's name, read a hidden
    test while it runs, and show what it read by the tests it fails. The box keeps that code away from everything
    outside, but it cannot make its answers honest. Read the code before its points decide anything, and use other
    values in the hidden tests of the next class.

11. **Updates of the course.** An update takes no points away. What was judged keeps its points and says which edition
    gave them; `grade` with `--again` judges it by the new edition, but for work at an engine of another model, which
    only the edition of that model can judge. Such work that was never judged waits for you without points: mark it by
    hand, or install the edition that this class was made with (`grade` prints the command), run it once, and update
    again. Where the class goes on with the new edition, write that edition into the line
    `c.Judge.made_with` of `nbgrader_config.py`. A learner who updated finds every answer and begins again at the
    engines; for a class it is best that all update together, between two lessons.
12. **Points without learning.** `{command} answers` works for everybody who has the course, not for you alone: a
    learner who looks for the answers finds them, and a program or a friend can do the work. The run names what two
    hand-ins have in common and what was answered within a second, under *Also noticed*; that takes no points. Rely on
    engines that are drawn for each learner, the picture of the way on each page, three minutes of talk, and the session
    at a vehicle. The instructor's guide says more.

13. **What is kept about a learner.** In this folder: the line in `roster.csv`; names, points and comments in
    `gradebook.db` and its copy; archives in `downloaded/`, hand-ins in `submitted/`, judged copies in `autograded/`,
    pages in `feedback/` and `given_back/`; points and names in `report/`; names in `judging.log` where something
    failed. A hand-in holds the typed name, the answers, each act at the bench with its second, and when the work began.
    It is all kept until you delete it, and nothing leaves this folder by itself.

        {command} forget {folder} ID

    shows what is kept about one learner, and with `--yes` takes it away.

A hand-in may be UTF-8 or, where an editor saved it so, UTF-16. A gradebook that is damaged is never written to: the run
says so, and names its newest copy, `gradebook.db.copy`, which every class run that ends leaves beside it.

`workshop_sheet.html` is the check sheet for a session at a real vehicle, to be printed.

No code of a learner's is run to judge the course's own lessons. Keep `nbgrader_config.py` as it is in that respect: it
names the judge where nbgrader would run notebooks. This folder is an nbgrader course, and
`{command} nbgrader {folder}` runs any of its programs. nbgrader's own `autograde` works too, and leaves out hand-ins
that hold links or huge files; `grade` judges those without following the links. It takes the name of a hand-in's folder
for the learner's id: with a `roster.csv`, a folder under any other name is left out, and the log says whose it is on
the list. Use `grade`, which files it under the id, or rename the folder.
"""
