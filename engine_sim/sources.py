"""Published values: one table, one record for each number, with its unit, tolerance, source and certainty.

A number that stands alone is a record of [values]; numbers that share everything but the row they stand in are a
[series], whose keys are SERIES_ROW.
"""

from __future__ import annotations

import functools
import tomllib
from dataclasses import dataclass
from pathlib import Path

from .errors import TimingCourseError
from .physics import units

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
    a single value was printed. `certainty` says how the value was obtained; `is_band` that only the band was given;
    `transcription` that it was worked out with the formula that it checks, and is no evidence about engines."""

    key: str
    value: float
    unit: str
    low: float
    high: float
    source: Source
    locator: str
    certainty: str
    about: str
    is_band: bool = False
    transcription: bool = False

    def agrees(self, found: float) -> bool:
        """Whether a found value lies inside the band."""
        return self.low <= found <= self.high


@functools.cache
def _table() -> tuple[dict[str, Source], dict[str, Published]]:
    content = tomllib.loads(TABLE.read_text(encoding="utf-8"))
    return table_from(content)


def table_from(content: dict) -> tuple[dict[str, Source], dict[str, Published]]:
    """Sources and records of a table that was read already. Raises TimingCourseError for an incomplete record."""
    sources = {key: Source(key, text) for key, text in content["sources"].items()}
    items = dict(content["values"])
    for series, shared in content.get("series", {}).items():
        items |= {
            f"{series}_{row}": {**shared, "value": value, "about": f"{shared['about']}: {row.replace('_', ' ')}"}
            for row, value in shared["rows"].items()
        }
    return sources, {key: _record(key, item, sources) for key, item in items.items()}


def _record(key: str, item: dict, sources: dict[str, Source]) -> Published:
    missing = [name for name in ("unit", "source", "certainty", "about") if name not in item]
    if missing or not ("band" in item or {"value", "tolerance"} <= set(item)):
        raise TimingCourseError(
            f"{TABLE.name}: {key} needs unit, source, certainty, about, and a band or a value "
            f"with its tolerance; it has {', '.join(item)}."
        )
    if item["certainty"] not in CERTAINTIES:
        raise TimingCourseError(
            f"{TABLE.name}: {key}: certainty is one of {', '.join(CERTAINTIES)}; '{item['certainty']}' was found."
        )
    if item["source"] not in sources:
        raise TimingCourseError(f"{TABLE.name}: {key}: there is no source '{item['source']}'; add it to [sources].")
    low, high = item.get("band") or (item["value"] - item["tolerance"], item["value"] + item["tolerance"])
    value = item.get("value", (low + high) / 2)
    return Published(
        key=key,
        value=value,
        unit=item["unit"],
        low=low,
        high=high,
        source=sources[item["source"]],
        locator=item.get("locator", ""),
        certainty=item["certainty"],
        about=item["about"],
        is_band="value" not in item,
        transcription=item.get("transcription", False),
    )


def published(key: str) -> Published:
    """The record of that key. Raises TimingCourseError where there is none.

    >>> import engine_sim
    >>> record = engine_sim.published("inch_of_mercury")
    >>> round(record.value, 2), record.unit
    (3.39, 'kPa')
    >>> engine_sim.value_text("idle_vacuum_healthy")
    '17 to 21 inHg (57.6 to 71.1 kPa)'
    """
    values = _table()[1]
    if key not in values:
        raise TimingCourseError(
            f"{TABLE.name} has no value '{key}': add it there, or use one of its {len(values)} keys."
        )
    return values[key]


def published_keys() -> tuple[str, ...]:
    """All keys of the table."""
    return tuple(_table()[1])


def source_keys() -> tuple[str, ...]:
    """All keys of sources that values and docstrings may cite."""
    return tuple(_table()[0])


def value_text(key: str) -> str:
    """The value with its unit as a lesson prints it; a band is printed as one, inches of mercury in kilopascal, too."""
    record = published(key)
    ends = (record.low, record.high) if record.is_band else (record.value,)
    unit = record.unit.replace("degrees", "degree") if ends == (1.0,) else record.unit
    text = f"{' to '.join(f'{end:g}' for end in ends)} {unit}".strip()
    if record.unit != "inHg":
        return text
    return f"{text} ({' to '.join(f'{units.pa_from_inhg(end) / 1e3:.3g}' for end in ends)} kPa)"


def citation_text(key: str) -> str:
    """Where the value comes from, as a lesson's last page prints it."""
    record = published(key)
    where = f", {record.locator}" if record.locator else ""
    return f"{record.source.text}{where} ({record.certainty})"
