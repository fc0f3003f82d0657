"""How many years of school a text asks for, by the measure of Flesch and Kincaid (1975); the formula from memory."""

from __future__ import annotations

import re

PER_WORDS_IN_SENTENCE, PER_SYLLABLES_IN_WORD, OFFSET = 0.39, 11.8, 15.59
_NOT_PROSE = re.compile(r"^\s*(?:\||#|```)")


def prose_of(markdown: str) -> str:
    """The sentences of a lesson: without tables and headings, marks of Markdown, keys and numbers' units."""
    lines = [line for line in markdown.splitlines() if not _NOT_PROSE.match(line)]
    text = re.sub(r"\{\{[^{}]*\}\}", "about twenty", "\n".join(lines))
    text = re.sub(r"^\s*(?:[-*>]|\d+\.)\s+", "", text, flags=re.MULTILINE)
    return re.sub(r"[*_`>]", "", text)


def syllables(word: str) -> int:
    """Syllables of an English word: groups of vowels, without a silent e at the end; at least one."""
    word = word.lower()
    groups = len(re.findall(r"[aeiouy]+", word))
    silent = word.endswith("e") and not word.endswith(("le", "ee")) and groups > 1
    return max(groups - silent, 1)


def grade_level(text: str) -> float:
    """Years of school. A line that ends a paragraph or an item ends a sentence, too."""
    sentences = [part for part in re.split(r"[.!?]+\s|\n\s*\n|\n", text) if re.search(r"[a-zA-Z]{2}", part)]
    words = re.findall(r"[a-zA-Z]+(?:'[a-z]+)?", text)
    if not sentences or not words:
        raise ValueError("A text with words in sentences was wanted.")
    per_word = sum(map(syllables, words)) / len(words)
    return PER_WORDS_IN_SENTENCE * len(words) / len(sentences) + PER_SYLLABLES_IN_WORD * per_word - OFFSET
