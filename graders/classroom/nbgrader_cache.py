"""What nbgrader may keep while a class run goes on, so that it reads each thing once.

nbgrader opens the gradebook again for every step of every hand-in, each time with an engine, connections, a look for
every table and for the course; and within a step it asks for one cell after the other: most of a class run. Engines,
tables and the course stay the same all along; cells and grades are kept only for as long as nbgrader itself keeps that
gradebook open, and stay objects of its own session.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator
from contextlib import contextmanager
from types import SimpleNamespace

from nbgrader import api
from nbgrader.api import (
    Assignment,
    Grade,
    Gradebook,
    GradeCell,
    Notebook,
    SourceCell,
    Student,
    SubmittedAssignment,
    SubmittedNotebook,
)
from sqlalchemy import bindparam, select
from sqlalchemy.orm import undefer

# nbgrader's own queries for one cell of a notebook, but for all cells at once, each with its name.
_THERE = Notebook.name == bindparam("notebook"), Assignment.name == bindparam("assignment")
_SOURCE_CELLS = (
    select(SourceCell.name, SourceCell)
    .join(Notebook, Notebook.id == SourceCell.notebook_id)
    .join(Assignment, Assignment.id == Notebook.assignment_id)
    .where(*_THERE)
)
_GRADE_CELLS = (
    select(GradeCell.name, GradeCell)
    .join(Notebook, Notebook.id == GradeCell.notebook_id)
    .join(Assignment, Assignment.id == Notebook.assignment_id)
    .where(*_THERE)
)
_GRADES = (
    select(GradeCell.name, Grade)
    .join_from(Grade, GradeCell, GradeCell.id == Grade.cell_id)
    .join(SubmittedNotebook, SubmittedNotebook.id == Grade.notebook_id)
    .join(Notebook, Notebook.id == SubmittedNotebook.notebook_id)
    .join(SubmittedAssignment, SubmittedAssignment.id == SubmittedNotebook.assignment_id)
    .join(Assignment, Assignment.id == SubmittedAssignment.assignment_id)
    .join(Student, Student.id == SubmittedAssignment.student_id)
    .where(*_THERE, Student.id == bindparam("student"))
    .options(undefer(Grade.max_score))
)
_HELD = "_held_while_open"


@contextmanager
def kept_engines() -> Iterator[None]:
    """Let nbgrader keep its database engines with their connections, and what it asked of them, while inside."""
    nbgraders = {
        name: getattr(Gradebook, name)
        for name in ("check_course", "find_notebook", "find_source_cell", "find_graded_cell", "find_grade")
    }
    create_all, inspect = api.Base.metadata.create_all, api.inspect
    create_engine = functools.lru_cache(maxsize=None)(api.create_engine)
    engines, complete, known = set(), set(), set()
    tables: dict = {}

    def create_engine_once(url, **options):
        engine = create_engine(url, **options)
        engines.add(engine)
        return engine

    def inspect_once(engine):
        if not tables.get(engine):
            tables[engine] = inspect(engine).get_table_names()
        return SimpleNamespace(get_table_names=lambda: tables[engine])

    def create_once(bind, **options):
        if bind not in complete:
            create_all(bind=bind, **options)
            complete.add(bind)

    def check_once(gradebook, course_id="default_course", **options):
        if (gradebook.engine, course_id) not in known:
            nbgraders["check_course"](gradebook, course_id, **options)
            known.add((gradebook.engine, course_id))

    def close(gradebook):  # but for nbgrader's own engine.dispose()
        gradebook.__dict__.pop(_HELD, None)
        gradebook.db.remove()

    def find_notebook(gradebook, name, assignment):
        held = _held(gradebook)
        if (name, assignment) not in held:
            held[name, assignment] = nbgraders["find_notebook"](gradebook, name, assignment)
        return held[name, assignment]

    def find_source_cell(gradebook, name, notebook, assignment):
        return _of(gradebook, _SOURCE_CELLS, notebook=notebook, assignment=assignment).get(name) or nbgraders[
            "find_source_cell"
        ](gradebook, name, notebook, assignment)

    def find_graded_cell(gradebook, name, notebook, assignment):
        return _of(gradebook, _GRADE_CELLS, notebook=notebook, assignment=assignment).get(name) or nbgraders[
            "find_graded_cell"
        ](gradebook, name, notebook, assignment)

    def find_grade(gradebook, grade_cell, notebook, assignment, student):
        return _of(gradebook, _GRADES, notebook=notebook, assignment=assignment, student=student).get(
            grade_cell
        ) or nbgraders["find_grade"](gradebook, grade_cell, notebook, assignment, student)

    # A session is open for one step of one hand-in: it need not read again after a commit what it wrote itself.
    sessionmaker = functools.lru_cache(maxsize=None)(functools.partial(api.sessionmaker, expire_on_commit=False))
    ours: dict[object, dict] = {
        api: {"create_engine": create_engine_once, "inspect": inspect_once, "sessionmaker": sessionmaker},
        api.Base.metadata: {"create_all": create_once},
        Gradebook: {
            "check_course": check_once,
            "close": close,
            "find_notebook": find_notebook,
            "find_source_cell": find_source_cell,
            "find_graded_cell": find_graded_cell,
            "find_grade": find_grade,
        },
    }
    before = {owner: {name: getattr(owner, name) for name in functions} for owner, functions in ours.items()}
    _put(ours)
    try:
        yield
    finally:
        _put(before)
        for engine in engines:
            engine.dispose()


def _put(functions: dict) -> None:
    for owner, named in functions.items():
        for name, function in named.items():
            setattr(owner, name, function)


def _held(gradebook: Gradebook) -> dict:
    """What is kept for as long as this gradebook is open."""
    return gradebook.__dict__.setdefault(_HELD, {})


def _of(gradebook: Gradebook, query, **where: str) -> dict:
    """The cells or grades of one notebook by name, asked for once for each open gradebook."""
    held, key = _held(gradebook), (id(query), *where.values())
    if key not in held:
        held[key] = dict(gradebook.db.execute(query, where).all())
    return held[key]
