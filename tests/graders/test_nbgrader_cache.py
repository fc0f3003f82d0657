"""What nbgrader keeps during a class run is what it would have found by itself, and nothing is kept too long."""

from __future__ import annotations

import sqlite3
from contextlib import closing, contextmanager

import pytest
from nbgrader import api
from nbgrader.api import Gradebook, MissingEntry
from sqlalchemy import event

from graders.classroom.nbgrader_cache import kept_engines
from graders.classroom.run import Classroom
from tests.graders.conftest import EXERCISES, LESSON, WRITTEN

CELLS = [*EXERCISES, WRITTEN, *(f"{name}_work" for name in EXERCISES)]


@pytest.fixture
def graded(trial_class, perfect):
    """A class with one judged hand-in."""
    trial_class.hand_in("ada", perfect)
    Classroom(trial_class.root).judge()
    return trial_class


@contextmanager
def counted(engine):
    """The statements that go to the database while inside."""
    seen: list[str] = []

    def note(connection, cursor, statement, *_):
        seen.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    try:
        yield seen
    finally:
        event.remove(engine, "before_cursor_execute", note)


def write(trial_class, statement: str, *values) -> None:
    """Write to the gradebook as another program does."""
    with closing(sqlite3.connect(trial_class.root / "gradebook.db")) as other, other:
        other.execute(statement, values)


def looked_up(gradebook: Gradebook) -> dict:
    """What the gradebook says to every question that is answered from what is kept."""
    found = {"notebook": gradebook.find_notebook(LESSON, LESSON).id}
    for name in CELLS:
        cell = gradebook.find_source_cell(name, LESSON, LESSON)
        found[name] = (cell.id, cell.name, cell.cell_type, cell.locked, cell.source, cell.checksum)
    for name in (*EXERCISES, WRITTEN):
        cell = gradebook.find_graded_cell(name, LESSON, LESSON)
        grade = gradebook.find_grade(name, LESSON, LESSON, "ada")
        found[name] += (
            cell.id,
            cell.max_score,
            grade.id,
            grade.score,
            grade.max_score,
            grade.auto_score,
            grade.manual_score,
            grade.needs_manual_grade,
        )
    return found


def test_the_same_is_found_with_a_fraction_of_the_questions(graded):
    """Four questions answer what nbgrader asks cell by cell, with the same rows."""
    with graded.course.gradebook() as gradebook, counted(gradebook.engine) as without:
        expected = looked_up(gradebook)
    with kept_engines(), graded.course.gradebook() as gradebook, counted(gradebook.engine) as kept:
        assert looked_up(gradebook) == expected
        assert looked_up(gradebook) == expected
    assert len(kept) <= 4 < len(without)  # the notebook, its cells, its graded cells, the learner's grades


def test_what_is_not_there_is_missed_as_nbgrader_misses_it(graded):
    """A cell, notebook or learner that is not there raises nbgrader's own MissingEntry."""
    with kept_engines(), graded.course.gradebook() as gradebook:
        for find, names in (
            (gradebook.find_notebook, ("other", LESSON)),
            (gradebook.find_source_cell, ("other", LESSON, LESSON)),
            (gradebook.find_graded_cell, (f"{next(iter(EXERCISES))}_work", LESSON, LESSON)),
            (gradebook.find_grade, (WRITTEN, LESSON, LESSON, "nobody")),
        ):
            with pytest.raises(MissingEntry):
                find(*names)


def test_what_another_program_wrote_is_seen_at_once_when_the_gradebook_is_opened_again(graded):
    """Nothing outlives one open gradebook."""
    with kept_engines():
        with graded.course.gradebook() as gradebook:
            assert gradebook.find_grade(WRITTEN, LESSON, LESSON, "ada").manual_score is None
        write(graded, "UPDATE grade SET manual_score = 2.5")
        with graded.course.gradebook() as gradebook:
            assert gradebook.find_grade(WRITTEN, LESSON, LESSON, "ada").manual_score == 2.5
        assert {grade.points for grade in graded.course.grades(LESSON, "ada")} == {2.5}


def test_a_kept_grade_is_looked_at_anew_after_a_commit(graded):
    """A grade stays an object of nbgrader's session, which reads it again after a commit."""
    with kept_engines(), graded.course.gradebook() as gradebook:
        gradebook.find_grade(WRITTEN, LESSON, LESSON, "ada").manual_score = 1.0
        gradebook.db.commit()
        write(graded, "UPDATE grade SET manual_score = 3.5")
        assert gradebook.find_grade(WRITTEN, LESSON, LESSON, "ada").score == 3.5


def test_an_idle_connection_keeps_nobody_from_writing(graded):
    """Another program that wants the whole file for itself gets it between two steps of a run."""
    with kept_engines():
        with graded.course.gradebook() as gradebook:
            looked_up(gradebook)
        with closing(sqlite3.connect(graded.root / "gradebook.db", timeout=0, isolation_level=None)) as other:
            other.execute("BEGIN EXCLUSIVE")
            other.execute("ROLLBACK")


def test_afterwards_everything_is_nbgraders_own_again(graded):
    """Also where the run was ended by an error."""
    places = [
        (Gradebook, name)
        for name in ("check_course", "close", "find_notebook", "find_source_cell", "find_graded_cell", "find_grade")
    ]
    places += [(api, name) for name in ("create_engine", "inspect", "sessionmaker")]
    before = [getattr(*place) for place in places]
    with pytest.raises(RuntimeError), kept_engines():
        assert all(getattr(*place) is not own for place, own in zip(places, before, strict=True))
        raise RuntimeError
    assert [getattr(*place) for place in places] == before


def test_grades_and_comments_are_those_that_nbgrader_itself_reads(graded):
    """In its own order, by which the reasons for a person's look are told."""
    write(graded, "UPDATE grade SET manual_score = 1.5, extra_credit = 0.5 WHERE auto_score IS NULL")
    write(graded, "UPDATE comment SET manual_comment = 'Well said.'")
    with graded.course.gradebook() as gradebook:
        notebooks = gradebook.find_submission(LESSON, "ada").notebooks
        expected = [
            (one.name, one.score, one.max_score, one.auto_score, one.manual_score is not None, one.needs_manual_grade)
            for notebook in notebooks
            for one in notebook.grades
        ]
        comments = [one.comment for notebook in notebooks for one in notebook.comments]
    found = graded.course.grades(LESSON, "ada")
    assert [
        (one.name, one.points, one.max_points, one.auto_points, one.marked_by_person, one.needs_person) for one in found
    ] == expected
    assert len(found) == len(EXERCISES) + 1
    assert graded.course.comments(LESSON, "ada") == comments == ["Well said."]
    assert graded.course.grades(LESSON, "nobody") == [] == graded.course.comments(LESSON, "nobody")
