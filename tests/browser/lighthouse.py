"""`python -m tests.browser.lighthouse`: Lighthouse's accessibility score of home page, lessons, forms and show page.

Each page is looked at in the light and in the dark, as a learner has it, once its parts are there. Status 1 where one
has less than 100. Lighthouse is fetched once, beside the checkers of the front end.
"""

from __future__ import annotations

import contextlib
import json
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from urllib.parse import urlsplit, urlunsplit

from course.commands.start import lay_out
from tests.browser.conftest import CHROMIUM_NAMES, address_in, free_port
from tests.course import front_end_tools

ALL_POINTS = 1.0
SCRIPT = Path(__file__).with_name("lighthouse_snapshots.mjs")
BENCH, HANDED_IN = ".engine-bench [data-control=brake]", ".cf-hand-in"
PAGES = {  # what is opened, and what it has once it is there
    "home page": ("", "main"),
    "my engine tonight": ("my-engine", "main"),
    "glossary": ("glossary", "main"),
    "lesson 5 with its bench": ("lesson/l04_base_timing", BENCH),
    "needles and hoses": ("lesson/l02_what_the_gauges_say", HANDED_IN),
    "curve": ("lesson/l06_advance_curve", HANDED_IN),
    "diagnosis": ("lesson/l08_not_the_timing", HANDED_IN),
    "letter": ("lesson/l09_answer_the_letter", HANDED_IN),
    "engine card": ("lesson/l10_your_own_engine", HANDED_IN),
}
NAMELESS = "<!DOCTYPE html><html lang=en><title>one</title><main><h1>One</h1><button></button></main></html>"
SHOWN = ("lesson/show", f".sh-desk, {BENCH}")


@contextlib.contextmanager
def served(*command: str) -> Iterator[str]:
    """The address that a program of ours prints when its pages can be asked for; it ends with the block."""
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "said.log"
        with log.open("w") as out:
            process = subprocess.Popen([sys.executable, *command], stdout=out, stderr=subprocess.STDOUT)
            try:
                yield address_in(log, process)
            finally:
                process.terminate()
                process.wait(30)


def looked_at(pages: Sequence[dict]) -> list[dict]:
    """What Lighthouse says of pages. Raises RuntimeError where it does not run."""
    with_windows = [name for name in CHROMIUM_NAMES if "headless" not in name]  # Lighthouse was tried with these
    chromium = next((found for found in map(shutil.which, with_windows) if found), "")
    ran = front_end_tools.node(SCRIPT, front_end_tools.FOLDER, chromium, json.dumps(pages))
    if ran.returncode:
        raise RuntimeError(f"Lighthouse did not run:\n{ran.stderr[-2000:]}")
    return json.loads(ran.stdout.splitlines()[-1])


def pages_at(address: str, pages: dict[str, tuple[str, str]]) -> list[dict]:
    """The pages of a server in both lights."""
    opened = urlsplit(address)
    return [
        {
            "name": f"{name}, {scheme}",
            "address": urlunsplit(opened._replace(path=f"/{path}")),
            "wait": wait,
            "scheme": scheme,
        }
        for name, (path, wait) in pages.items()
        for scheme in ("light", "dark")
    ]


def finds_something() -> bool:
    """Whether a button without a name is found: that the look can fail."""
    with tempfile.TemporaryDirectory() as folder:
        page = Path(folder) / "nameless.html"
        page.write_text(NAMELESS, encoding="utf-8")
        bad = {"name": "a button without a name", "address": page.as_uri(), "wait": "main", "scheme": "light"}
        (told,) = looked_at([bad])
    return told["score"] < ALL_POINTS and any(one.startswith("button-name") for one in told["found"])


def main() -> int:
    """Look at every page and say what is wrong."""
    if front_end_tools.fetch(front_end_tools.LIGHTHOUSE):
        print("Lighthouse could not be fetched: connect to the network and run the same command again.")
        return 1
    if not finds_something():
        print("Lighthouse does not find a button without a name, so what it says of our pages says nothing.")
        return 1
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "my course"
        lay_out(folder, "Robin Vale")
        plain = ("-m", "course.jupyter.plain_page", str(folder), "--no-browser", f"--port={free_port()}")
        with served(*plain) as address:
            told = looked_at(pages_at(address, PAGES))
    say(told)
    with served("-m", "course", "show", "--no-browser", "--port", str(free_port())) as address:
        shown = looked_at(pages_at(address, {"show page": SHOWN}))
    say(shown)
    return int(any(one["score"] < ALL_POINTS for one in (*told, *shown)))


def say(told: Sequence[dict]) -> None:
    """Print the score of each page, and below it what is wrong there."""
    for one in told:
        print(f"{one['name']:35} {100 * one['score']:4.0f}", *one["found"], sep="\n    ", flush=True)


if __name__ == "__main__":
    sys.exit(main())
