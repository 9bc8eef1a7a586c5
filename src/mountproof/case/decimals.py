"""One number as people at a bench write it: with a decimal point or a decimal comma."""

from __future__ import annotations

import math
import re

from mountproof.case.unreadable import Unreadable
from mountproof.said import say

_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_WITH_UNIT = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*[^\d\s.,+-]\S*", re.ASCII)
#: Three digits after a comma could as well be thousands.
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}", re.ASCII)
_LONGEST = 40


def decimal(text: str) -> float:
    """Read one number with a decimal point or a decimal comma; a comma is always a decimal comma here.

    Raises ``Unreadable``, saying what to do, for more than one separator and for anything that is not one number.
    """
    text = text.strip().replace("−", "-")
    if len(text) > _LONGEST or not _NUMBER.fullmatch(text):
        shown = text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."
        if (
            len(text) <= _LONGEST
            and re.fullmatch(r"[\d.,+-]+", text)
            and text.count(",") + text.count(".") > 1
        ):
            raise Unreadable(
                say("{text!r} has more than one separator", text=shown),
                say("write 1234.5 or 1234,5, no thousands separator"),
            )
        unit = _WITH_UNIT.fullmatch(text[:_LONGEST])
        if unit:
            raise Unreadable(
                say("{text!r} carries a unit", text=shown), say("write only {number}", number=unit.group(1))
            )
        raise Unreadable(say("{text!r} is not a number", text=shown), say("write 38.05 or 38,05"))
    value = float(text.replace(",", "."))
    if not math.isfinite(value):
        raise Unreadable(say("{text!r} is not a finite number", text=text))
    return value


def number(text: str) -> float:
    """Read one number with a decimal point or a decimal comma, refusing what could be thousands (``1,250``).

    Raises ``Unreadable``, saying what to do.
    """
    stripped = text.strip().replace("−", "-")
    if _THOUSANDS.fullmatch(stripped):
        point, plain = stripped.replace(",", "."), stripped.replace(",", "")
        raise Unreadable(
            say("{text!r} can be read two ways", text=stripped),
            say("write {point} or {plain}, without quotation marks", point=point, plain=plain),
        )
    return decimal(text)
