"""Published values: one table, one record for each number, with its unit, tolerance, source and certainty."""

from __future__ import annotations

import functools
import tomllib
from dataclasses import dataclass
from pathlib import Path

from .errors import TimingCourseError

TABLE = Path(__file__).with_name("published_values.toml")
CERTAINTIES = ("published", "second-hand", "computed", "from memory", "common practice")


@dataclass(frozen=True)
class Source:
    """A publication, standard, data set or practice; `text` is how it is cited."""

    key: str
    text: str


@dataclass(frozen=True)
class Published:
    """One value from outside. `low` and `high` are the band that a check allows; both come from the tolerance where
    a single value was printed. `certainty` says how the value was obtained."""

    key: str
    value: float
    unit: str
    low: float
    high: float
    source: Source
    locator: str
    certainty: str
    about: str

    def agrees(self, found: float) -> bool:
        """Whether a found value lies inside the band."""
        return self.low <= found <= self.high


@functools.cache
def _table() -> tuple[dict[str, Source], dict[str, Published]]:
    content = tomllib.loads(TABLE.read_text(encoding="utf-8"))
    sources = {key: Source(key, text) for key, text in content["sources"].items()}
    return sources, {key: _record(key, item, sources) for key, item in content["values"].items()}


def _record(key: str, item: dict, sources: dict[str, Source]) -> Published:
    low, high = item.get("band") or (item["value"] - item["tolerance"], item["value"] + item["tolerance"])
    value = item.get("value", (low + high) / 2)
    if item["certainty"] not in CERTAINTIES:
        raise TimingCourseError(f"{TABLE.name}: {key}: certainty is one of {', '.join(CERTAINTIES)}; "
                                f"'{item['certainty']}' was found.")
    return Published(key, value, item["unit"], low, high, sources[item["source"]], item.get("locator", ""),
                     item["certainty"], item["about"])


def published(key: str) -> Published:
    """The record of that key. Raises TimingCourseError where there is none."""
    values = _table()[1]
    if key not in values:
        raise TimingCourseError(f"{TABLE.name} has no value '{key}': add it there, or use one of its {len(values)} keys.")
    return values[key]


def published_keys() -> tuple[str, ...]:
    """All keys of the table."""
    return tuple(_table()[1])


def source_keys() -> tuple[str, ...]:
    """All keys of sources that values and docstrings may cite."""
    return tuple(_table()[0])


def value_text(key: str) -> str:
    """The value with its unit as a lesson prints it; a band is printed as one."""
    record = published(key)
    content = tomllib.loads(TABLE.read_text(encoding="utf-8"))["values"][key]
    number = f"{record.low:g} to {record.high:g}" if "band" in content and "value" not in content else f"{record.value:g}"
    return f"{number} {record.unit}".strip()


def citation_text(key: str) -> str:
    """Where the value comes from, as a lesson's last page prints it."""
    record = published(key)
    where = f", {record.locator}" if record.locator else ""
    return f"{record.source.text}{where} ({record.certainty})"
