"""Whether two programs are the same one: what is kept by a digest of the code covers all that it was made with."""

from __future__ import annotations

import functools
import shutil
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

import engine_sim
import graders
from course import ENGINES
from engine_sim.model.response_map import map_code
from engine_sim.version import code_digest, code_files
from graders.submissions.verdict_key import NO_VERDICT, verdict_code
from tests.every_case import check_every

ENGINE, JUDGE = (Path(package.__file__).parent for package in (engine_sim, graders))
PACKAGES = ("engine_sim", "graders", "course")
JUDGING = """
import graders.judge, engine_sim
from graders.exercises.loader import lessons_with_rubrics, load_rubric
rubrics = [load_rubric(lesson) for lesson in lessons_with_rubrics()]
everything = [getattr(engine_sim, name) for name in engine_sim.__all__]
"""
BUILDING = f"""
from engine_sim import Engine, load_card
Engine(load_card({str(ENGINES / "delivery_truck_six.toml")!r})).build_map()
"""


@functools.cache
def loaded_by(work: str) -> frozenset[str]:
    """Every module of our packages that some work loads in a fresh interpreter, however it is imported."""
    code = f"{work}\nimport sys\nprint('\\n'.join(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    return frozenset(name for name in done.stdout.split() if name.partition(".")[0] in PACKAGES)


@functools.cache
def imported_by(module: str) -> frozenset[str]:
    """Every module of our packages that a module imports, directly or through others, as its text says."""
    import grimp

    graph = grimp.build_graph(*PACKAGES, exclude_type_checking_imports=True, cache_dir=None)
    return frozenset({module, *graph.find_upstream_modules(module)})


def not_covered(modules: frozenset[str], parts: list[Path]) -> list[str]:
    """The modules whose files are not among those of the digest."""
    covered = {path.resolve() for path in code_files(parts).values()}
    return sorted(name for name in modules if Path(find_spec(name).origin).resolve() not in covered)


def test_a_verdicts_key_covers_all_that_judging_reaches():
    """Every module that judging loads or imports, the criteria and kinds that are looked up by name among them, is part
    of the digest in a verdict's key."""
    reached = loaded_by(JUDGING) | imported_by("graders.judge")
    assert {"graders.bench.criteria.base_timing", "graders.exercises.kinds.order", "engine_sim.model.cycle"} <= reached
    assert not_covered(reached, verdict_code(ENGINE, JUDGE)) == []


def test_a_maps_key_covers_all_that_a_map_is_worked_out_with():
    """Every module that building a map loads or imports is part of the digest in its name on disk; the package's door,
    which only says where names are, is left out."""
    reached = (
        loaded_by(BUILDING) | imported_by("engine_sim.model.response_map") | imported_by("engine_sim.model.engine")
    )
    assert "engine_sim.physics.burn" in reached
    assert not_covered(reached - {"engine_sim"}, map_code(ENGINE)) == []


def test_what_is_left_out_of_a_verdicts_key_is_never_reached():
    """No room that the key leaves out is loaded by judging; each of them is there."""
    assert all((JUDGE / name).is_dir() for name in NO_VERDICT)
    rooms = {name.split(".")[1] for name in loaded_by(JUDGING) if name.startswith("graders.")}
    assert rooms & NO_VERDICT == set()


@pytest.fixture
def copies(tmp_path) -> tuple[Path, Path]:
    """Copies of the two packages, in which files may be added and changed."""
    leave_out = shutil.ignore_patterns("__pycache__")
    return tuple(
        Path(shutil.copytree(package, tmp_path / package.name, ignore=leave_out)) for package in (ENGINE, JUDGE)
    )


def test_the_same_code_elsewhere_is_the_same(copies):
    """A copy of the packages has the digests of the packages themselves."""
    assert code_digest(verdict_code(*copies)) == code_digest(verdict_code(ENGINE, JUDGE))
    assert code_digest(map_code(copies[0])) == code_digest(map_code(ENGINE))


def test_a_module_more_in_a_room_of_the_judge_is_another_program(copies):
    """A module that is added where verdicts are worked out, also in a room that is new, changes the digest; taken away
    again, it is the same as before."""
    before = code_digest(verdict_code(*copies))

    def check(room):
        (copies[1] / room).mkdir(exist_ok=True)
        added = copies[1] / room / "added.py"
        added.write_text("", encoding="utf-8")
        with_it = code_digest(verdict_code(*copies))
        added.unlink()
        assert with_it != before == code_digest(verdict_code(*copies))

    rooms = ("", "bench", "bench/criteria", "exercises/kinds", "submissions", "a_new_room")
    check_every(check, ((room or "the top floor", room) for room in rooms))


def test_a_module_more_in_the_engine_is_another_program(copies):
    """A module added to the engine changes the digest of a verdict, and that of a map where a map depends on it."""

    def digests():
        return code_digest(verdict_code(*copies)), code_digest(map_code(copies[0]))

    before = digests()

    def check(room, map_depends_on_it):
        added = copies[0] / room / "added.py"
        added.write_text("", encoding="utf-8")
        verdict, engine_map = digests()
        added.unlink()
        assert verdict != before[0] and (engine_map != before[1]) == map_depends_on_it and digests() == before

    rooms = (("physics", True), ("model", True), ("workshop", False), ("diagnosis", False))
    check_every(check, ((room, room, depends) for room, depends in rooms))


def test_a_room_without_verdicts_changes_nothing(copies):
    """A file that is added or changed where no verdict is worked out leaves the digest as it is."""
    before = code_digest(verdict_code(*copies))

    def check(room):
        (copies[1] / room / "added.py").write_text("", encoding="utf-8")
        for path in (copies[1] / room).rglob("*.toml"):
            path.write_text("", encoding="utf-8")
        assert code_digest(verdict_code(*copies)) == before

    check_every(check, ((room, room) for room in sorted(NO_VERDICT)))


def test_a_file_changed_renamed_or_moved_is_another_program(copies):
    """One letter, another name, or another room: each makes another digest; what is no code makes none."""
    engine, judge = copies
    digests = [code_digest(verdict_code(engine, judge))]
    (judge / "notes.txt").write_text("not a program", encoding="utf-8")
    assert code_digest(verdict_code(engine, judge)) == digests[0]
    module = judge / "outcome.py"
    module.write_text(module.read_text(encoding="utf-8") + "#", encoding="utf-8")
    digests.append(code_digest(verdict_code(engine, judge)))
    module = module.rename(judge / "outcomes.py")
    digests.append(code_digest(verdict_code(engine, judge)))
    module.rename(judge / "bench" / "outcomes.py")
    digests.append(code_digest(verdict_code(engine, judge)))
    assert len(set(digests)) == len(digests)
