"""A text that was kept as plain English, known again as the text that it was."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from mountproof.said.forms import Template
from mountproof.said.text import Said, term


def recalled(text: str, templates: Iterable[str], words: Iterable[str] = ()) -> str:
    """Return ``text`` as made from the first bare template that it fits, its values as plain texts.

    A value that is one of ``words`` is a word of the program, not of the user. A text that fits no template stays as it is.
    """
    for template in templates:
        found = _pattern(template).fullmatch(text)
        if found:
            values = found.groupdict()
            said = {name: term(value) if value in words else value for name, value in values.items()}
            return Said(text, Template(template, tuple(said.items())))
    return text


@lru_cache(maxsize=64)
def _pattern(template: str) -> re.Pattern[str]:
    parts = re.split(r"\{(\w+)\}", template)
    return re.compile(
        "".join(f"(?P<{part}>.+)" if i % 2 else re.escape(part) for i, part in enumerate(parts))
    )
