"""Evidence: an append-only file of what was done, one JSON object a line, each chained to the one before.

The first line is the header; every further line is one event. Where the course was updated and
its engine model became another one, a further header stands before the events on the new model. The digest of a line
covers the digest of the line before and the line's own content, so that an edited, reordered or removed line shows. It
is a seal against accidents and idle hands, not a secret: who rebuilds the whole chain has only told the judge what
to replay.
"""

from __future__ import annotations

import codecs
import contextlib
import hashlib
import itertools
import json
import math
import os
from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import BinaryIO

from engine_sim import version
from engine_sim.errors import EvidenceError

SCHEMA_VERSION = 1
HINTED = "hinted"  # the control of an event: the learner asked what comes next; the value names the step
DEBRIEFED = "debriefed"  # the control of an event: the learner was shown what the judge says of this attempt
VERDICT, CLOSED = "verdict", "closed"  # its value: what was shown, none in older files
LARGEST_FILE_BYTES = 16_000_000
LARGEST_TEXT = 20_000
# How other programs mark the text that they save: the mark, and the encoding that reads it.
_MARKS = {codecs.BOM_UTF8: "utf-8-sig", codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16"}


@dataclass(frozen=True)
class Header:
    """A first line: who, which lesson, which engine (digest of its card), which model and schema, and when."""

    learner: str
    lesson: str
    class_id: str
    engine: str
    created: str
    model: str = field(default_factory=lambda: version.MODEL_VERSION)
    schema: int = SCHEMA_VERSION


@dataclass(frozen=True)
class Event:
    """One thing done: when on the exercise's own clock [s], in which exercise, what control, what value, what unit."""

    time_s: float
    exercise: str
    control: str
    value: str | float | bool | None
    unit: str | None = None


@dataclass(frozen=True)
class Evidence:
    """A whole file that was read and found sound. `torn` says that a last, half-written line was dropped.

    `header` is the latest one. `earlier` holds those before it, each with the number of events up to which it holds.
    """

    header: Header
    events: tuple[Event, ...]
    torn: bool = False
    earlier: tuple[tuple[Header, int], ...] = ()

    def of_exercise(self, exercise: str) -> tuple[Event, ...]:
        """The events of one exercise, in the order in which they were written."""
        return tuple(event for event in self.events if event.exercise == exercise)

    def parts(self) -> list[tuple[Header, tuple[Event, ...]]]:
        """Each header with the events that were written under it, in their order."""
        headers = [*(header for header, _ in self.earlier), self.header]
        ends = [*(end for _, end in self.earlier), len(self.events)]
        return [
            (header, self.events[begin:end]) for header, begin, end in zip(headers, [0, *ends[:-1]], ends, strict=True)
        ]

    def as_told(self, exercises: Collection[str]) -> Evidence:
        """The evidence without what was done in these exercises on this edition's engine model since the learner was
        last shown a verdict on it."""
        told = {event.exercise: place for place, event in enumerate(self.events) if event.control == DEBRIEFED}
        models = [header.model for header, events in self.parts() for _ in events]
        kept = [
            event.exercise not in exercises or model != version.MODEL_VERSION or place <= told.get(event.exercise, -1)
            for place, (event, model) in enumerate(zip(self.events, models, strict=True))
        ]
        return replace(
            self,
            events=tuple(event for event, stays in zip(self.events, kept, strict=True) if stays),
            earlier=tuple((header, sum(kept[:end])) for header, end in self.earlier),
        )

    def on_this_model(self) -> Evidence:
        """What was done on the engine model of this edition, which alone it can replay."""
        here = [part for part in self.parts() if part[0].model == version.MODEL_VERSION]
        events = tuple(event for _, events in here for event in events)
        return Evidence(here[-1][0] if here else self.header, events, self.torn)

    def models_of(self, exercise: str) -> tuple[str, ...]:
        """The engine models on which an exercise was worked on; to begin again is no work."""
        worked = (
            header.model
            for header, events in self.parts()
            if any(event.exercise == exercise and event.control != "begin" for event in events)
        )
        return tuple(dict.fromkeys(worked))

    def left_on_model(self, exercise: str) -> str:
        """The engine model of the last event of an exercise; empty where it has none."""
        models = [header.model for header, events in self.parts() for event in events if event.exercise == exercise]
        return models[-1] if models else ""


def chained_line(content: Mapping, previous_digest: str) -> tuple[bytes, str]:
    """Return one line of the file and its digest.

    Raises ValueError where the content holds NaN or an infinity: JSON has no word for them.
    """
    text = json.dumps(content, sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    digest = hashlib.sha256((previous_digest + text).encode()).hexdigest()[:32]
    line = json.dumps({**content, "digest": digest}, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return line.encode() + b"\n", digest


class EvidenceWriter:
    """Append events to one file as they happen; each line is on the disk before `append` returns.

    An existing file is verified and continued: a torn last line is cut off and said in `torn`, and a new header is
    written where the file ends on another engine model. Raises EvidenceError where the existing file is not sound,
    was saved in another encoding or belongs to another learner, lesson or engine; it is never overwritten.
    """

    def __init__(self, path: Path, header: Header):
        self.path = Path(path)
        self.torn = False
        self.events: list[Event] = []
        self._earlier: list[tuple[Header, int]] = []
        if self.path.exists() and self.path.stat().st_size:
            self._continue_file(header)
        else:
            self.header = header
            self._digest, self._size = "", 0
            self._write(_header_content(header))

    def so_far(self) -> Evidence:
        """Everything that was written or found, as a judge reads it."""
        return Evidence(self.header, tuple(self.events), self.torn, tuple(self._earlier))

    def append(self, event: Event) -> None:
        """Write one event.

        Raises EvidenceError where another program changed the file meanwhile or there is no room, and ValueError where
        the value is a number that could not be read back: NaN, an infinity or a whole number beyond 1.8e308.
        """
        if isinstance(event.value, int | float) and not _fits_a_float(event.value):
            raise ValueError(f"Evidence holds numbers from -1.8e308 to 1.8e308, and {event.control} was given another.")
        self._write(asdict(event))
        self.events.append(event)

    def _continue_file(self, wanted: Header) -> None:
        evidence, self._digest, self._size = _read(self.path)
        with self.path.open("rb") as file:
            saved_by_another = encoding_of(file.read(4))
        if saved_by_another:
            raise EvidenceError(
                "another encoding",
                f"{self.path.name} was opened and saved by another program, as {saved_by_another}, and can be handed "
                "in so but not gone on with: save it as UTF-8 without a byte order mark, or begin in another folder.",
            )
        same_model = evidence.header.model == wanted.model  # another one has other engines
        for name in ("learner", "lesson", "class_id", *(("engine",) if same_model else ())):
            found, want = getattr(evidence.header, name), getattr(wanted, name)
            if found != want:
                raise EvidenceError(
                    "another " + name.removesuffix("_id"),
                    (
                        f"{self.path.name} belongs to {name.removesuffix('_id')} '{found}', and '{want}' was wanted: "
                        "move the file to another folder to keep it, and open the lesson again to begin afresh."
                    ),
                )
        if evidence.torn:
            os.truncate(self.path, self._size)
        self.header, self.torn = evidence.header, evidence.torn
        self.events, self._earlier = list(evidence.events), list(evidence.earlier)
        if not same_model:
            self._write(_header_content(wanted))
            self._earlier.append((self.header, len(self.events)))
            self.header = wanted

    def _write(self, content: Mapping) -> None:
        found = self.path.stat().st_size if self.path.exists() else 0
        if found != self._size:
            raise EvidenceError(
                "changed elsewhere",
                "This lesson is open in another tab. Close one of the two, and load the other one again; what you did "
                "there is kept.",
            )
        line, digest = chained_line(content, self._digest)
        try:
            with self.path.open("ab") as file:
                file.write(line)
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:  # without half a line, writing goes on once there is room
            with contextlib.suppress(OSError):
                os.truncate(self.path, self._size)
            raise EvidenceError(
                "not written",
                f"{self.path.name} could not be written ({error.strerror}), so what you just did was not kept and did "
                "not happen. Make room on the disk, or give the right to write, and do it again.",
            ) from error
        self._digest, self._size = digest, self._size + len(line)


def read_evidence(path: Path) -> Evidence:
    """Read and verify one evidence file.

    Raises EvidenceError whose `kind` is one of: missing, empty, too large, not text, not evidence, another schema,
    broken chain, not allowed, clock.
    """
    return _read(Path(path))[0]


def _read(path: Path) -> tuple[Evidence, str, int]:
    lines, torn = _whole_lines(path)
    digest, size, contents = "", 0, []
    for number, line in enumerate(lines, start=1):
        content = _parsed(line, number, path.name)
        claimed = content.pop("digest", None)
        if number == 1 or "schema" in content:
            _check_schema(content, number, path.name)
        _, digest = chained_line(content, digest)
        if claimed != digest:
            raise EvidenceError(
                "broken chain",
                (
                    f"{path.name}, line {number}: the seal of this line does not fit what stands in it and before it, "
                    "so something was changed, moved or taken out by hand: hand in the file as the lesson wrote it."
                ),
            )
        size += len(line) + 1
        contents.append(content)
    headers: list[tuple[Header, int]] = []
    events: dict[int, Event] = {}
    for number, content in enumerate(contents, start=1):
        if number == 1 or "schema" in content:
            headers.append((_header(content, path.name), len(events)))
            _check_same_owner(headers[0][0], headers[-1][0], number, path.name)
        else:
            events[number] = _event(content, number, path.name)
    _check_clock(events, path.name)
    earlier = tuple((header, end) for (header, _), (_, end) in itertools.pairwise(headers))
    return Evidence(headers[-1][0], tuple(events.values()), torn, earlier), digest, size


def _whole_lines(path: Path) -> tuple[list[bytes], bool]:
    if not path.is_file():
        raise EvidenceError("missing", f"There is no {path.name}: open the lesson, do the exercises, hand in again.")
    if path.stat().st_size > LARGEST_FILE_BYTES:
        raise EvidenceError(
            "too large",
            (
                f"{path.name} is {path.stat().st_size / 1e6:.0f} MB long and at most {LARGEST_FILE_BYTES / 1e6:.0f} MB "
                "are read: it is not what a lesson writes; hand in the file as the lesson wrote it."
            ),
        )
    data = _as_utf8(path.read_bytes(), path.name)
    if not data.strip():
        raise EvidenceError("empty", f"{path.name} is empty: do the exercises of the lesson and hand in again.")
    *lines, rest = data.split(b"\n")
    if not lines:
        raise EvidenceError("not evidence", f"{path.name} holds no whole line: hand in the file that the lesson wrote.")
    return lines, bool(rest)


def first_line(file: BinaryIO, most: int) -> bytes:
    """The first line of an open file of evidence as UTF-8, of at most so many bytes as it lies on the disk. Raises
    ValueError where it is not the text that its mark says."""
    begun = file.read(most)
    encoding = encoding_of(begun)
    if encoding == "utf-16":
        begun = begun[: len(begun) // 2 * 2]
    text = begun.decode(encoding, "replace").encode() if encoding else begun
    return text.partition(b"\n")[0]


def encoding_of(begun: bytes) -> str:
    """The encoding that the first bytes of a file name by a mark; empty for what a lesson writes."""
    return next((encoding for mark, encoding in _MARKS.items() if begun.startswith(mark)), "")


def _as_utf8(data: bytes, name: str) -> bytes:
    """What a lesson wrote, where another program has saved it in an encoding that names itself."""
    encoding = encoding_of(data)
    try:
        return data.decode(encoding).encode() if encoding else data
    except UnicodeError:
        raise EvidenceError(
            "not text", f"{name} is marked as {encoding} and is not: hand in the file as the lesson wrote it."
        ) from None


def _parsed(line: bytes, number: int, name: str) -> dict:
    def refuse(constant):
        raise ValueError(f"{constant} is not a number that JSON allows")

    try:
        content = json.loads(line.decode(), parse_constant=refuse)
        json.dumps(content, ensure_ascii=False, allow_nan=False).encode("utf-8")  # no infinity, no half characters
    except UnicodeError:
        raise EvidenceError(
            "not text", f"{name}, line {number}: this is not UTF-8 text; hand in the file that the lesson wrote."
        ) from None
    except (ValueError, RecursionError):
        raise EvidenceError(
            "not evidence",
            f"{name}, line {number}: one JSON object was wanted and something else was "
            "found; hand in the file that the lesson wrote.",
        ) from None
    if not isinstance(content, dict):
        raise EvidenceError(
            "not evidence",
            f"{name}, line {number}: one JSON object was wanted, "
            f"a {type(content).__name__} was found; hand in the file that the lesson wrote.",
        )
    return content


def _check_schema(content: dict, number: int, name: str) -> None:
    schema, model = content.get("schema"), content.get("model")
    if not isinstance(schema, int) or isinstance(schema, bool) or not isinstance(model, str):
        raise EvidenceError(
            "not evidence",
            f"{name}, line {number}: this is not the header of an evidence file; hand in the file that the lesson "
            "wrote.",
        )
    if schema != SCHEMA_VERSION:
        raise EvidenceError(
            "another schema",
            (
                f"{name} is written in schema {schema} and this edition of the course reads schema {SCHEMA_VERSION}: "
                "bring both to the same edition of the course."
            ),
        )


def _header(content: dict, name: str) -> Header:
    wanted = set(_header_content(Header(learner="", lesson="", class_id="", engine="", created="")))
    if set(content) != wanted or not all(isinstance(content[key], str) for key in wanted - {"schema"}):
        raise EvidenceError(
            "not evidence",
            f"{name}: its header wants the fields {', '.join(sorted(wanted))} as "
            "text; hand in the file that the lesson wrote.",
        )
    return Header(**content)


def _check_same_owner(first: Header, further: Header, number: int, name: str) -> None:
    if (first.learner, first.lesson, first.class_id) != (further.learner, further.lesson, further.class_id):
        raise EvidenceError(
            "not allowed",
            f"{name}, line {number}: this line names another learner, lesson or class than the first one; hand in the "
            "file that the lesson wrote.",
        )


def _event(content: dict, number: int, name: str) -> Event:
    def bad(what: str) -> EvidenceError:
        return EvidenceError("not allowed", f"{name}, line {number}: {what}; hand in the file that the lesson wrote.")

    if set(content) != {"time_s", "exercise", "control", "value", "unit"}:
        raise bad("an event wants the fields time_s, exercise, control, value and unit, no more and no fewer")
    time_s, value, unit = content["time_s"], content["value"], content["unit"]
    if isinstance(time_s, bool) or not isinstance(time_s, int | float) or not 0 <= time_s < 1e7:
        raise bad("time_s must be a number of seconds from 0 up")
    if not isinstance(content["exercise"], str) or not isinstance(content["control"], str):
        raise bad("exercise and control must be text")
    if not (value is None or isinstance(value, str | int | float)) or not (unit is None or isinstance(unit, str)):
        raise bad("value must be text, a number, yes/no or nothing, and unit text or nothing")
    if isinstance(value, str) and len(value) > LARGEST_TEXT:
        raise bad(f"a written answer may have {LARGEST_TEXT} characters and this one has {len(value)}")
    if isinstance(value, int | float) and not _fits_a_float(value):
        raise bad("value must be a number from -1.8e308 to 1.8e308")
    return Event(**content)


def _fits_a_float(value: int | float) -> bool:
    """Whether a number can be computed with. JSON allows whole numbers of hundreds of digits, which cannot."""
    try:
        return math.isfinite(value)
    except OverflowError:
        return False


def _check_clock(events: Mapping[int, Event], name: str) -> None:
    latest: dict[str, float] = {}
    for number, event in events.items():
        if event.control != "begin" and event.time_s < latest.get(event.exercise, 0.0):
            raise EvidenceError(
                "clock",
                (
                    f"{name}, line {number}: the clock of {event.exercise} goes back from "
                    f"{latest[event.exercise]:g} s to {event.time_s:g} s; hand in the file that the lesson wrote."
                ),
            )
        latest[event.exercise] = 0.0 if event.control == "begin" else event.time_s  # each attempt has its own clock


def _header_content(header: Header) -> dict:
    return asdict(header)
