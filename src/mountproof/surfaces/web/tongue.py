"""The boundary between the program's own words and the language a person reads."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from mountproof.said import languages, render

System = Literal["iso3950", "universal"]
#: Says a text of the program in the language that somebody asked for.
Speak = Callable[[str], str]
LANGUAGES: tuple[str, ...] = languages()


def words(text: str, language: str, numbering: System = "iso3950") -> str:
    """Return a text of the program in a language, teeth in the numbering of the case; a user's own words stay."""
    return render(text, language, numbering=numbering)


def speaker(language: str, numbering: System = "iso3950") -> Speak:
    """Return what says one text after the other as ``words`` does."""
    return lambda text: words(text, language, numbering)
