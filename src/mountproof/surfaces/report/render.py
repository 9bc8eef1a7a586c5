"""From a sheet to the bytes of a PDF. The same sheet and case give the same bytes, on any day."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import NamedTuple

from mountproof.answers.result import Sheet
from mountproof.case.model import Case
from mountproof.case.tooth_numbers import system_of
from mountproof.said import rendered
from mountproof.said.catalogue import ENGLISH
from mountproof.surfaces.report.content import content
from mountproof.surfaces.report.pictures import pictures
from mountproof.surfaces.report.typeset import typeset


class _Try(NamedTuple):
    """One way to set the page: inputs on the back, answers set close, height of a picture in mm, in few words.

    Where the front ``flows`` on, what has no room there stands above the inputs on the back.
    """

    back: bool
    close: bool
    picture_mm: float
    terse: bool = False
    flows: bool = False


#: What is tried until the page holds, the most readable first and the tightest last: all on one side, then inputs on the back,
#: then whatever has no room on the front above them.
_ONE_SIDE = (
    _Try(False, False, 52.0),
    _Try(False, True, 50.0),
    _Try(False, True, 44.0),
    _Try(False, True, 39.0),
    _Try(False, True, 33.0),
    _Try(False, True, 39.0, True),
    _Try(False, True, 33.0, True),
)
_BOTH_SIDES = (
    _Try(True, False, 52.0),
    _Try(True, True, 41.0),
    _Try(True, True, 41.0, True),
    _Try(True, True, 33.0, True),
)
_FLOWING = (
    _Try(False, False, 52.0, flows=True),
    _Try(False, True, 44.0, flows=True),
    _Try(False, True, 33.0, True, flows=True),
)
#: For a case that no such page holds: it flows on.
_LONG = _Try(True, False, 52.0)
_PAGES = re.compile(rb"/Type/Pages/Count (\d+)")


def render_pdf(sheet: Sheet, case: Case, *, version: str, language: str = ENGLISH) -> bytes:
    """Return the sheet as a tagged PDF (PDF/UA-1, PDF/A-2a).

    ``language`` is that of the page; what a person wrote stays as written. KeyError where there are no files of it.
    ``sheet`` holds the answers, ``case`` what was entered, ``version`` is printed in the foot. Everything goes
    on one A4 page where it fits in readable type; where it does not, the inputs go to the back. Pure: no
    clock, no files but our own template and typeface. Text of the case is passed as data, never as markup.
    """
    spoken = rendered(sheet, language, numbering=system_of(case))
    for tries in (_ONE_SIDE, _BOTH_SIDES, _FLOWING):
        found = _most_readable(tries, lambda way: _set(spoken, case, version, way, language))
        if found is not None:
            return found
    return _set(spoken, case, version, _LONG, language)


def _most_readable(tries: Sequence[_Try], made: Callable[[_Try], bytes]) -> bytes | None:
    """Return the first try that holds. The tightest is set second: where it does not hold, none of them does."""

    def holding(way: _Try) -> bytes | None:
        pdf = made(way)
        return pdf if page_count(pdf) == 1 + (way.back or way.flows) else None

    loosest = holding(tries[0])
    if loosest is not None:
        return loosest
    tightest = holding(tries[-1])
    if tightest is None:
        return None
    return next((pdf for way in tries[1:-1] if (pdf := holding(way)) is not None), tightest)


def _set(sheet: Sheet, case: Case, version: str, way: _Try, language: str) -> bytes:
    drawn, files = pictures(sheet, case, way.picture_mm)
    data = content(
        sheet, case, version=version, back=way.back, dense=way.close, terse=way.terse, language=language
    )
    data["pictures"] = drawn
    data = rendered(data, language)
    return typeset("sheet.typ", data, files)


def page_count(pdf: bytes) -> int:
    """Return how many pages a PDF made here has."""
    match = _PAGES.search(pdf)
    if match is None:
        raise ValueError("this is no PDF made here")
    return int(match.group(1))
