"""Evidence: what was written is read back; whatever happened to the file is said in one sentence."""

import json

import pytest

from engine_sim import MODEL_VERSION, Event, EvidenceError, EvidenceWriter, Header, read_evidence, version
from engine_sim.workshop.evidence import LARGEST_FILE_BYTES, chained_line

HEADER = Header("Åsa Öberg", "l04_base_timing", "evening class", "0123456789abcdef", "2026-03-02T18:30:00+00:00")
EVENTS = [
    Event(0.0, "bench", "brake", "on"),
    Event(1.5, "bench", "idle_screw", 2.25, "turns in"),
    Event(2.0, "question", "answer", "Ça va — 14°", None),
]


@pytest.fixture
def file(tmp_path):
    """A sound file with three events."""
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", HEADER)
    for event in EVENTS:
        writer.append(event)
    return writer.path


def kind_of(path) -> str:
    """The kind of error that reading the file gives; its sentence must be one that a person can act on."""
    with pytest.raises(EvidenceError) as caught:
        read_evidence(path)
    assert path.name in str(caught.value) and len(str(caught.value)) > 40
    return caught.value.kind


def test_round_trip(file):
    """Header and events come back as they were written, in every script."""
    evidence = read_evidence(file)
    assert (evidence.header, list(evidence.events), evidence.torn) == (HEADER, EVENTS, False)


@pytest.mark.parametrize("value", [10**400, -(10**400), float("inf"), float("nan")], ids=lambda value: str(value)[:5])
def test_a_number_that_no_computation_takes_is_not_written(file, value):
    """The writer refuses what could not be read back, and the file stays as it was; a long whole number may stand."""
    writer, before = EvidenceWriter(file, HEADER), file.read_bytes()
    with pytest.raises(ValueError, match="and idle_screw was given another"):
        writer.append(Event(3.0, "bench", "idle_screw", value, "turns in"))
    assert file.read_bytes() == before
    writer.append(Event(3.0, "bench", "idle_screw", 10**300, "turns in"))
    assert read_evidence(file).events[-1].value == 10**300


@pytest.mark.parametrize("value", [10**400, -(10**400)], ids=["plus", "minus"])
def test_a_whole_number_of_400_digits_is_refused_with_its_line(file, value):
    """JSON allows it and no computation takes it: in a sound chain, too, it has its sentence."""
    content = {"time_s": 9.0, "exercise": "bench", "control": "idle_screw", "value": value, "unit": None}
    last = json.loads(file.read_bytes().splitlines()[-1])["digest"]
    with file.open("ab") as open_file:
        open_file.write(chained_line(content, last)[0])
    assert kind_of(file) == "not allowed"
    with pytest.raises(EvidenceError, match="line 5: value must be a number from"):
        read_evidence(file)


def test_going_on_after_a_restart(file):
    """A writer that is opened again continues the chain."""
    EvidenceWriter(file, HEADER).append(Event(3.0, "bench", "chocks", "in place"))
    assert len(read_evidence(file).events) == 4


def test_torn_last_line_is_dropped_and_said(file):
    """A power cut in the middle of a line loses that line only, for the reader and for the writer that goes on."""
    file.write_bytes(file.read_bytes()[:-20])
    assert read_evidence(file).torn and len(read_evidence(file).events) == 2
    writer = EvidenceWriter(file, HEADER)
    assert writer.torn
    writer.append(EVENTS[2])
    assert list(read_evidence(file).events) == EVENTS


@pytest.mark.parametrize(
    ("change", "kind"),
    [
        (lambda lines: [], "empty"),
        (lambda lines: [lines[0], lines[1].replace(b"brake", b"choke"), *lines[2:]], "broken chain"),
        (lambda lines: [lines[0], lines[2], lines[1], lines[3]], "broken chain"),
        (lambda lines: [lines[0], *lines[2:]], "broken chain"),
        (lambda lines: [*lines, lines[-1]], "broken chain"),
        (lambda lines: lines[1:], "not evidence"),
        (lambda lines: [lines[0], b'{"time_s": NaN}'], "not evidence"),
        (lambda lines: [lines[0], b"[1, 2]"], "not evidence"),
        (lambda lines: [lines[0], b"[" * 100_000], "not evidence"),
        (lambda lines: [lines[0], b"\xff\xfe"], "not text"),
        (lambda lines: [b"hello"], "not evidence"),
        (lambda lines: [lines[0], b'{"value": "\\ud800"}'], "not text"),
        (lambda lines: [lines[0], b'{"value": ' + b"9" * 10_000 + b"}"], "not evidence"),
    ],
)
def test_changed_by_hand(file, change, kind):
    """Emptied, edited, reordered, shortened, duplicated, not JSON, NaN, deep nesting, not UTF-8: each has its kind."""
    lines = change(file.read_bytes().splitlines())
    file.write_bytes(b"".join(line + b"\n" for line in lines))
    assert kind_of(file) == kind


def forged(tmp_path, header=None, events=()):
    """A file whose chain is whole but whose content is not what a lesson writes."""
    content = {"learner": "a", "lesson": "l", "class_id": "c", "engine": "e", "created": "t"}
    content |= {"model": MODEL_VERSION, "schema": 1}
    digest, data = "", b""
    for line in [{**content, **(header or {})}, *events]:
        part, digest = chained_line(line, digest)
        data += part
    path = tmp_path / "forged.jsonl"
    path.write_bytes(data)
    return path


@pytest.mark.parametrize(
    ("header", "kind"),
    [
        ({"schema": 2}, "another schema"),
        ({"schema": True}, "not evidence"),
        ({"model": 99}, "not evidence"),
        ({"learner": 5}, "not evidence"),
        ({"extra": "field"}, "not evidence"),
    ],
)
def test_forged_header(tmp_path, header, kind):
    """Another schema, a wrong type or an unknown field in the header has its kind."""
    assert kind_of(forged(tmp_path, header)) == kind


EVENT = {"time_s": 0.0, "exercise": "x", "control": "brake", "value": "on", "unit": None}


@pytest.mark.parametrize(
    ("change", "kind"),
    [
        ({"time_s": -1}, "not allowed"),
        ({"time_s": True}, "not allowed"),
        ({"time_s": 1e99}, "not allowed"),
        ({"value": ["on"]}, "not allowed"),
        ({"value": "x" * 30_000}, "not allowed"),
        ({"control": 3}, "not allowed"),
        ({"note": "more"}, "not allowed"),
    ],
)
def test_forged_event(tmp_path, change, kind):
    """A time that cannot be, a value of the wrong form, a text without end, an unknown field: each has its kind."""
    assert kind_of(forged(tmp_path, events=[{**EVENT, **change}])) == kind


def test_clock_going_backwards(tmp_path):
    """The clock of an exercise may start again only with a new try."""
    back = [{**EVENT, "time_s": 5.0}, {**EVENT, "time_s": 4.0}]
    assert kind_of(forged(tmp_path, events=back)) == "clock"
    begun = [
        {**EVENT, "time_s": 5.0},
        {**EVENT, "time_s": 0.0, "control": "begin", "value": None},
        {**EVENT, "time_s": 1.0},
    ]
    assert len(read_evidence(forged(tmp_path, events=begun)).events) == 3
    begun[1]["time_s"] = 6.0  # as a session writes it: by the clock of the try that ends
    assert len(read_evidence(forged(tmp_path, events=begun)).events) == 3


def test_too_large_is_not_read(tmp_path):
    """A file far larger than a lesson writes is refused by its size, before it is read."""
    path = tmp_path / "huge.jsonl"
    with path.open("wb") as file:
        file.truncate(LARGEST_FILE_BYTES + 1)
    assert kind_of(path) == "too large"


def test_missing(tmp_path):
    """A file that is not there is said to be missing."""
    assert kind_of(tmp_path / "evidence.jsonl") == "missing"


@pytest.mark.parametrize(
    ("change", "kind"),
    [
        ({"learner": "b"}, "another learner"),
        ({"lesson": "l05"}, "another lesson"),
        ({"engine": "f" * 16}, "another engine"),
        ({"class_id": "other"}, "another class"),
    ],
)
def test_writer_never_touches_a_file_of_somebody_else(file, change, kind):
    """Opening another learner's, lesson's, class's or engine's file is refused and leaves it as it was."""
    before = file.read_bytes()
    with pytest.raises(EvidenceError) as caught:
        EvidenceWriter(file, Header(**{**HEADER.__dict__, **change}))
    assert caught.value.kind == kind and file.read_bytes() == before


def test_two_writers_do_not_mix(file):
    """When the file grew behind its back, a writer refuses to write rather than break the chain."""
    first, second = EvidenceWriter(file, HEADER), EvidenceWriter(file, HEADER)
    first.append(EVENTS[1])
    with pytest.raises(EvidenceError) as caught:
        second.append(EVENTS[1])
    assert caught.value.kind == "changed elsewhere"
    assert len(read_evidence(file).events) == 4


NEWER = f"{MODEL_VERSION}, improved"


@pytest.fixture
def updated(file, monkeypatch):
    """The same file, and a course with another engine model."""
    monkeypatch.setattr(version, "MODEL_VERSION", NEWER)
    return file


def newer_header(**changes):
    """The header of the same learner's work on the other model."""
    return Header(**HEADER.__dict__ | {"model": NEWER, "engine": "f" * 16} | changes)


def test_another_model_begins_a_part_of_its_own_and_nothing_is_lost(updated):
    """Not a byte before it changes; each event belongs to the model on which it was made, however often it is read."""
    before = updated.read_bytes()
    writer = EvidenceWriter(updated, newer_header())
    writer.append(Event(0.0, "bench", "begin", None))
    writer.append(Event(1.0, "bench", "brake", "on"))
    assert updated.read_bytes().startswith(before)
    evidence = read_evidence(updated)
    assert evidence == writer.so_far() == EvidenceWriter(updated, newer_header()).so_far()
    assert [(header, len(events)) for header, events in evidence.parts()] == [(HEADER, 3), (newer_header(), 2)]
    assert evidence.on_this_model().events == evidence.events[3:]
    assert evidence.models_of("bench") == (MODEL_VERSION, NEWER) and evidence.models_of("question") == (MODEL_VERSION,)
    assert (evidence.left_on_model("bench"), evidence.left_on_model("question")) == (NEWER, MODEL_VERSION)


def test_to_begin_again_is_no_work(updated):
    """A bench that was opened after an update and left has been worked on before it alone."""
    EvidenceWriter(updated, newer_header()).append(Event(0.0, "bench", "begin", None))
    evidence = read_evidence(updated)
    assert evidence.models_of("bench") == (MODEL_VERSION,) and evidence.left_on_model("bench") == NEWER


def test_back_on_the_older_edition_its_own_events_are_there(updated, monkeypatch):
    """Who goes back to the edition before has all work on its model, from before and from after."""
    EvidenceWriter(updated, newer_header()).append(Event(0.0, "bench", "begin", None))
    monkeypatch.setattr(version, "MODEL_VERSION", MODEL_VERSION)
    EvidenceWriter(updated, HEADER).append(Event(0.0, "bench", "begin", None))
    evidence = read_evidence(updated)
    assert [header.model for header, _ in evidence.parts()] == [MODEL_VERSION, NEWER, MODEL_VERSION]
    assert evidence.on_this_model().events == (*EVENTS, Event(0.0, "bench", "begin", None))


@pytest.mark.parametrize("change", [{"learner": "b"}, {"lesson": "l05"}, {"class_id": "other"}])
def test_an_update_makes_nobody_else_of_the_owner(updated, change):
    """On another model, too, a file of somebody else is refused, by the writer and, forged, by the reader."""
    before = updated.read_bytes()
    with pytest.raises(EvidenceError, match="belongs to"):
        EvidenceWriter(updated, newer_header(**change))
    assert updated.read_bytes() == before
    last = json.loads(before.splitlines()[-1])["digest"]
    updated.write_bytes(before + chained_line(newer_header(**change).__dict__, last)[0])
    with pytest.raises(EvidenceError, match="line 5: this line names another learner"):
        read_evidence(updated)


def test_every_line_is_on_the_disk_at_once(file):
    """Each line is complete JSON as soon as `append` has returned."""
    assert [json.loads(line)["control"] for line in file.read_text().splitlines()[1:]] == [
        event.control for event in EVENTS
    ]
