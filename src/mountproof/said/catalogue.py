"""The files of a language: what it calls each text, and how it writes numbers, names, days and times.

A language is a folder beside this file. Its ``language.toml`` holds the signs; every other file holds pairs, ``en`` as
the program says it and ``de`` (the folder's name) as this language does. An empty one is said in English.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

#: Where the folders of the languages are.
HERE = Path(__file__).parent
#: The language in which the program's texts are written.
ENGLISH = "en"


@dataclass(frozen=True, slots=True)
class Language:
    """One language: its texts by the English template, and its signs."""

    key: str
    name: str
    texts: Mapping[str, str] = field(repr=False)
    decimal: str = "."
    minus: str = "-"
    percent: str = "%"
    quotes: tuple[str, str] = ("'", "'")
    day: str = "%Y-%m-%d"
    time: str = "%H:%M"
    moment: str = "%Y-%m-%d %H:%M"


@cache
def languages() -> tuple[str, ...]:
    """Return the languages that texts can be said in, English first."""
    return (ENGLISH, *sorted(file.parent.name for file in HERE.glob("*/language.toml")))


@cache
def language(key: str) -> Language:
    """Return one language; KeyError for one that there are no files of."""
    if key == ENGLISH:
        return Language(ENGLISH, "English", {})
    if key not in languages():
        raise KeyError(f"{key!r}; texts are there in {', '.join(languages())}")
    signs = tomllib.loads((HERE / key / "language.toml").read_text(encoding="utf-8"))
    first, last = signs.pop("quotes")
    return Language(key, texts=_texts(key), quotes=(first, last), **signs)


def _texts(key: str) -> dict[str, str]:
    found = {}
    for file in sorted((HERE / key).glob("*.toml")):
        for pair in pairs(file):
            if pair.get(key):
                found[pair["en"]] = pair[key]
    return found


def pairs(file: Path) -> list[dict[str, str]]:
    """Return the pairs of one file, in its order."""
    said: list[dict[str, str]] = tomllib.loads(file.read_text(encoding="utf-8")).get("say", [])
    return said
