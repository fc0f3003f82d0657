"""What learners get back: one archive for each, which holds their pages alone, ready to be uploaded or sent."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path

from rich.console import Console
from rich.markup import escape

from course.learner.hand_in_archive import name_for_a_file
from graders.classroom.run import JUDGED, NEEDS_PERSON, WAITING, Classroom
from graders.submissions.command_name import command_line
from graders.submissions.roster import write_whole

from . import grade

FOLDER = "given_back"
_ALWAYS = (1980, 1, 1, 0, 0, 0)  # the earliest that an archive knows: the same pages give the same archive


def run(
    folder: Path,
    lesson: str | None = None,
    target: Path | None = None,
    as_json: bool = False,
    console: Console | None = None,
) -> int:
    """Bring the pages up to date and put each learner's into one archive; return 0, or 1 where a page is missing."""
    console = console or Console(stderr=as_json)
    classroom = Classroom(folder)
    course, place = classroom.course, target or classroom.course.root / FOLDER
    standings = classroom.standing(lesson)
    judged = [one for one in standings if one.status in (JUDGED, NEEDS_PERSON)]
    with grade.bar(console) as shown:
        tell = grade.told(shown, "Making pages")
        failures: list[str] = []
        for done, one in enumerate(judged):
            tell(f"{one.lesson}: {one.learner}", done, len(judged))
            failures += filter(None, [classroom.page(one)])
    pages: dict[str, list[Path]] = {}
    for one in judged:
        found = course.folder(course.directory.feedback_directory, one.learner, one.lesson)
        pages.setdefault(one.learner, []).extend(sorted(found.glob("*.html")))
    place.mkdir(parents=True, exist_ok=True)
    changed = [learner for learner, files in pages.items() if files and _archived(place / _name(learner), files)]
    unjudged = sum(one.status == WAITING for one in standings)
    if as_json:
        archives = {learner: str(place / _name(learner)) for learner, files in pages.items() if files}
        print(
            json.dumps(
                {"archives": archives, "changed": changed, "not_judged_yet": unjudged, "failures": failures}, indent=2
            )
        )
        return 1 if failures else 0
    console.print(
        f"{len(pages)} archive(s) in {escape(str(place))}, one for each learner, with their pages alone; "
        f"{len(changed)} of them new or changed.",
        highlight=False,
        soft_wrap=True,
    )
    if changed and len(changed) < len(pages):
        console.print(f"New or changed: {', '.join(escape(repr(one)[1:-1]) for one in changed)}.", highlight=False)
    if unjudged:
        console.print(
            f"{unjudged} hand-in(s) are not judged yet: '{command_line(f'grade {course.typed}')}' judges them.",
            highlight=False,
            soft_wrap=True,
        )
    for sentence in failures:
        console.print(escape(sentence), highlight=False)
    return 1 if failures else 0


def _name(learner: str) -> str:
    return f"{name_for_a_file(learner)}.zip"


def _archived(path: Path, pages: list[Path]) -> bool:
    """Write an archive of these pages where it is not the same already; return whether it was written."""
    text = io.BytesIO()
    with zipfile.ZipFile(text, "w") as archive:
        for page in pages:
            entry = zipfile.ZipInfo(page.name, _ALWAYS)
            entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
            archive.writestr(entry, page.read_bytes())
    if path.is_file() and path.read_bytes() == text.getvalue():
        return False
    write_whole(path, text.getvalue())
    return True
