"""The rows of many cases out of the store, those that cannot be read named and left out."""

from __future__ import annotations

from collections.abc import MutableMapping
from typing import NamedTuple

from mountproof.answers.case_numbers import CaseNumbers, case_numbers
from mountproof.answers.progress import Progress, within
from mountproof.case.files import parse_case
from mountproof.case.store import Store
from mountproof.case.store.texts import plain_text
from mountproof.case.text_file import CASE_FILE
from mountproof.faults import FaultError
from mountproof.said import say


class Rows(NamedTuple):
    """The rows of all cases, and the codes of cases that could not be read, each with why."""

    rows: tuple[CaseNumbers, ...]
    left_out: tuple[tuple[str, str], ...]


#: Rows that are known already, by case and revision; in place of a row, why there is none.
Known = MutableMapping[str, CaseNumbers | str]


def rows_of_store(store: Store, progress: Progress, known: Known | None = None) -> Rows:
    """Return one row for every case of the store, from its newest revision; no scan is opened.

    What is ``known`` is not worked out again, and what was not is added to it. Cancelled where ``progress`` raises it.
    """
    kept: Known = {} if known is None else known
    rows, left_out = [], []
    with store.snapshot() as seen:
        whole = seen.count()
        for done, one in enumerate(seen.every_case()):
            key = f"{one.uid} {one.number}"
            found = kept.get(key)
            if found is None:
                part = within(progress, done / whole, 1.0 / whole)
                part(0.0, say("reading {code}", code=one.code))
                try:
                    text = plain_text(seen.head(one.case_id).text)
                    found = case_numbers(parse_case(text, CASE_FILE, None), part)
                except FaultError as error:
                    found = error.faults[0].what
                kept[key] = found
            if isinstance(found, str):
                left_out.append((one.code, found))
            else:
                rows.append(found)
    return Rows(tuple(rows), tuple(left_out))
