"""The command line, `timing-course`: start a course, run a class, judge what was handed in, check one's own work."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Annotated

import typer

from course.learner.quick_jsonschema import load_jsonschema_quickly
from engine_sim import TimingCourseError
from graders.submissions.command_name import PROGRAM, command_line, command_name
from graders.submissions.folder import printable

DEFAULT_FOLDER = Path("my-course")
# Libraries of the extras in pyproject.toml, which learners do without, and the extra that each is in.
OF_EXTRAS = {
    **dict.fromkeys(("nbgrader", "sqlalchemy", "jupyterlab"), "class"),
    **dict.fromkeys(("sphinx", "myst_parser", "furo"), "book"),
    **dict.fromkeys(("jupyterhub", "firstuseauthenticator"), "hub"),
}

app = typer.Typer(
    name=PROGRAM,
    no_args_is_help=True,
    add_completion=command_name() == PROGRAM,  # a shell completes the name of a program that it finds
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help=(
        "Learn to set base ignition timing by vacuum gauge and tachometer, on a simulated engine.\n\n"
        f"To learn by yourself: '{command_line('start')}'. To teach: '{command_line('class FOLDER')}'."
    ),
)

ClassFolder = Annotated[Path, typer.Argument(help="The folder of the class.")]
OneLesson = Annotated[str | None, typer.Argument(help="One lesson, such as l04_base_timing; else all.")]
SchoolsList = Annotated[
    Path | None,
    typer.Option(help="Your school's list of learners, a CSV file with columns of its own; at any time, and again."),
]
ListColumns = Annotated[
    str,
    typer.Option(
        metavar="COLUMNS",
        help="Which column of the list is which, as in id=Number,name=Pupil, where its headings do not say so.",
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print what came of it for another program to read.")]


def _say_version(wanted: bool) -> None:
    if wanted:
        from engine_sim.version import Edition

        print(Edition.here())
        raise typer.Exit


@app.callback()
def every_command(
    version: Annotated[
        bool, typer.Option("--version", callback=_say_version, is_eager=True, help="Print the edition of the course.")
    ] = False,
) -> None:
    """Options of the program itself; its help stands above."""


@app.command()
def start(
    folder: Annotated[Path, typer.Argument(help="Where your lessons and your work are kept.")] = DEFAULT_FOLDER,
    name: Annotated[str, typer.Option(help="Your name: the engine you work on is drawn from it.")] = "",
    lessons: Annotated[
        Path | None, typer.Option(help="The folder of lessons that your class handed out, where you belong to one.")
    ] = None,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the page, or only print its address.")
    ] = True,
    port: Annotated[int, typer.Option(help="The number in the page's address; 0: one that is free.")] = 0,
    notebook: Annotated[
        bool, typer.Option("--notebook", help="The lessons as notebooks in JupyterLab, instead of plain pages.")
    ] = False,
    plain: Annotated[bool, typer.Option("--plain", hidden=True)] = False,  # an older name of what is usual now
    lay_out_only: Annotated[bool, typer.Option("--lay-out-only", help="Make the folder and stop there.")] = False,
) -> None:
    """Lay out your lessons and open the home page. Work that is already in the folder is kept as it is."""
    from course.commands.start import lay_out, open_notebooks, open_plain_pages

    first = lay_out(folder, name, lessons)
    if lay_out_only:
        print(f"Your lessons are in {folder.resolve()}.")
        return
    raise typer.Exit(
        open_notebooks(folder, first, browser, port) if notebook else open_plain_pages(folder, browser, port)
    )


@app.command()
def show(
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the page, or only print its address.")
    ] = True,
    port: Annotated[int, typer.Option(help="The number in the page's address; 0: one that is free.")] = 0,
) -> None:
    """Open the instructor's bench for a projector, and recordings of the method to watch. Nothing is written down."""
    from .commands.show import run

    raise typer.Exit(run(browser, port))


@app.command("class")
def make_class(
    folder: Annotated[Path, typer.Argument(help="A new folder for the class, or the folder of one that is there.")],
    lesson: OneLesson = None,
    students: SchoolsList = None,
    columns: ListColumns = "",
    due: Annotated[
        tuple[str, str] | None,
        typer.Option(metavar="LESSON TIME", help="Say when a lesson is due, as in l04_base_timing '2026-02-01 12:00'."),
    ] = None,
    same: Annotated[
        tuple[str, str] | None,
        typer.Option(
            metavar="NAME ID",
            help="Say that NAME, which a learner typed, is ID; what was judged under NAME goes there.",
        ),
    ] = None,
    check_rubrics: Annotated[
        bool,
        typer.Option(
            "--check-rubrics",
            help=(
                "Look through the rubrics: what is wrong, and can a faultless try earn everything? Of one LESSON too."
            ),
        ),
    ] = False,
    gradebook: Annotated[
        str, typer.Option(metavar="ADDRESS", help="Keep a new class's gradebook on this database server (PostgreSQL).")
    ] = "",
    own_rubric: Annotated[
        str, typer.Option(metavar="LESSON", help=("Put a lesson's rubric into the class's folder, for you to change."))
    ] = "",
    release: Annotated[
        bool,
        typer.Option(
            "--release",
            "--release-rubrics",  # its older name
            help=("Put the class's own rubrics, engine cards and lessons into what you hand out. Of one LESSON too."),
        ),
    ] = False,
) -> None:
    """Make the folder of a class: lessons to hand out, a gradebook, and a README that says what to do when."""
    load_jsonschema_quickly()
    from .commands import make_class, released_rubrics, rubrics

    if lesson and not (check_rubrics or release):
        raise typer.BadParameter(
            f"'{lesson}' is a lesson, which --check-rubrics and --release take", param_hint="LESSON"
        )

    if same:
        print(make_class.say_same(folder, *same))
    elif due:
        print(make_class.say_due(folder, *due))
    elif students and make_class.is_class(folder):
        print("\n".join(make_class.take_in(folder, students, columns, _asked_in_terminal())))
    elif own_rubric:
        print(make_class.own_rubric(folder, own_rubric))
    elif release:
        sentences = released_rubrics.release(folder, lesson)
        print("\n".join(sentences) or "The lessons in release/ have the rubrics that this class is judged by already.")
    elif check_rubrics:
        raise typer.Exit(rubrics.check(folder, only=lesson))
    else:
        made = make_class.make(folder, students, columns=columns, ask=_asked_in_terminal(), gradebook=gradebook)
        print(
            f"The class is in {folder.resolve()}: {len(made.lessons)} lesson(s) to hand out in release/, "
            f"{made.learners} learner(s) on the roster. Read README.md there."
        )
        if made.taken:
            print(made.taken)


@app.command()
def collect(
    folder: ClassFolder,
    sources: Annotated[
        list[Path] | None,
        typer.Argument(help="Archives, or folders in which they lie: a stick, a school's archive of everything."),
    ] = None,
    lesson: Annotated[str | None, typer.Option(help="Take in one lesson alone.")] = None,
    as_json: AsJson = False,
) -> None:
    """Take in what learners handed in, from wherever it lies; say what was left alone and why."""
    load_jsonschema_quickly()
    from course.commands.collect import run

    raise typer.Exit(run(folder, sources or (), lesson, as_json))


@app.command()
def grade(
    folder: ClassFolder,
    lesson: OneLesson = None,
    again: Annotated[bool, typer.Option("--again", help="Judge hand-ins that were judged before, too.")] = False,
    everything: Annotated[bool, typer.Option("--all", help="Show every hand-in and remark, old ones too.")] = False,
    as_json: AsJson = False,
) -> None:
    """Judge all that was handed in, make the pages that learners get back, and say what is new and what to do."""
    if folder.is_dir():
        from graders.judge.worker_pool import LOG, start_early

        start_early(folder.resolve() / LOG)
    load_jsonschema_quickly()
    from course.commands.grade import run

    raise typer.Exit(run(folder, lesson, again, everything=everything, as_json=as_json))


@app.command()
def mark(
    folder: ClassFolder,
    lesson: OneLesson = None,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the screen, or only print its address.")
    ] = True,
    port: Annotated[int, typer.Option(help="The number in the page's address; 0: one that is free.")] = 0,
    marker: Annotated[
        str, typer.Option(help="Your name, which is kept with each mark; else the name that you logged in with.")
    ] = "",
    nbgrader: Annotated[
        bool, typer.Option("--nbgrader", help="nbgrader's own screen, with whole notebooks, instead of the page.")
    ] = False,
) -> None:
    """Mark written answers, criterion by criterion, on a page of your own; say first what waits."""
    load_jsonschema_quickly()
    from course.commands.mark import run

    raise typer.Exit(run(folder, lesson, browser, port, marker, nbgrader))


@app.command("give-back")
def give_back(
    folder: ClassFolder,
    lesson: OneLesson = None,
    to: Annotated[Path | None, typer.Option(help="Where to put them; else given_back/ in the class's folder.")] = None,
    as_json: AsJson = False,
) -> None:
    """Put each learner's pages into one archive, to be uploaded or sent."""
    load_jsonschema_quickly()
    from course.commands.give_back import run

    raise typer.Exit(run(folder, lesson, to, as_json))


@app.command(context_settings={"allow_extra_args": True, "ignore_unknown_options": True, "help_option_names": []})
def nbgrader(context: typer.Context, folder: ClassFolder) -> None:
    """Run a program of nbgrader's on the class, with the words that follow, as in 'nbgrader FOLDER export'."""
    from course.commands.nbgrader_programs import run

    raise typer.Exit(run(folder, context.args))


@app.command()
def report(
    folder: ClassFolder,
    lesson: OneLesson = None,
    as_json: AsJson = False,
) -> None:
    """Report on the class: a page with objectives, misconceptions and everybody's way, and a table of grades."""
    load_jsonschema_quickly()
    from course.commands.report import run

    raise typer.Exit(run(folder, lesson, as_json=as_json))


@app.command()
def forget(
    folder: ClassFolder,
    learner: Annotated[str, typer.Argument(help="The learner's id on the class list.")],
    yes: Annotated[bool, typer.Option("--yes", help="Take it away; without this it is only shown.")] = False,
) -> None:
    """Show what the class keeps about one learner, and take it away."""
    load_jsonschema_quickly()
    from course.commands.forget import run

    raise typer.Exit(run(folder, learner, yes))


@app.command()
def answers(
    folder: Annotated[Path, typer.Argument(help="The folder of the class.")],
    lesson: Annotated[str, typer.Argument(help="The lesson, such as l04_base_timing.")],
    learner: Annotated[str, typer.Argument(help="The learner's id on the class list.")],
) -> None:
    """For the instructor: the answers of a lesson as one learner has it, with that learner's numbers and faults."""
    load_jsonschema_quickly()
    from course.commands.answers import run

    raise typer.Exit(run(folder, lesson, learner))


@app.command()
def check(
    folder: Annotated[Path, typer.Argument(help="Your course folder, or one lesson in it.")] = DEFAULT_FOLDER,
    as_json: AsJson = False,
) -> None:
    """Show what your own work earns so far, by the same judge that a class is judged by."""
    from course.commands.check import run

    raise typer.Exit(run(folder, as_json=as_json))


@app.command("hand-in")
def hand_in(
    lesson: Annotated[
        str, typer.Argument(help="The lesson, such as l04_base_timing, or its folder, where there are several.")
    ] = "",
    folder: Annotated[Path, typer.Option(help="Your course folder, or one lesson in it.")] = DEFAULT_FOLDER,
    anyway: Annotated[bool, typer.Option("--anyway", help="Hand in what there is, though some is missing.")] = False,
) -> None:
    """Make one file of a lesson's notebook and work, to be uploaded or sent; first say what is missing."""
    from course.commands.hand_in import run

    raise typer.Exit(run(folder, lesson, anyway))


@app.command()
def hub(
    what: Annotated[str, typer.Argument(metavar="[check|stop]", help="Look the room over, or stop it; else start it.")],
    folder: Annotated[Path | None, typer.Argument(help="The folder of the room; its name becomes the class's.")] = None,
    roster: SchoolsList = None,
    columns: ListColumns = "",
    instructor: Annotated[
        list[str] | None, typer.Option(help="The account of somebody who hands out, judges and marks; once for each.")
    ] = None,
    port: Annotated[
        int | None, typer.Option(help="The number in the room's address; the next three are used, too.")
    ] = None,
    address: Annotated[str | None, typer.Option(help="This machine's address to serve at; else all it has.")] = None,
    passwords: Annotated[
        str | None,
        typer.Option(help="pam: accounts of this machine; first-use: each learner chooses one at the first login."),
    ] = None,
    certificate: Annotated[
        tuple[str, str] | None, typer.Option(metavar="FILE KEY", help="Serve encrypted, with this certificate.")
    ] = None,
    live: Annotated[
        bool | None,
        typer.Option("--live/--no-live", help="Let instructors see who is at which step; learners are told."),
    ] = None,
    gradebook: Annotated[
        str | None, typer.Option(metavar="ADDRESS", help="Keep the gradebook on this database server (PostgreSQL).")
    ] = None,
) -> None:
    """Open a room full of learners: a JupyterHub for a class, from its list of learners, on this machine."""
    load_jsonschema_quickly()
    from course.hub.command import WORDS, run

    if folder is None:
        what, folder = "start", Path(what)
    if what not in WORDS:
        raise typer.BadParameter(f"'{what}' is not one of {', '.join(WORDS)}", param_hint="WHAT")
    chosen = {
        "instructors": tuple(instructor or ()) or None,
        "port": port,
        "address": address,
        "passwords": passwords,
        "certificate": certificate,
        "live": live,
        "gradebook": gradebook,
    }
    changes = {key: value for key, value in chosen.items() if value is not None}
    raise typer.Exit(run(what, folder, roster, changes, columns))


@app.command()
def engine(
    card: Annotated[Path, typer.Argument(help="An engine card (a .toml file), or the name of one of the workshop's.")],
    file: Annotated[
        Path | None, typer.Option(help="Where to put the picture: a file that ends in .png, .svg or .pdf.")
    ] = None,
    table: Annotated[bool, typer.Option("--table", help="Print the numbers instead of drawing.")] = False,
    altitude: Annotated[float, typer.Option(help="Altitude in feet.")] = 0.0,
) -> None:
    """Draw the portrait of a simulated engine: idle, pull, advance, the octane it asks for, and how it starts."""
    from course.commands.portrait import show

    show(card, file, table, altitude)


@app.command()
def book(
    folder: Annotated[Path, typer.Argument(help="A new folder for the pages, or one that holds an earlier book.")],
) -> None:
    """Make a book of the lessons: pages to read and print without a network, with the questions and no answers."""
    from .commands.book import run

    raise typer.Exit(run(folder))


@app.command()
def own(
    file: Annotated[
        Path | None,
        typer.Argument(help="An engine's file (.toml); a new name begins one. 'blank' or 'example' with --sheet."),
    ] = None,
    sheet: Annotated[Path | None, typer.Option(help="Write the sheet for the car: a file in .html or .pdf.")] = None,
    paper: Annotated[str, typer.Option(help="The paper of a sheet in .pdf: A4 or Letter.")] = "A4",
    answer: Annotated[
        Path | None, typer.Option(help="Write the headings of an answer with figures and grounds, a file in .txt.")
    ] = None,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Without a file: open the page, or print its address.")
    ] = True,
    port: Annotated[int, typer.Option(help="Without a file: the number in the page's address; 0: one free.")] = 0,
) -> None:
    """Your own engine, or the one of a letter: what to expect of it, what its readings say, its sheet, an answer.

    Without a file: the page My engine, where it is described and practised on. Nothing leaves this computer.
    """
    if file is None:
        from course.commands.start import lay_out, open_plain_pages

        lay_out(DEFAULT_FOLDER)
        raise typer.Exit(open_plain_pages(DEFAULT_FOLDER, browser, port, "--PlainPage.first=my-engine"))
    from course.commands.own import run

    raise typer.Exit(run(file, sheet, answer, paper))


def _asked_in_terminal() -> Callable[[str, Sequence[str]], str] | None:
    """A function that asks which column holds something; None where nobody sits at a terminal."""
    if not sys.stdin.isatty():
        return None

    def ask(wanted: str, headings: Sequence[str]) -> str:
        for number, heading in enumerate(headings, start=1):
            print(f"  {number}  {heading}")
        number = typer.prompt(f"Which column has the {wanted}? 0: none", type=int, default=0)
        return headings[number - 1] if 0 < number <= len(headings) else ""

    return ask


def main() -> None:
    """Run the command; an error of ours is one sentence and exit status 1."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal need not have every letter of a name or a folder
    try:
        app(prog_name=command_name())
    except TimingCourseError as error:
        print(printable(str(error)), file=sys.stderr)
        sys.exit(1)
    except ModuleNotFoundError as error:
        extra = OF_EXTRAS.get((error.name or "").partition(".")[0])
        if extra is None:
            raise
        print(
            f"This command needs {error.name}, which learners do without: install 'timing-course[{extra}]'.",
            file=sys.stderr,
        )
        sys.exit(1)
    except OSError as error:
        said = f"A file or folder could not be used: {error}. Put that right and run the command again."
        print(printable(said), file=sys.stderr)
        sys.exit(1)
