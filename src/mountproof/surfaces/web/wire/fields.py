"""What is known of the entries of a case, for the forms that ask for them."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from mountproof.surfaces.web.wire.base import Wire


class FieldOut(Wire):
    """What is known of one kind of entry, for the form that asks for it."""

    path: str = Field(description="name of the entry; * stands for any name or number of an item")
    label: str = Field(description="a short name for the form, in the language asked for")
    what: str = Field(description="what it is for, one sentence")
    unit: str
    kind: Literal[
        "number",
        "measured",
        "text",
        "choice",
        "flag",
        "date",
        "time",
        "moment",
        "tooth",
        "teeth",
        "point",
        "row",
        "list",
        "table",
        "group",
    ]
    choices: list[ChoiceOut]
    low: float | None
    high: float | None
    example: str
    needed: bool
    assumed: str = Field(description="what is assumed where nothing is entered; empty where nothing is")


class ChoiceOut(Wire):
    """One value that an entry can have, and its words."""

    value: str
    words: str
