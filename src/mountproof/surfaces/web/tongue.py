"""The boundary between the program's own words and the language a person reads."""

from __future__ import annotations

from typing import Literal

from mountproof.said import languages, render

System = Literal["iso3950", "universal"]
LANGUAGES: tuple[str, ...] = languages()


def words(text: str, language: str, numbering: System = "iso3950") -> str:
    """Return a text of the program in a language, teeth in the numbering of the case; a user's own words stay."""
    return render(text, language, numbering=numbering)
