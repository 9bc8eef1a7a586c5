"""What the program notes of a change is read again in any language; what a person wrote stays."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.case.base import Arch
from mountproof.case.store import why
from mountproof.said import render

MADE = [
    why.IMPORTED,
    why.CHANGED,
    why.undone(3),
    why.brought_in("my case.toml"),
    why.scan_of(Arch.UPPER),
    why.teeth_of(Arch.LOWER),
    why.instrument("no. 2", dt.date(2026, 3, 2)),
]


@pytest.mark.parametrize("text", MADE, ids=MADE)
def test_what_was_kept_is_known_again(text: str) -> None:
    kept = str(text)
    assert type(kept) is str
    again = why.recalled(kept)
    assert again == kept
    assert render(again, "de") == render(text, "de") != kept


def test_german() -> None:
    assert render(why.recalled("scan of the upper cast"), "de") == "Scan des Oberkiefermodells"
    assert render(why.recalled("undo of revision 12"), "de") == "Revision 12 zurückgenommen"


@given(st.text(max_size=30))
def test_a_persons_own_words_stay(text: str) -> None:
    words = f"~ {text}"
    assert render(why.recalled(words), "de") == words
