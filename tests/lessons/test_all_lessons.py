"""What holds for every lesson: it runs, it gives nothing away, its links lead somewhere, and its words are spelled
rightly and can be read."""

from __future__ import annotations

import ast
import json
import re
import shutil
from pathlib import Path

import pytest
from spellchecker import SpellChecker

from course import EDITION, ENGINES, HERE, SOURCE
from course.authoring import glossary_links
from course.authoring.build import with_values
from course.authoring.edition import copy_source, lessons
from engine_sim import EvidenceWriter
from graders.classroom.run import Classroom
from graders.exercises.loader import load_rubric, rubric_path
from graders.judge import judge_lesson
from graders.model_answers.model_learner import faultless_evidence, tried
from graders.nbgrader_bridge.course_config import NbgraderCourse
from tests.graders.instrument import numbers_wanted, sentences_of, tables_in

from .reading import grade_level, prose_of

LESSONS = lessons()
KNOWN_WORDS = Path(__file__).with_name("known_words.txt")
HARDEST_GRADE = 8.0  # of school: Flesch and Kincaid's measure, formula from memory
every_lesson = pytest.mark.parametrize("lesson", LESSONS)


def cells_in(path: Path) -> list[dict]:
    """The cells of a notebook."""
    return json.loads(path.read_text(encoding="utf-8"))["cells"]


def run(folder: Path, monkeypatch) -> list:
    """What every code cell of the notebook in a lesson's folder shows, run from top to bottom as in a kernel."""
    monkeypatch.chdir(folder)
    (folder / "learner.toml").write_text('name = "anna"\n', encoding="utf-8")
    names: dict = {}
    shown = []
    for cell in cells_in(folder / f"{folder.name}.ipynb"):
        if cell["cell_type"] == "code":
            source = "".join(cell["source"])
            *first, last = ast.parse(source).body
            exec(compile(ast.Module(first, []), str(folder), "exec"), names)
            text = ast.get_source_segment(source, last)
            if isinstance(last, ast.Expr):
                shown.append((text, eval(text, names)))
            else:
                exec(text, names)
    return shown


def assert_runs(folder: Path, monkeypatch) -> None:
    """No cell shows why it cannot, and there is a widget and a grade cell, which shows nothing, for every exercise that
    has one."""
    shown = run(folder, monkeypatch)
    parts = [(line, part) for line, found in shown if found for part in getattr(found, "children", [found])]
    assert [(line, part.problem) for line, part in parts if part.problem] == []
    assert all((found is None) == line.startswith("check(") for line, found in shown)
    lines = [line for line, _ in shown]
    for name, exercise in load_rubric(folder.name).exercises.items():
        assert any(f'("{name}")' in line and not line.startswith("check(") for line in lines), name
        assert exercise.kind == "written" or f'check("{name}")' in lines


@every_lesson
def test_the_learners_edition_runs(lesson, editions, monkeypatch):
    """From top to bottom, without one cell that says why it cannot."""
    assert_runs(editions / lesson, monkeypatch)


@every_lesson
def test_the_source_runs(lesson, tmp_path, monkeypatch):
    """So does the instructor's edition, from which it is made."""
    copy_source(lesson, tmp_path)
    assert_runs(tmp_path / lesson, monkeypatch)


def kept_back(lesson: str) -> set[str]:
    """What a learner must not find in the lesson: what is said of every answer, and the instructor's cells."""
    said = set()
    for exercise in load_rubric(lesson).exercises.values():
        said |= {one.sentence for one in tables_in(exercise, "choices", "before")} | set(sentences_of(exercise))
        said |= {mistake.sentence for part in numbers_wanted(exercise) for mistake in part.wrong}
        said |= {level for one in tables_in(exercise, "marking") for level in one.levels}
        said |= {formula for part in numbers_wanted(exercise) if len(formula := part.formula) > 12}
    for cell in cells_in(SOURCE / lesson / f"{lesson}.ipynb"):
        if glossary_links.INSTRUCTOR_TAG in cell["metadata"].get("tags", []):
            said |= {line.strip() for line in cell["source"] if len(line.strip()) > 20}
    return {sentence for sentence in said if len(sentence) > 12}


def without_links(text: str) -> str:
    """A text with the words of its links in their place, so that a link inside a sentence cannot hide it."""
    return re.sub(r"\[([^\]]*)\]\(#[^)]*\)", r"\1", text)


@every_lesson
def test_the_edition_that_learners_get_is_up_to_date(lesson, editions):
    """`python -m course.authoring.build edition` writes what nbgrader makes of the source."""
    name = f"{lesson}/{lesson}.ipynb"
    assert (EDITION / name).read_bytes() == (editions / name).read_bytes()
    assert sorted(path.name for path in EDITION.iterdir()) == sorted(lessons())


@every_lesson
def test_nothing_is_given_away(lesson, editions):
    """The learner's edition holds no sentence, formula, marking table or cell that is kept for judge and instructor,
    and nothing that a trial run left."""
    text = (editions / lesson / f"{lesson}.ipynb").read_text(encoding="utf-8")
    read = without_links(json.dumps(json.loads(text), ensure_ascii=False).replace('\\"', '"'))
    assert kept_back(lesson) and [sentence for sentence in kept_back(lesson) if sentence in read] == []
    assert "widgets" not in json.loads(text)["metadata"]
    left = {path.name for path in (editions / lesson).rglob("*")}
    assert left - {"learner.toml", "evidence.jsonl"} == {f"{lesson}.ipynb"}


def test_a_leak_would_be_noticed():
    """The check of leaks sees the right answer's sentence in a lesson's text."""
    lesson = LESSONS[-1]
    (first, *_) = sorted(kept_back(lesson))
    assert [sentence for sentence in kept_back(lesson) if sentence in f"So: {first} And on."] == [first]


@pytest.mark.classroom
def test_the_guide_stays_with_the_instructor(autumn):
    """A class's release holds no word of the instructor's guide, of the rubrics or of their misconceptions."""
    handed_out = [path for path in (autumn / "release").rglob("*") if path.is_file()]
    guide = (HERE / "instructors.md").read_text(encoding="utf-8")
    letter = load_rubric("l09_answer_the_letter").exercises["l09_answer"]
    of_samples = [line for sample in letter.samples for line in sample.text.splitlines()]
    samples = [line for line in [*guide.splitlines(), *of_samples] if len(line) > 90]
    assert len(of_samples) > 3 and {path.suffix for path in handed_out} <= {".ipynb", ".toml"}
    for path in handed_out:
        text = without_links(path.read_text(encoding="utf-8"))
        assert not [line for line in samples if line in text] and "misconception" not in text.lower()
    assert not list((autumn / "release").rglob("instructors.md"))
    assert not {rubric_path(lesson).name for lesson in LESSONS} & {path.name for path in handed_out}


@pytest.mark.classroom
def test_a_faultless_hand_in_keeps_its_points_through_a_class_run(autumn, tmp_path):
    """What a machine can do without a fault in every lesson, every bench included, has in the gradebook of a real class
    run exactly the points that the judge gives: all but a person's."""
    root = shutil.copytree(autumn, tmp_path / "autumn")
    course = NbgraderCourse(root)
    for lesson in LESSONS:
        folder = root / "submitted" / "ada" / lesson
        shutil.copytree(root / "release" / lesson, folder)
        evidence = faultless_evidence(load_rubric(lesson), "ada", "autumn", ENGINES)
        writer = EvidenceWriter(folder / "evidence.jsonl", evidence.header)
        for event in evidence.events:
            writer.append(event)
    Classroom(root).judge()
    for lesson in LESSONS:
        verdict = judge_lesson(lesson, root / "submitted" / "ada" / lesson / "evidence.jsonl", ENGINES, "ada")
        booked = {grade.name: grade.points for grade in course.grades(lesson, "ada")}
        assert verdict.problem == "" and booked == {one.exercise: one.points for one in verdict.exercises}, lesson
        for exercise in filter(tried, load_rubric(lesson).exercises.values()):
            assert booked[exercise.id] == exercise.points, exercise.id


@every_lesson
def test_the_guide_speaks_of_every_lesson(lesson):
    """The guide has a part for the lesson that says what to say, typical errors and answers."""
    guide = (HERE / "instructors.md").read_text(encoding="utf-8")
    part = guide.split(f"\n### {lesson[:3]}, ")[1].split("\n#")[0]
    assert "Say:" in part and "*Typical:*" in part and "*Answers:*" in part


@pytest.mark.parametrize(
    "page",
    [*(SOURCE / name / f"{name}.ipynb" for name in LESSONS), HERE / "instructors.md"],
    ids=lambda page: page.stem,
)
def test_links_lead_somewhere(page):
    """A link in a lesson or the guide is to a file that is there; nothing is fetched from outside."""
    if page.suffix == ".ipynb":
        text = "\n".join("".join(cell["source"]) for cell in cells_in(page))
    else:
        text = page.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        assert "://" not in target and (page.parent / target.partition("#")[0]).exists(), target
    for lesson in re.findall(r"\b(?:lesson )?(l[01]\d)\b(?!_)", text):
        assert any(name.startswith(lesson) for name in LESSONS) or page.name == "instructors.md", lesson


# ---- language --------------------------------------------------------------------------------------------------------


def words_in(text: str) -> set[str]:
    """Words of a text in small letters, without code, keys and numbers."""
    text = re.sub(r"`[^`]*`|\{[^{}]*\}|\w*_\w*|\S+/\S+", " ", text)
    return {word.strip("'").lower() for word in re.findall(r"[^\W\d_]+(?:['’][^\W\d_]+)*", text)}


def known_words() -> set[str]:
    """Words beyond the dictionary's: those of the glossary, and a list of the trade's and of invented names."""
    listed = {line.split("#")[0].strip().lower() for line in KNOWN_WORDS.read_text(encoding="utf-8").splitlines()}
    in_glossary = " ".join(" ".join((one.term, *one.also, one.meaning, one.unit)) for one in glossary_links.terms())
    return listed | words_in(in_glossary)


def misspelled(text: str) -> list[str]:
    """Words that neither the dictionary of the spellchecker package nor our own lists hold."""
    spelled = {word.removesuffix("'s").replace("’", "'") for word in words_in(text)} - known_words()
    return sorted(SpellChecker().unknown(word for word in spelled if len(word) > 2))


def texts_of_rubric(lesson: str) -> str:
    """Everything that a learner can read in a rubric."""
    texts = []
    for exercise in load_rubric(lesson).exercises.values():
        texts += [exercise.title, exercise.question, *sentences_of(exercise)]
        texts += [text for choice in tables_in(exercise, "choices") for text in (choice.text, choice.sentence)]
        texts += [step.text for step in tables_in(exercise, "steps")]
        texts += [pair.sentence for pair in tables_in(exercise, "before")]
        texts += [said for one in tables_in(exercise, "criteria") for said in (one.title, *one.sentences.values())]
        texts += [wrong.sentence for part in numbers_wanted(exercise) for wrong in part.wrong]
        texts += [level for one in tables_in(exercise, "marking") for level in one.levels]
    return "\n".join(texts)


@every_lesson
def test_words_are_spelled_rightly(lesson):
    """Lesson and rubric hold no word that neither a dictionary nor our lists know."""
    read = with_values(
        "\n".join(
            "".join(cell["source"])
            for cell in cells_in(SOURCE / lesson / f"{lesson}.ipynb")
            if cell["cell_type"] == "markdown"
        )
    )
    assert misspelled(f"{read}\n{texts_of_rubric(lesson)}") == []


def test_the_guide_is_spelled_rightly():
    """So does the instructor's guide."""
    assert misspelled((HERE / "instructors.md").read_text(encoding="utf-8")) == []


def test_a_misspelling_would_be_noticed():
    """The check of spelling sees a word with two letters changed round."""
    assert misspelled("The distribtuor turns.") == ["distribtuor"]


@every_lesson
def test_the_text_can_be_read(lesson, record_property):
    """The reading level of a lesson's prose is measured, reported, and not above eight years of school."""
    grade = grade_level(prose_of(glossary_links.text_of(lesson)))
    record_property("reading_grade", round(grade, 1))
    print(f"{lesson}: reading level {grade:.1f} years of school")
    assert 2.0 < grade <= HARDEST_GRADE


def test_the_measure_of_reading_tells_hard_from_easy():
    """Short words in short sentences read easier than a sentence of an administration."""
    easy = "The dog ran. It was glad. It ran home."
    hard = (
        "Notwithstanding the aforementioned considerations, administrative responsibilities necessitate "
        "comprehensive reorganisation of institutional documentation procedures."
    )
    assert grade_level(easy) < 2.0 and grade_level(hard) > 15.0
