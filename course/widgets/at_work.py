"""One lesson at work: its folder, rubric, engine and evidence, shared by every widget of the notebook."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

from course import ENGINES
from course.learner.lesson_folder import LessonFolder
from course.widgets.bench.bench import Bench
from engine_sim import Event, Finding, OnTheStand, Session, TimingCourseError, learners_engine, version
from graders.bench.assignment import assignment_of, card_named, reading_of, seed_text, session_at
from graders.exercises.individualise import learners_exercise
from graders.exercises.kinds.diagnosis import DiagnosisExercise
from graders.exercises.kinds.exercise import Exercise
from graders.exercises.kinds.written import WrittenExercise
from graders.exercises.loader import rubric_for
from graders.judge import judge_exercise
from graders.outcome import ExerciseResult

NO_ENGINE = "no engine"  # stands in the evidence of a lesson whose exercises ask about no engine


class NoSuchExercise(TimingCourseError):
    """The lesson has no exercise of that name or kind."""


class LessonAtWork:
    """Everything that the widgets of one lesson share.

    Raises TimingCourseError where folder, rubric, engine card or evidence cannot be used.
    """

    _lock = threading.RLock()

    def __init__(self, folder: LessonFolder):
        self.folder = folder
        self.rubric = rubric_for(folder.lesson, folder.path)
        self.engine_digest = self._engine_digest()
        self.writer = folder.writer(self.engine_digest)
        self.benches: dict[str, Bench] = {}

    def exercise(self, exercise_id: str, kind: str = "") -> Exercise:
        """The rubric of one exercise, of any kind where none is named. Raises NoSuchExercise where there is none."""
        found = self.rubric.exercises.get(exercise_id)
        if found is None or (kind and found.kind != kind):
            fitting = [name for name, one in self.rubric.exercises.items() if kind in ("", one.kind)]
            raise NoSuchExercise(
                f"This lesson has no {kind} exercise '{exercise_id}'; "
                f"it has {', '.join(fitting)}: name one of these in the cell."
            )
        return found

    def learners_exercise(self, exercise_id: str, kind: str = "") -> Exercise:
        """One exercise with this learner's own numbers and order, as the judge has it. Raises TimingCourseError."""
        return learners_exercise(self.exercise(exercise_id, kind), self.writer.header, ENGINES)

    def session(self, exercise: Exercise) -> Session:
        """The engine of a bench exercise, as this learner found it or as they left it."""
        return session_at(exercise, self.writer.header, ENGINES, evidence=self.writer)

    def nameplate(self, exercise: Exercise, engine_number: int) -> list[list[str]]:
        """What a person may read on this learner's engine of that number, line by line."""
        given = assignment_of(exercise, self.writer.header, ENGINES, engine_number)
        return [list(pair) for pair in given.label.nameplate(given.card).items()]

    @staticmethod
    def day_in_numbers(session: Session) -> dict[str, float]:
        """The day's conditions and the fuel in the tank, as the bench shows them."""
        day = session.conditions
        ron, mon = session.engine.fuel(day)
        shown = {"altitude_ft": day.altitude_ft, "ambient_c": day.ambient_c, "octane_ron": ron}
        if day.humidity_percent:
            shown["humidity_percent"] = day.humidity_percent
        if day.octane_mon is not None:
            shown["octane_mon"] = mon
        return {name: float(value) for name, value in shown.items()}

    def answers(self, exercise_id: str) -> list[Event]:
        """The answers to an exercise, in the order in which they were given; those that were given about an engine of
        another model are left out, since this one asks for others."""
        return [event for event in self._events(self.exercise(exercise_id)) if event.control == "answer"]

    def begins_again(self, exercise_id: str) -> bool:
        """Whether the last answer to an exercise was given about an engine of another model."""
        left_on = self.writer.so_far().left_on_model(exercise_id)
        return self.exercise(exercise_id).by_engine_model and left_on not in ("", version.MODEL_VERSION)

    def record(self, exercise_id: str, value: Any, unit: str | None) -> int:
        """Write one answer; returns how many there are now."""
        self.folder.record_answer(self.writer, exercise_id, value, unit)
        return len(self.answers(exercise_id))

    def own_marks(self, exercise: WrittenExercise) -> dict[str, float] | None:
        """The marks that somebody who learns alone gave the latest text of an exercise."""
        return exercise.own_marks(self._events(exercise))

    def note(self, exercise_id: str, control: str, value: str | None) -> None:
        """Write down something that is done in an exercise and is no answer."""
        self.folder.record_event(self.writer, exercise_id, control, value)

    def running_engine(self, exercise: Exercise) -> Session | None:
        """The engine of an exercise in the workshop, warm, gauge on, running by itself, with nothing of it written
        down; None where it does not run."""
        given = assignment_of(exercise, self.writer.header, ENGINES)
        return OnTheStand(given.engine, given.found, given.conditions).started()

    def finding(self, exercise: Exercise, inspection: str) -> Finding:
        """What an inspection of the engine of an exercise tells."""
        header = self.writer.header
        return reading_of(assignment_of(exercise, header, ENGINES), inspection, seed_text(exercise, header))

    def looked_at(self, exercise: DiagnosisExercise) -> tuple[str, ...]:
        """The inspections of the account that is open in a diagnosis."""
        return exercise.looked_at(self._events(exercise))

    def judge(self, exercise_id: str) -> ExerciseResult:
        """What the judge says of the evidence so far: the same code that the class run uses."""
        return judge_exercise(exercise_id, self.writer.so_far(), ENGINES, self.folder.path)

    def _events(self, exercise: Exercise) -> tuple[Event, ...]:
        so_far = self.writer.so_far()
        return (so_far.on_this_model() if exercise.by_engine_model else so_far).of_exercise(exercise.id)

    def _engine_digest(self) -> str:
        """What the evidence is sealed to: the learner's own engine of the lesson, the first of several."""
        names = [exercise.engine for exercise in self.rubric.exercises.values() if exercise.engine]
        if not names:
            return NO_ENGINE
        card, folder = card_named(ENGINES, names[0]), self.folder
        return learners_engine(card, folder.class_id, folder.learner, folder.lesson).card.digest


_at_work: dict[Path, LessonAtWork] = {}


def lesson_at_work(folder: Path | None = None) -> LessonAtWork:
    """The lesson in `folder` (default: where the notebook runs), opened once a process while its evidence is
    in step."""
    place = LessonFolder.here(folder)
    with LessonAtWork._lock:
        known = _at_work.get(place.path)
        if known is None or known.writer is not place.writer(known.engine_digest):
            for bench in known.benches.values() if known else ():
                bench.close()
            known = _at_work[place.path] = LessonAtWork(place)
        return known
