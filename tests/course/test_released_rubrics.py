"""A class's own rubric goes out with its lessons: the learner's own check and the class run say the same."""

from __future__ import annotations

import io
import shutil

import pytest
from rich.console import Console

from course.commands import check, grade as class_run, make_class, released_rubrics, start as my_course
from course.learner.hand_in_archive import look_through
from course.learner.lesson_folder import LessonFolder
from course.widgets.at_work import LessonAtWork
from engine_sim import EvidenceWriter, Header, TimingCourseError
from graders.exercises.loader import FOLDER, RubricError, rubric_for, rubric_path
from graders.exercises.packing import LONGEST_BYTES, packed, unpacked
from graders.nbgrader_bridge.course_config import NbgraderCourse
from tests import scripted_learner
from tests.scripted_learner import RIGHT_ANSWERS
from tests.submissions.hostile import source_of_one_lesson

LESSON, NUMBER, CHOICE = "l04_base_timing", "l04_distributor_degrees", "l04_why_back_off"


@pytest.fixture(scope="module")
def spring(tmp_path_factory, schema_asked_once):
    """A class of one lesson in which one learner has handed in right answers; made once, copied by each test."""
    folder = tmp_path_factory.mktemp("rubrics")
    root = folder / "spring"
    make_class.make(root, source=source_of_one_lesson(folder / "lessons"))
    work_of(root / "release" / LESSON, root / "submitted" / "ada" / LESSON)
    return root


@pytest.fixture
def root(spring, tmp_path):
    """A copy of that class."""
    shutil.copytree(spring, tmp_path / "spring")
    return tmp_path / "spring"


def work_of(released, folder, learner="ada"):
    """A learner's folder of the lesson with right answers and no work at the bench."""
    shutil.copytree(released, folder)
    header = Header(
        learner, LESSON, "spring", scripted_learner.engine_of(learner, "spring").card.digest, scripted_learner.CREATED
    )
    writer, place = EvidenceWriter(folder / "evidence.jsonl", header), LessonFolder(folder)
    for exercise, value, unit in RIGHT_ANSWERS:
        place.record_answer(writer, exercise, value, unit)
    (folder / "learner.toml").write_text(f'name = "{learner}"\n', encoding="utf-8")


def changed(root, rule="points", text=None):
    """Give the class a rubric of its own in which the sum's points, or the answer called right, are other ones."""
    make_class.own_rubric(root, LESSON)
    path = root / "rubrics" / f"{LESSON}.toml"
    before = path.read_text(encoding="utf-8")
    start = before.index(f'id = "{NUMBER}"')
    old, new = {"points": ("points = ", "points = 1"), "value": ("value = 3", "value = 5")}[rule]
    path.write_text(text or before[:start] + before[start:].replace(old, new, 1), encoding="utf-8")
    return path


def graded(root, again=False):
    """What a class run prints, and the learner's points in the gradebook by exercise."""
    console = Console(width=250, record=True, file=io.StringIO())
    class_run.run(root, None, again, console)
    return console.export_text(), {
        grade.name: (grade.points, grade.max_points) for grade in NbgraderCourse(root).grades(LESSON, "ada")
    }


def own_points(folder):
    """What a learner's own check says, by exercise."""
    at_work = LessonAtWork(LessonFolder(folder))
    return {
        name: (one.points, one.max_points)
        for name, one in ((name, at_work.judge(name)) for name in at_work.rubric.exercises)
    }


def told(folder):
    """What `timing-course check` prints."""
    console = Console(width=250, record=True, file=io.StringIO())
    check.run(folder, console)
    return console.export_text()


@pytest.mark.classroom
@pytest.mark.parametrize("rule", ["points", "value"])
def test_the_learners_check_says_what_the_class_run_says(root, tmp_path, rule):
    """Points and the right answer changed after the lessons went out: the run tells of the difference until they are
    released; then gradebook, bench page and command agree in every exercise, and no work is touched."""
    learner = tmp_path / "ada" / LESSON
    my_course.lay_out(tmp_path / "ada", "ada", root / "release")
    shutil.copyfile(root / "submitted" / "ada" / LESSON / "evidence.jsonl", learner / "evidence.jsonl")
    text, usual = graded(root)
    assert "--release" not in text and own_points(learner) == usual

    changed(root, rule)
    text, _ = graded(root)
    assert text.count("--release") == 1 and f"{LESSON}: the lesson in release/" in text
    (sentence,) = released_rubrics.release(root)
    assert LESSON in sentence and released_rubrics.release(root) == []
    text, strict = graded(root)
    assert "--release" not in text and strict != usual
    assert own_points(learner) == usual, "a lesson that was handed out earlier goes by the rubric that it has"

    (learner / f"{LESSON}.ipynb").write_text("my evening's work", encoding="utf-8")
    my_course.lay_out(tmp_path / "ada", "ada", root / "release")
    assert own_points(learner) == strict and (learner / f"{LESSON}.ipynb").read_text() == "my evening's work"
    total = sum(points for points, _ in strict.values()), sum(most for _, most in strict.values())
    assert f"Lesson 5 of 12: {total[0]:g} of {total[1]:g} points" in told(learner)
    assert look_through(learner).missing == ("'Set the base timing' was not begun.",)


def test_the_rubric_travels_with_a_whole_copy_and_shows_no_answer_in_clear(root, tmp_path):
    """Whoever copies the released folder, as nbgrader's exchange does, has it; no sentence of it can be read there."""
    path = changed(root)
    released_rubrics.release(root)
    handed_out = root / "release" / LESSON / f"{LESSON}.rubric"
    work_of(root / "release" / LESSON, tmp_path / "ben" / LESSON, "ben")
    assert own_points(tmp_path / "ben" / LESSON)[NUMBER][1] > 10
    assert unpacked(handed_out) == path.read_bytes()
    for word in (b"right", b"value", b"misconception", b"sentences"):
        assert word in path.read_bytes() and word not in handed_out.read_bytes()


def test_a_class_that_gives_its_rubric_up_hands_out_the_courses_again(root):
    """What learners have is brought back by handing out the course's rubric, not by leaving the old one."""
    path = changed(root)
    released_rubrics.release(root)
    path.unlink()
    assert len(released_rubrics.drifted(NbgraderCourse(root))) == 1
    released_rubrics.release(root)
    assert unpacked(root / "release" / LESSON / f"{LESSON}.rubric") == (FOLDER / f"{LESSON}.toml").read_bytes()
    assert released_rubrics.drifted(NbgraderCourse(root)) == []


def test_a_comment_is_no_difference_and_a_broken_rubric_is_not_handed_out(root):
    """Only what a rubric says counts; one that cannot be used is refused before anything is changed."""
    shipped = (FOLDER / f"{LESSON}.toml").read_text(encoding="utf-8")
    path = changed(root, text=f"# our own\n{shipped}")
    assert released_rubrics.drifted(NbgraderCourse(root)) == []
    path.write_text("lesson = ", encoding="utf-8")
    before = sorted((root / "source" / LESSON).iterdir())
    with pytest.raises(RubricError, match="not readable as TOML"):
        released_rubrics.release(root)
    assert sorted((root / "source" / LESSON).iterdir()) == before


def test_a_rubric_for_a_lesson_of_the_instructors_own_is_handed_out(root):
    """A lesson that the course does not have goes out with its rubric, and works at the learner's."""
    mine = "l55_mine"
    shutil.copytree(root / "source" / LESSON, root / "source" / mine)
    (root / "source" / mine / f"{LESSON}.ipynb").rename(root / "source" / mine / f"{mine}.ipynb")
    NbgraderCourse(root).release(mine)
    (root / "rubrics").mkdir()
    text = (FOLDER / f"{LESSON}.toml").read_text(encoding="utf-8").replace(f'lesson = "{LESSON}"', f'lesson = "{mine}"')
    (root / "rubrics" / f"{mine}.toml").write_text(text, encoding="utf-8")
    assert mine in " ".join(released_rubrics.drifted(NbgraderCourse(root)))
    assert len(released_rubrics.release(root)) == 1
    assert rubric_for(mine, root / "release" / mine).lesson == mine


@pytest.mark.parametrize(
    "content",
    [b"", b"PK\x03\x04", packed(b"x")[:-3], packed(b"lesson = "), packed(b"\xff"), packed(b" " * (LONGEST_BYTES + 1))],
)
def test_a_damaged_rubric_is_said_and_not_passed_over(tmp_path, content):
    """A torn, foreign or endless file is one sentence; the course's own rubric does not quietly take its place."""
    (tmp_path / f"{LESSON}.rubric").write_bytes(content)
    with pytest.raises(TimingCourseError, match=rf"{LESSON}\.rubric"):
        rubric_for(LESSON, tmp_path)


def test_what_a_learner_hands_in_is_never_the_rubric_of_the_class(root):
    """A rubric in the hand-in, packed or plain, changes nothing: the class run looks in the class's folder alone."""
    _, usual = graded(root)
    folder = root / "submitted" / "ada" / LESSON
    text = (FOLDER / f"{LESSON}.toml").read_bytes().replace(b"value = 3", b"value = 5")
    (folder / f"{LESSON}.rubric").write_bytes(packed(text))
    (folder / f"{LESSON}.toml").write_bytes(text)
    assert rubric_path(LESSON, folder).parent == folder
    assert graded(root, again=True)[1] == usual
