"""Whether the sentences of a rubric can be said: one for every finding, none for another, every brace filled in.

A slip in a rubric is found when it is read, and never costs a learner anything.
"""

from __future__ import annotations

import string
from collections.abc import Collection, Iterable, Mapping
from difflib import get_close_matches
from types import MappingProxyType

from graders.schema import Criterion, RubricError

SAMPLES = {float: 1.5, int: 3, str: "early"}  # by which a brace is tried: one value of each declared type
NOTHING: Mapping = MappingProxyType({})


def need_declared(
    criterion: Criterion,
    *,
    findings: Collection[str],
    tolerances: Collection[str] = (),
    values: Mapping[str, Mapping[str, type]] = NOTHING,
    retired: Collection[str] = (),
) -> None:
    """Raise RubricError unless a criterion has a sentence for each finding of its check and for no other, a number for
    each tolerance and no other, and in each sentence only braces that its finding fills.

    `values` holds, by finding, the names that fill braces with their types. Names in `retired` may stand there too.
    """
    where, check = f"criteria.{criterion.id}", f"the check '{criterion.check}'"
    sentences = [name for name, sentence in criterion.sentences.items() if sentence.strip() or name not in findings]
    _need_names(sentences, findings, f"{where}.sentences", ("sentence", f"{check} finds"), retired)
    _need_names(criterion.tolerances, tolerances, f"{where}.tolerances", ("number", f"{check} reads"), retired)
    need_fillable({name: criterion.sentences[name] for name in findings}, values, f"{where}.sentences")


def _need_names(
    found: Collection[str], wanted: Collection[str], where: str, words: tuple[str, str], retired: Collection[str]
) -> None:
    """`words` are what stands under each name, and the beginning of a list of all names."""
    what, knows = words
    missing = [name for name in wanted if name not in found]
    strange = [name for name in found if name not in (*wanted, *retired)]
    if strange:
        near = get_close_matches(strange[0], missing, 1)
        take_out = "take it out" + (f", and add a {what} for {_quoted(missing)}" if missing else "")
        raise RubricError(
            f"{where} has '{strange[0]}', and {knows} {_quoted(wanted) or 'none'}: "
            + (f"write '{near[0]}'" if near else take_out)
        )
    if missing:
        raise RubricError(f"{where} has no {what} for {_quoted(missing)}, and {knows} {_quoted(wanted)}: add it")


def need_fillable(sentences: Mapping[str, str], values: Mapping[str, Mapping[str, type]], where: str) -> None:
    """Raise RubricError where a sentence, by its finding, has a brace that `values` does not fill, or not in that
    form. A value is known by its name and type: float, int or str."""
    for finding, sentence in sentences.items():
        _need_filled(sentence, values.get(finding, NOTHING), f"{where}.{_as_key(finding)}")


def _need_filled(sentence: str, values: Mapping[str, type], where: str) -> None:
    try:
        fields = [
            (name, form, turned) for _, name, form, turned in string.Formatter().parse(sentence) if name is not None
        ]
    except ValueError as error:
        raise RubricError(
            f"{where} has a brace without its other half or without a name ({error}): write {{name}} for a value, and "
            "{{ or }} for a brace to show"
        ) from None
    samples = {name: SAMPLES[kind] for name, kind in values.items()}
    for name, form, turned in fields:
        rest = (f"!{turned}" if turned else "") + (f":{form}" if form else "")
        brace = f"{{{name}{rest}}}"
        if name not in values:
            raise RubricError(f"{where} has {brace}, and {_what_is_filled(values)}: {_put_right(name, rest, values)}")
        try:
            brace.format(**samples)
        except (ValueError, LookupError, TypeError, OverflowError) as error:
            plain = f"{{{name}}}" if values[name] is str else f"{{{name}:.0f}}"
            raise RubricError(
                f"{where} has {brace}, whose form does not fit a value such as {samples[name]!r} ({error}): "
                f"write {plain}"
            ) from None


def _what_is_filled(values: Mapping[str, type]) -> str:
    return f"this sentence is given {', '.join(f'{{{name}}}' for name in values)}" if values else "nothing fills it in"


def _put_right(name: str, rest: str, values: Mapping[str, type]) -> str:
    near = get_close_matches(name, values, 1)
    if near:
        return f"write {{{near[0]}{rest}}}"
    return "write one of these or take it out" if values else "take it out"


def _quoted(names: Iterable[str]) -> str:
    return ", ".join(f"'{name}'" for name in names)


def _as_key(finding: str) -> str:
    """A finding as the rubric file spells it."""
    return finding if finding.isidentifier() else f'"{finding}"'
