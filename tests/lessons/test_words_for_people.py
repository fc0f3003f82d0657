"""What a learner reads has words for people: no name of a file of ours, no word of the machinery, no number of a lesson
as the code has it."""

from __future__ import annotations

import ast
import json
import re
import tomllib
from pathlib import Path

import pytest

from course import AUTHORING, SOURCE
from course.authoring.glossary_links import INSTRUCTOR_TAG
from course.widgets.shared.front_end import WIDGETS
from engine_sim import EvidenceError, read_evidence
from graders.exercises.loader import FOLDER as RUBRICS
from graders.submissions.folder import EVIDENCE_NAME, for_learners

COURSE = WIDGETS.parent
GRADERS = RUBRICS.parent
MACHINERY = re.compile(
    r"\b(kernels?|evidence|jsonl?|bytes?|utf-8|traits?|traceback|stdin|stdout|widgets?|nbgrader|digest|l(?:0\d|10))\b",
    re.IGNORECASE,
)
MENU = "Open the menu Kernel, choose Restart Kernel and Run All Cells"  # as JupyterLab's own menu has it
JS_TEXT = re.compile(r'"((?:[^"\\\n]|\\.)*)"|`((?:[^`\\]|\\.)*)`')
SENTENCE = re.compile(r"[A-Za-z,;]+ [A-Za-z]+ [a-z]+")  # three words and more: not a name, a class or a selector
LEARNERS_CODE = [
    *(COURSE / "widgets").rglob("*.py"),
    *(COURSE / "learner").glob("*.py"),
    *(COURSE / "jupyter" / "plain_page").glob("*.py"),
    *(GRADERS / "exercises" / "kinds").glob("*.py"),
]
TOLD_TO_AUTHORS = ("need", "RubricError", "NoForm", "need_known", "need_different", "need_sentences")


def faults_in(text: str) -> list[str]:
    """The words of the machinery in what is read."""
    return MACHINERY.findall(re.sub(r"<[^>]*>", " ", text.replace(MENU, "")))


def sentences_of(tree: ast.AST) -> list[str]:
    """The sentences among the texts of a module that are no docstring and are not told to the authors of a rubric."""
    left_out = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in TOLD_TO_AUTHORS:
            left_out |= {id(within) for within in ast.walk(node)}
    texts = [node.value for node in ast.walk(tree) if isinstance(node, ast.Constant) and id(node) not in left_out]
    return [text for text in texts if isinstance(text, str) and SENTENCE.search(text)]


def texts_in(value) -> list[str]:
    """Every text in a table of a rubric."""
    if isinstance(value, str):
        return [value] if SENTENCE.search(value) else []
    within = value.values() if isinstance(value, dict) else value if isinstance(value, list) else []
    return [text for one in within for text in texts_in(one)]


@pytest.mark.parametrize("path", LEARNERS_CODE, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_no_sentence_of_the_program_speaks_of_machinery(path):
    """What forms, bench and pages say."""
    said = sentences_of(ast.parse(path.read_text(encoding="utf-8")))
    assert {text: faults_in(text) for text in said if faults_in(text)} == {}


@pytest.mark.parametrize("path", sorted(WIDGETS.rglob("*.js")), ids=lambda path: path.name)
def test_no_sentence_of_a_page_speaks_of_machinery(path):
    """What the front end says by itself."""
    said = [one or other for one, other in JS_TEXT.findall(path.read_text(encoding="utf-8"))]
    said = [text for text in said if SENTENCE.search(text) and "${" not in text.split(" ")[0]]
    assert {text: faults_in(text) for text in said if faults_in(text)} == {}


def test_no_page_around_the_lessons_speaks_of_machinery():
    """The text of the templates, without their tags and what they fill in."""
    for path in (COURSE / "jupyter" / "plain_page" / "templates" / "plain").glob("*.j2"):
        if path.name == "index.html.j2":
            continue  # Voila's own page of a lesson, with its script
        text = re.sub(
            r"\{[{%#].*?[}%#]\}|<script.*?</script>|<[^>]*>", " ", path.read_text(encoding="utf-8"), flags=re.S
        )
        assert faults_in(text) == [], path.name


@pytest.mark.parametrize("path", sorted(RUBRICS.glob("*.toml")), ids=lambda path: path.stem)
def test_no_question_and_no_feedback_speaks_of_machinery(path):
    """What a rubric asks and says."""
    said = texts_in(tomllib.loads(path.read_text(encoding="utf-8")))
    assert {text: faults_in(text) for text in said if faults_in(text)} == {}


@pytest.mark.parametrize("lesson", sorted(path.parent for path in SOURCE.glob("*/*.ipynb")), ids=lambda one: one.name)
def test_no_lesson_speaks_of_machinery(lesson: Path):
    """The text of a lesson that learners are given, without its code."""
    cells = json.loads((lesson / f"{lesson.name}.ipynb").read_text(encoding="utf-8"))["cells"]
    for cell in cells:
        if cell["cell_type"] == "markdown" and INSTRUCTOR_TAG not in cell["metadata"].get("tags", []):
            text = re.sub(r"\{\{.*?\}\}|`[^`]*`|\]\([^)]*\)", " ", "".join(cell["source"]))
            assert faults_in(text) == [], text[:80]


def test_neither_glossary_nor_card_speaks_of_machinery():
    """What is read beside the lessons."""
    table = tomllib.loads((AUTHORING / "glossary.toml").read_text(encoding="utf-8"))
    assert [text for text in texts_in(table) if faults_in(text)] == []


@pytest.mark.parametrize(
    "broken",
    [
        b"",
        b"no line",
        b"\xff\xfe\n",
        b"[1]\n",
        b'{"schema": 1}\n',
        b'{"schema": 99, "digest": ""}\n',
        b'{"a": 1, "digest": "0"}\n',
    ],
)
def test_a_broken_record_is_told_in_words_for_people(tmp_path, broken):
    """Whatever is wrong with it, the lesson says what happened to the record and what to do."""
    (tmp_path / EVIDENCE_NAME).write_bytes(broken)
    with pytest.raises(EvidenceError) as error:
        read_evidence(tmp_path / EVIDENCE_NAME)
    said = for_learners(str(error.value))
    assert faults_in(said) == [] and said.startswith("The record of your work")


def test_the_words_are_found_where_they_stand():
    """The search itself: a sentence with such a word is found, the menu's own words are not."""
    assert faults_in("Restart the kernel; evidence.jsonl has 12 bytes, as in l04.") == [
        "kernel", "evidence", "jsonl", "bytes", "l04",
    ]  # fmt: skip
    assert faults_in(f"{MENU}; what you did is kept.") == []
    told = sentences_of(
        ast.parse('"""A kernel of three words."""\nneed(1, "the kernel is wanted here")\nsay("a b c d")')
    )
    assert told == ["a b c d"]
