"""The files for people from outside: how to cite, what to report and where, what is checked before a commit."""

from __future__ import annotations

import re

import pytest
import yaml

from engine_sim.version import COURSE_VERSION

from .sources import ROOT

COMMUNITY = ROOT / ".github"
FORMS = sorted((COMMUNITY / "ISSUE_TEMPLATE").glob("*.yml"))


def read(path):
    """What a YAML file holds."""
    return yaml.safe_load(path.read_text(encoding="utf-8"))


def test_the_citation_names_this_edition():
    """Version and licence are those of the course, and nobody is named."""
    citation = read(COMMUNITY / "CITATION.cff")
    assert citation["version"] == COURSE_VERSION and citation["license"] == "BSD-3-Clause"
    assert (
        citation["cff-version"] and citation["title"] and [set(author) for author in citation["authors"]] == [{"name"}]
    )


@pytest.mark.parametrize("path", FORMS, ids=lambda path: path.stem)
def test_every_form_can_be_filled_in(path):
    """Each question has an id of its own and a label; a choice has its options."""
    form = read(path)
    assert form["name"] and form["description"]
    ids = [part["id"] for part in form["body"]]
    assert len(ids) == len(set(ids)) and all(part["attributes"]["label"] for part in form["body"])
    assert all(part["attributes"]["options"] for part in form["body"] if part["type"] == "dropdown")


def test_texts_name_forms_that_exist():
    """A form that a text sends people to is there, by its name; and README leads to the texts."""
    names = {read(path)["name"] for path in FORMS}
    for path in COMMUNITY.glob("*.md"):
        text = re.sub(r"\s+", " ", path.read_text(encoding="utf-8"))
        assert set(re.findall(r"form \*([^*]+)\*", text)) <= names, path.name
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for name in ("CONTRIBUTING.md", "ACCESSIBILITY.md", "CITATION.cff"):
        assert f".github/{name}" in readme and (COMMUNITY / name).is_file()


def test_the_checks_before_a_commit_run_what_is_here():
    """Every hook is a program of this environment; none is fetched from elsewhere."""
    hooks = read(ROOT / ".pre-commit-config.yaml")["repos"]
    assert [place["repo"] for place in hooks] == ["local"]
    for hook in hooks[0]["hooks"]:
        assert hook["language"] == "system" and hook["entry"].split()[0] in ("ruff", "python", "env")
        assert all((ROOT / word).is_file() for word in hook["entry"].split() if word.endswith(".py"))
