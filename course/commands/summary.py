"""What a class run says to the instructor: counts first, then what is new, and last the questions."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from graders.classroom.run import NOTHING, HandInReport, kept_in_words
from graders.submissions.command_name import command_line

MOST_ROWS = 40  # learners in the table of what is new
MOST_SENTENCES = 12  # of what was noticed
MOST_NAMES = 8
_MARKS = {"*": "an answer waits for its mark", "?": "a question, below", "~": "late"}


@dataclass(frozen=True)
class Summary:
    """One class run. `new` has (lesson, learner) of each hand-in that was judged or whose page changed."""

    class_name: str
    reports: Sequence[HandInReport]
    new: Collection[tuple[str, str]]
    about_class: Sequence[str] = ()
    left_alone: Sequence[str] = ()
    failures: Sequence[str] = ()
    folder: str = "FOLDER"
    _lessons: dict[str, list[HandInReport]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        for report in self.reports:
            self._lessons.setdefault(report.lesson, []).append(report)

    def print_on(self, console: Console, everything: bool = False) -> None:
        """Print the summary; `everything` shows old hand-ins beside the new ones, and leaves no sentence out."""
        if self.reports:
            self._print_counts(console)
            self._print_points(console, everything)
        else:
            say(console, "Nobody is on the roster and nothing was handed in: hand-ins belong in submitted/ID/LESSON/.")
        noticed = [(one, sentence) for one in self.reports for sentence in (*one.remarks, *one.marked_unasked)]
        shown = [(one, sentence) for one, sentence in noticed if everything or self._is_new(one)]
        kept = [f"Kept: {sentence}" for sentence in kept_in_words(report.kept_from for report in self.reports)]
        _print_sentences(console, "Also noticed", _grouped(shown), everything, len(noticed) - len(shown))
        _print_sentences(console, "About the class", list(map(printable, (*kept, *self.about_class))), True)
        _print_sentences(console, "Left alone by the last collection", list(map(printable, self.left_alone)), True)
        _print_sentences(console, "Not done", list(map(printable, self.failures)), True)
        self._print_waiting(console)
        self._print_questions(console)

    def as_data(self) -> dict:
        """The summary for another program."""
        return {
            "class": self.class_name,
            "hand_ins": [
                {
                    "learner": one.learner,
                    "lesson": one.lesson,
                    "status": one.status,
                    "points": one.counted,
                    "max_points": one.max_points,
                    "late_seconds": one.late.seconds,
                    "late_penalty": one.late.penalty,
                    "new": self._is_new(one),
                    "to_mark": one.to_mark,
                    "questions": one.questions,
                    "remarks": [*one.remarks, *one.marked_unasked],
                }
                for one in self.reports
            ],
            "about_class": list(self.about_class),
            "left_alone": list(self.left_alone),
            "failures": list(self.failures),
        }

    def _is_new(self, report: HandInReport) -> bool:
        return (report.lesson, report.learner) in self.new

    def _print_counts(self, console: Console) -> None:
        """How many hand-ins of each lesson there are of each kind."""
        learners = {report.learner for report in self.reports}
        handed_in = sum(report.status != NOTHING for report in self.reports)
        say(console, f"{self.class_name}: {handed_in} hand-in(s) of {len(learners)} learner(s)", "bold")
        table = _table("Lesson")
        for title in ("new", "before", "to mark", "late", "questions", "nothing"):
            table.add_column(title, justify="right")
        for lesson, reports in self._lessons.items():
            here = [report for report in reports if report.status != NOTHING]
            new = sum(map(self._is_new, here))
            counts = (
                new,
                len(here) - new,
                sum(bool(one.to_mark) for one in here),
                sum(bool(str(one.late)) for one in here),
                sum(bool(one.questions) for one in here),
                len(reports) - len(here),
            )
            if here:
                table.add_row(lesson, *(str(number) if number else "-" for number in counts))
        if table.row_count:
            console.print(table)
        self._print_missing(console)

    def _print_missing(self, console: Console) -> None:
        """Lessons in which nobody handed anything in, and the names where only a few did not."""
        nobody = [lesson for lesson, those in self._lessons.items() if all(one.status == NOTHING for one in those)]
        if nobody:
            say(console, f"Nobody handed in: {', '.join(nobody)}")
        for lesson, reports in self._lessons.items():
            missing = [safe(one.learner) for one in reports if one.status == NOTHING]
            if lesson not in nobody and 0 < len(missing) <= MOST_NAMES:
                say(console, f"Nothing handed in, {lesson}: {', '.join(missing)}", escaped=True)

    def _print_points(self, console: Console, everything: bool) -> None:
        """A row for each learner with something new, a column for each lesson that has something new."""
        shown = [one for one in self.reports if one.status != NOTHING and (everything or self._is_new(one))]
        lessons = [lesson for lesson in self._lessons if any(one.lesson == lesson for one in shown)]
        cells = {(one.learner, one.lesson): _points(one) for one in shown}
        learners = sorted({one.learner for one in shown})
        if not shown or (len(learners) > MOST_ROWS and not everything):
            few = "Nothing is new since the last run; --all shows everybody's points."
            say(console, f"\n{f'{len(shown)} hand-ins are new; --all shows the points of each.' if shown else few}")
            return
        say(console, f"\n{'Points' if everything else 'New, in points'}", "bold")
        room = console.width - max(map(len, (*learners, "Learner")))
        column = 2 + max(map(len, (*cells.values(), "l00")))
        at_once = max(room // column, 1)  # side by side; the others below, since a row without its name says nothing
        for first in range(0, len(lessons), at_once):
            table = _table("Learner\nout of")
            table.columns[0].no_wrap = True
            for lesson in lessons[first : first + at_once]:
                most = max(one.max_points for one in shown if one.lesson == lesson)
                table.add_column(f"{lesson.split('_')[0]}\n{most:g}", justify="right", no_wrap=True)
            for learner in learners:
                its_own = [cells.get((learner, lesson), "") for lesson in lessons[first : first + at_once]]
                table.add_row(safe(learner), *its_own)
            console.print(table)
        used = [f"{mark} {words}" for mark, words in _MARKS.items() if any(mark in cell for cell in cells.values())]
        if used:
            say(console, "; ".join(used))
        for one in shown:
            if str(one.late):
                say(console, f"{safe(one.learner)}, {one.lesson}: {one.late}", escaped=True)

    def _print_waiting(self, console: Console) -> None:
        """How many answers wait for a mark, by exercise."""
        counts = Counter(name for one in self.reports for name in one.to_mark)
        if counts:
            listed = ", ".join(f"{name} {count}" for name, count in sorted(counts.items()))
            say(console, "\nTo mark", "bold")
            say(console, f"{counts.total()} answer(s): {listed}\n{command_line(f'mark {self.folder}')}")

    def _print_questions(self, console: Console) -> None:
        """What only the instructor can answer, each question once with everybody whom it concerns."""
        questions = _grouped((one, " ".join(one.questions)) for one in self.reports if one.questions)
        count = len(questions)
        if count:
            say(console, f"\n{count} question{'' if count == 1 else 's'} for you", "bold")
        elif self.reports:
            say(console, "\nNo questions.")
        for number, sentence in enumerate(questions, start=1):
            say(console, f"{number}. {sentence}", escaped=True)


def _table(first: str) -> Table:
    return Table(first, box=None, padding=(0, 1), pad_edge=False, header_style="none")


def _points(report: HandInReport) -> str:
    """The points that count, with a sign for whatever is open."""
    there = {"*": report.to_mark, "?": report.questions, "~": str(report.late)}
    points = f"{round(report.counted, 2):g}" if report.max_points else ""
    return points + "".join(mark for mark in _MARKS if there[mark]) or "-"


def _grouped(told: Iterable[tuple[HandInReport, str]]) -> list[str]:
    """Each sentence once, behind the learners and lessons that it is about."""
    about: dict[str, list[HandInReport]] = {}
    for report, sentence in told:
        about.setdefault(sentence, []).append(report)
    found = []
    for sentence, reports in about.items():
        learners = list(dict.fromkeys(report.learner for report in reports))
        names = ", ".join(map(safe, learners[:MOST_NAMES]))
        names += f" and {len(learners) - MOST_NAMES} more" if len(learners) > MOST_NAMES else ""
        lessons = ", ".join(dict.fromkeys(report.lesson for report in reports))
        found.append(f"{names}, {lessons}: {printable(sentence)}")
    return found


def _print_sentences(console: Console, title: str, sentences: Sequence[str], everything: bool, older: int = 0) -> None:
    """Print sentences under a title, the first ones unless everything is wanted, and how many were left out."""
    shown = sentences if everything else sentences[:MOST_SENTENCES]
    left_out = len(sentences) - len(shown) + older
    if shown or left_out:
        say(console, f"\n{title}", "bold")
    for sentence in shown:
        say(console, sentence, escaped=True)
    if left_out:
        say(console, f"{left_out} {'more' if shown else 'from before'}: --all shows them.")


def safe(learner: str) -> str:
    """A learner's name as the terminal may show it."""
    return escape(repr(learner)[1:-1])


def printable(text: str) -> str:
    """A sentence as the terminal may show it: no control characters but line breaks, and no markup of rich's."""
    return escape(re.sub(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]", " ", text))


def say(console: Console, text: str, style: str = "", escaped: bool = False) -> None:
    """Print a line without colours of rich's own, so that a command in it can be copied whole."""
    console.print(text if escaped else escape(text), style=style or None, highlight=False, soft_wrap=True)
