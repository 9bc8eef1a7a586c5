"""How plain a text reads: sentences, words and syllables counted, and two published indices.

English: reading ease, Flesch, J Appl Psychol 1948;32:221-233, and grade, Kincaid et al., Naval Technical Training Command
Research Branch Report 8-75, 1975. German: Flesch's index as fitted by Amstad, Wie verstaendlich sind unsere Zeitungen?,
Zurich 1978. Constants and citations from memory. Syllables are counted by groups of vowels, our own rule; a count that errs
up makes a text look harder.
"""

from __future__ import annotations

import re
from typing import NamedTuple

_WORD = re.compile(r"[A-Za-zÄÖÜäöüß]+")
_GROUP = {"en": re.compile(r"[aeiouy]+"), "de": re.compile(r"aa|ai|au|ee|ei|eu|ie|oo|äu|[aeiouyäöü]")}


class Counts(NamedTuple):
    """How many sentences, words and syllables a text has."""

    sentences: int
    words: int
    syllables: int


def syllables(word: str, language: str) -> int:
    """Return the syllables of one word: its groups of vowels; in English a silent e at the end is none."""
    low = word.lower()
    if language == "en":
        low = re.sub(r"(?<=[^aeiouyl])e$|(?<=[^aeiouytd])ed$|(?<=[aeiouy]l)e$", "", low)
    return max(1, len(_GROUP[language].findall(low)))


def counts(lines: list[str], language: str) -> Counts:
    """Count a text; a sentence ends at a full stop, colon or semicolon before a space, or with its line."""
    sentences = [s for line in lines for s in re.split(r"[.:;?!](?:\s|$)", line) if _WORD.search(s)]
    words = [w for s in sentences for w in _WORD.findall(s)]
    return Counts(len(sentences), len(words), sum(syllables(w, language) for w in words))


def ease(c: Counts, language: str) -> float:
    """Return the reading ease, 0 (hard) to 100: Flesch 1948, in German with the constants of Amstad 1978."""
    a, b = c.words / c.sentences, c.syllables / c.words
    return 206.835 - 1.015 * a - 84.6 * b if language == "en" else 180.0 - a - 58.5 * b


def grade(c: Counts) -> float:
    """Return the school grade in English (Kincaid et al. 1975)."""
    return 0.39 * c.words / c.sentences + 11.8 * c.syllables / c.words - 15.59
