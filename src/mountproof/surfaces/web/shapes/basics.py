"""Faults and conflicts, needs, moments: the small shapes that stand in many others."""

from __future__ import annotations

import math
import re

from mountproof.answers.result import Need
from mountproof.faults import Fault
from mountproof.surfaces.web.tongue import System, words
from mountproof.surfaces.web.wire import FaultOut, NeedOut


def fault_out(fault: Fault, language: str, numbering: System = "iso3950") -> FaultOut:
    """Return a fault in the language asked for. Where a file stands on this computer is nobody else's business."""
    return FaultOut(
        code=fault.code,
        what=words(fault.what, language, numbering),
        todo=words(fault.todo, language, numbering),
        where=words(fault.where, language, numbering).replace("\\", "/").rsplit("/", 1)[-1],
        line=fault.line,
        field=fault.field,
        got=words(fault.got, language, numbering),
        allowed=words(fault.allowed, language, numbering),
    )


def need_out(question: str, need: Need, language: str, numbering: System) -> NeedOut:
    """Return a need of one question."""
    return NeedOut(
        question=question,
        reading=words(need.reading, language, numbering),
        why=words(need.why, language, numbering),
        field=need.field,
    )


_WHOLE = re.compile(r"(-?[0-9]+)\.0")


def entry_text(text: str | None) -> str | None:
    """Return the text of an entry as a person would type it: ``116`` for what the store writes as 116.0."""
    whole = None if text is None else _WHOLE.fullmatch(text)
    return whole.group(1) if whole else text


def finite(value: float | None) -> float | None:
    """Return a number as JSON can carry it: None for one that is not finite."""
    return value if value is not None and math.isfinite(value) else None
