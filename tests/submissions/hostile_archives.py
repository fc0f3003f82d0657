"""Hostile and unlucky archives among those that a class uploads, each a small function that makes one, with what is
said of it. `LEARNER--LESSON--TIME.zip` is the name of a sound one; each of these is named for its builder in the
learner's place, unless the name itself is what is wrong.
"""

from __future__ import annotations

import io
import os
import stat
import tarfile
import warnings
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

LESSON, TIME = "l04_base_timing", "20260302T183005Z"
EVIDENCE = "evidence.jsonl"


@dataclass(frozen=True)
class HostileArchive:
    """One archive: how it is made at a path, its name, and words of the sentence about it; `taken` where it is taken in
    all the same, without what is hostile in it."""

    make: Callable[[Path], None]
    name: str
    says: str
    taken: bool = False


HOSTILE_ARCHIVES: list[HostileArchive] = []


def hostile(says: str, name: str = "", taken: bool = False):
    """Put a builder on the list."""

    def put(function):
        HOSTILE_ARCHIVES.append(
            HostileArchive(function, name or f"{function.__name__}--{LESSON}--{TIME}.zip", says, taken)
        )
        return function

    return put


def zipped(path: Path, **members: bytes) -> None:
    """Write an archive of honest evidence and these further members."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(EVIDENCE, b"{}\n")
        for name, content in members.items():
            archive.writestr(name, content)


@hostile("would unpack to")
def bomb(path):
    """Three hundred megabytes of nothing in three hundred kilobytes."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive, archive.open(EVIDENCE, "w") as file:
        for _ in range(300):
            file.write(bytes(1_000_000))


@hostile("cannot be unpacked")
def bomb_that_says_it_is_small(path):
    """Thirty megabytes in a member whose entry says one hundred bytes."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(EVIDENCE, bytes(30_000_000))
    size = (30_000_000).to_bytes(4, "little")
    path.write_bytes(path.read_bytes().replace(size, (100).to_bytes(4, "little")))


@hostile("holds 20000 files")
def twenty_thousand_members(path):
    """More files than a folder takes well."""
    zipped(path, **{f"{number}.txt": b"" for number in range(19_999)})


@hostile("outside its folder")
def member_above_its_folder(path):
    """A way up to the class's configuration."""
    zipped(path, **{"../../../../nbgrader_config.py": b"raise SystemExit"})


@hostile("outside its folder")
def member_from_the_root(path):
    """A way from the root of the disk."""
    zipped(path, **{"/tmp/was_unpacked_from_the_root": b"x"})


@hostile("outside its folder")
def member_on_another_drive(path):
    """A way that only Windows reads as one."""
    zipped(path, **{"C:evidence.jsonl": b"x"})


@hostile("outside its folder")
def member_behind_backslashes(path):
    """A way up in the other system's signs."""
    zipped(path, **{"..\\..\\evidence.jsonl": b"x"})


@hostile("the link 'notebook'")
def link_in_an_archive(path):
    """A link to the gradebook."""
    with zipfile.ZipFile(path, "w") as archive:
        link = zipfile.ZipInfo("notebook")
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        archive.writestr(link, "../../../../gradebook.db")


@hostile("and was not followed", name=f"link--{LESSON}--{TIME}.zip")
def link_for_an_archive(path):
    """The archive itself is a link."""
    os.symlink(path.parents[3] / "gradebook.db", path)


@hostile("locked with a password")
def locked(path):
    """An archive that asks for a password."""
    zipped(path)
    content = bytearray(path.read_bytes())
    content[6] |= 1
    content[content.index(b"PK\x01\x02") + 8] |= 1
    path.write_bytes(content)


@hostile("'evidence.jsonl' twice")
def same_member_twice(path):
    """Two files of evidence, of which nobody can say which is meant."""
    with zipfile.ZipFile(path, "w") as archive, archive.open(EVIDENCE, "w") as file:
        file.write(b"{}\n")
    with zipfile.ZipFile(path, "a") as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        archive.writestr(EVIDENCE, b"[]\n")


@hostile("cannot be unpacked")
def damaged(path):
    """One byte of the content changed on the way."""
    zipped(path, **{"notes.txt": bytes(range(256)) * 40})
    content = bytearray(path.read_bytes())
    content[content.index(b"notes.txt") + 60] ^= 0xFF
    path.write_bytes(content)


@hostile("not a whole zip archive")
def torn(path):
    """Half of an upload."""
    zipped(path, **{"notes.txt": bytes(range(256)) * 40})
    path.write_bytes(path.read_bytes()[:200])


@hostile("not a whole zip archive")
def not_an_archive(path):
    """A picture under an archive's name."""
    path.write_bytes(b"\x89PNG\r\n\x1a\n" * 20)


@hostile("is empty")
def empty_archive(path):
    """An archive of nothing."""
    with zipfile.ZipFile(path, "w"):
        pass


@hostile("not a whole zip archive", name=f"tarred--{LESSON}--{TIME}.tar.gz")
def archive_of_another_kind(path):
    """Another kind of archive, with a way up in it."""
    with tarfile.open(path, "w:gz") as archive:
        member = tarfile.TarInfo("../../../../nbgrader_config.py")
        member.size = 3
        archive.addfile(member, io.BytesIO(b"1/0"))


@hostile("cannot be a learner's id", name=f"..--{LESSON}--{TIME}.zip")
def name_of_the_folder_above(path):
    """A learner who is the folder above."""
    zipped(path)


@hostile("is no time", name=f"timeless--{LESSON}--20269999T999999Z.zip")
def name_of_no_time(path):
    """A time that no calendar has."""
    zipped(path)


@hostile("is of lesson l05_road_check", name=f"stray--l05_road_check--{TIME}.zip")
def of_another_lesson(path):
    """The next lesson's archive among this lesson's."""
    zipped(path)


@hostile("is not named LEARNER--LESSON--TIME.zip", name="my homework.zip")
def name_of_ones_own(path):
    """Honest work under a name that says nothing."""
    zipped(path)


@hostile("", taken=True)
def archive_in_an_archive(path):
    """A bomb within honest work: it stays packed, and is not taken in."""
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("x.ipynb", bytes(50_000_000))
    zipped(path, **{"inner.zip": inner.getvalue()})


@hostile("", taken=True)
def rights_that_keep_everybody_out(path):
    """A member that asks to be readable by nobody."""
    with zipfile.ZipFile(path, "w") as archive:
        member = zipfile.ZipInfo(EVIDENCE)
        member.external_attr = stat.S_IFREG << 16
        archive.writestr(member, b"{}\n")


@hostile("", taken=True)
def packed_again_with_its_folder(path):
    """A browser unpacked it and a person packed the folder again, with what a Mac adds."""
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr(f"{LESSON}/{EVIDENCE}", b"{}\n")
        archive.writestr(f"__MACOSX/{LESSON}/._{EVIDENCE}", b"\x00\x05\x16\x07")
