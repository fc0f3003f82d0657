"""Numbers that the course's texts give of an engine: each belongs to a state of an engine, or to a reason.

A file `told/NAME.toml` holds `texts`, the files it is about; `states`, as recomputed.State has them; `told`, sentences
with the computed numbers in braces; and `given`, words whose numbers come from elsewhere, each with its reason.

    [[told]]
    text = "Read: {cold_speed_rpm ~10} rpm. Too fast to set anything by."

The formula is one of graders.exercises.formulas, the number behind ~ the step to which the text rounds. A sentence
without braces claims something of a `value`: `at_least`, `at_most` or both, or the key of a published value that it is
`within`.

`python -m tests.lessons.told_numbers` prints what each sentence says and what is computed; with the word `fix` it
writes the computed numbers into the texts. Names of files of `told/` behind it take those alone.
"""

from __future__ import annotations

import functools
import re
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from engine_sim import published
from graders.exercises.formulas import value_of

from .recomputed import NUMBER, quantities

ROOT = Path(__file__).parents[2]
FILES = {path.stem: path for path in sorted(Path(__file__).with_name("told").glob("*.toml"))}
WITHIN_STEPS = 0.6  # of the step to which a text rounds: half of it, and a little for another machine's arithmetic
_FIELD = re.compile(r"\{([^{}~]+)~\s*([\d.]+)\}")
_WORD = (
    "two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|thirteen|fourteen|fifteen|sixteen|seventeen|eighteen|"
    "nineteen|twenty|thirty|forty|fifty|sixty"
)
_UNIT = (
    r"inHg|inches of mercury|kPa|rpm|N m|newton metres|RON|MON|octane numbers|°C|°F|per ?cent|%|"
    r"(?:(?:crank|distributor) )?degrees?"
)
WITH_UNIT = re.compile(rf"(?<![\w.,])(?:{NUMBER}|{_WORD})[ -]?(?:{_UNIT})(?!\w)", re.IGNORECASE)
DECIMAL = re.compile(r"(?<![\w.,=])\d+\.\d+(?![\w.])")  # in a lesson, nearly always something measured


@dataclass(frozen=True)
class Told:
    """A sentence with computed numbers in braces, or a claim about `value`."""

    text: str
    value: str = ""
    at_least: float = float("-inf")
    at_most: float = float("inf")
    within: str = ""


@dataclass(frozen=True)
class Given:
    """Words with a number that no engine of ours decides: `reason` says why, or `source` is a published value's key.
    A row may hold several texts."""

    text: str
    reason: str = ""
    source: str = ""


@dataclass(frozen=True)
class Found:
    """A computed number as a text gives it, where it stands, and what the engine gives."""

    path: Path
    text: str
    span: tuple[int, int]
    formula: str
    told: float
    computed: float
    step: float

    @property
    def agrees(self) -> bool:
        """Whether the text rounds the computed number rightly."""
        return abs(self.told - self.computed) <= WITHIN_STEPS * self.step

    @property
    def rounded(self) -> str:
        """The computed number as the text should give it."""
        return f"{round(self.computed / self.step) * self.step:,.{len(f'{self.step:g}'.partition('.')[2])}f}"


class ToldFile:
    """One file of told numbers."""

    def __init__(self, path: Path):
        content = tomllib.loads(path.read_text(encoding="utf-8"))
        strange = set(content) - {"texts", "states", "told", "given"}
        if strange:
            raise ValueError(f"{path.name} may hold texts, states, told and given; '{min(strange)}' was found.")
        self.paths = [one for pattern in content["texts"] for one in sorted(ROOT.glob(pattern))]
        self.states = content.get("states", {})
        self.told = [Told(**row) for row in content.get("told", ())]
        self.given = [
            Given(**{**row, "text": text})
            for row in content.get("given", ())
            for text in ([row["text"]] if isinstance(row["text"], str) else row["text"])
        ]

    @functools.cached_property
    def computed(self) -> dict[str, float]:
        """What the engines give in its states."""
        return quantities(self.states)

    @functools.cached_property
    def texts(self) -> dict[Path, str]:
        """Its texts as they lie on the disk."""
        return {path: path.read_text(encoding="utf-8") for path in self.paths}

    def places(self, text: str) -> list[tuple[Path, re.Match]]:
        """Where a sentence stands, whatever its computed numbers are. Raises ValueError where it stands nowhere."""
        pattern = re.compile(_pattern(text))
        found = [(path, match) for path, words in self.texts.items() for match in pattern.finditer(words)]
        if not found:
            names = ", ".join(path.name for path in self.paths)
            raise ValueError(f"'{text}' stands in none of {names}: change the row, or the text, or take the row out.")
        return found

    def numbers(self) -> Iterator[Found]:
        """Every computed number in its texts."""
        for row in self.told:
            for path, match in self.places(row.text):
                for place, (formula, step) in enumerate(_FIELD.findall(row.text), 1):
                    told, value = float(match[place].replace(",", "")), value_of(formula, self.computed)
                    yield Found(path, match[0], match.span(place), formula.strip(), told, value, float(step))

    def wrong(self) -> list[str]:
        """A line for every number and claim that is not as the engine has it."""
        lines = [
            f"'{one.text}': told {one.told:g}, computed {one.computed:.4g} ({one.formula}, to {one.step:g})"
            for one in self.numbers()
            if not one.agrees
        ]
        for row in self.told:
            if row.value and not row.at_least <= (value := value_of(row.value, self.computed)) <= row.at_most:
                lines.append(f"'{row.text}': {row.value} is {value:.4g}, not from {row.at_least:g} to {row.at_most:g}")
            if row.within and not published(row.within).agrees(value_of(row.value, self.computed)):
                value = value_of(row.value, self.computed)
                lines.append(f"'{row.text}': {row.value} is {value:.4g}, outside the published '{row.within}'")
            if not row.value and not _FIELD.search(row.text):
                lines.append(f"'{row.text}' has neither a number in braces nor a value")
        return lines

    def unowned(self) -> list[str]:
        """Every number with a unit that stands in no row, with the words around it."""
        owned: dict[Path, list[tuple[int, int]]] = {path: [] for path in self.paths}
        for row in (*self.told, *self.given):
            for path, match in self.places(row.text):
                owned[path].append(match.span())
        return [
            f"{path.name}: …{words[max(start - 40, 0) : end + 30]!r}…"
            for path, words in self.texts.items()
            for start, end in sorted(match.span() for match in _with_units(path, words))
            if not any(low <= start and end <= high for low, high in owned[path])
        ]

    def fix(self) -> int:
        """Write the computed numbers into its texts; return how many were changed."""
        wrong = [one for one in self.numbers() if not one.agrees]
        for one in sorted(wrong, key=lambda one: one.span, reverse=True):
            words = self.texts[one.path]
            self.texts[one.path] = words[: one.span[0]] + one.rounded + words[one.span[1] :]
        for path in {one.path for one in wrong}:
            path.write_text(self.texts[path], encoding="utf-8", newline="\n")
        return len(wrong)


def _pattern(text: str) -> str:
    """A regular expression for a sentence: any number in a brace's place, any white space, quotes as JSON has them."""
    parts = _FIELD.split(text)
    literal = [re.escape(part).replace(r"\ ", r"\s+").replace('"', r"\\?\"") for part in parts[::3]]
    return rf"({NUMBER})".join(literal)


def _with_units(path: Path, words: str) -> Iterator[re.Match]:
    """Numbers with a unit, and in a lesson all decimal numbers; none in a comment."""
    found = {match.start(): match for match in (*DECIMAL.finditer(words), *WITH_UNIT.finditer(words))}
    for match in found.values():
        line = words[words.rfind("\n", 0, match.start()) + 1 : match.start()].lstrip()
        if (match[0][-1].isdigit() and path.suffix != ".ipynb") or (line.startswith("#") and path.suffix == ".toml"):
            continue
        yield match


def main(arguments: list[str]) -> int:
    """Print what is told and computed, or write the computed numbers into the texts; return the exit status."""
    fix = "fix" in arguments
    for name in [one for one in arguments if one != "fix"] or FILES:
        file = ToldFile(FILES[name])
        if fix:
            print(f"{name}: {file.fix()} numbers written")
            continue
        for one in file.numbers():
            wrong = "" if one.agrees else "WRONG "
            print(f"{name}: {wrong}told {one.told:g}, computed {one.computed:.4g} ({one.formula}): {one.text}")
        print(*file.wrong(), *file.unowned(), sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
