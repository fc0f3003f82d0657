"""Evidence that another program saved, and a disk that was full."""

from __future__ import annotations

import pytest

from engine_sim import Event, EvidenceError, EvidenceWriter, Header, read_evidence
from graders.submissions.roster import name_in_evidence

HEADER = Header("Юлия", "l04_base_timing", "spring", "digest", "2026-01-05T09:00:00+00:00")


@pytest.fixture
def written(tmp_path):
    """A file with one answer."""
    writer = EvidenceWriter(tmp_path / "evidence.jsonl", HEADER)
    writer.append(Event(1.0, "l04_explain", "answer", "später"))
    return writer


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_an_encoding_that_names_itself_is_read(written, encoding):
    """What an editor saved with a mark has the same seals, the same name, and is not gone on with."""
    before, text = read_evidence(written.path), written.path.read_text(encoding="utf-8")
    mark = "\ufeff" if encoding.endswith(("le", "be")) else ""
    written.path.write_bytes((mark + text).replace("\n", "\r\n").encode(encoding))
    assert read_evidence(written.path) == before and name_in_evidence(written.path.parent) == "Юлия"
    saved = written.path.read_bytes()
    with pytest.raises(EvidenceError, match="saved by another program"):
        EvidenceWriter(written.path, HEADER)
    assert written.path.read_bytes() == saved


def test_a_mark_without_its_encoding_is_said(tmp_path):
    """Half of a character under the mark of UTF-16."""
    (tmp_path / "evidence.jsonl").write_bytes(b"\xff\xfe{\x00\n")
    with pytest.raises(EvidenceError, match="marked as utf-16"):
        read_evidence(tmp_path / "evidence.jsonl")
    assert name_in_evidence(tmp_path) == ""


class HalfWritten:
    """An open file on a disk that has room for eight bytes more."""

    def __init__(self, file):
        self.file = file

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.file.close()

    def write(self, data):
        """Write what there is room for."""
        self.file.write(data[:8])
        self.file.flush()
        raise OSError(28, "No space left on device")


def test_a_full_disk_leaves_no_half_line_and_writing_goes_on(written, monkeypatch):
    """The act that could not be written is refused; the next one is written once there is room."""
    whole, real = written.path.read_bytes(), type(written.path).open
    with monkeypatch.context() as patch:
        patch.setattr(type(written.path), "open", lambda path, mode: HalfWritten(real(path, mode)))
        with pytest.raises(EvidenceError, match=r"No space left on device.*Make room"):
            written.append(Event(2.0, "l04_explain", "answer", "lost"))
    assert written.path.read_bytes() == whole
    written.append(Event(3.0, "l04_explain", "answer", "kept"))
    assert [event.value for event in read_evidence(written.path).events] == ["später", "kept"]


def test_a_first_line_that_found_no_room_is_no_file_that_stays(tmp_path, monkeypatch):
    """A lesson whose disk was full as it opened can be opened afterwards."""
    real = type(tmp_path).open
    with monkeypatch.context() as patch:
        patch.setattr(type(tmp_path), "open", lambda path, mode: HalfWritten(real(path, mode)))
        with pytest.raises(EvidenceError, match=r"No space left on device.*Make room"):
            EvidenceWriter(tmp_path / "evidence.jsonl", HEADER)
    EvidenceWriter(tmp_path / "evidence.jsonl", HEADER)
    assert read_evidence(tmp_path / "evidence.jsonl").header == HEADER
