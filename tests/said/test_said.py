"""A text is an English str to everybody, and other languages can still say it again."""

from __future__ import annotations

import copy
import datetime as dt
import json
import pickle
import string
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.said import (
    Said,
    capital,
    cut,
    figure,
    in_numbering,
    joined,
    numbered,
    quoted,
    render,
    rendered,
    say,
    term,
)
from mountproof.said.catalogue import Language
from mountproof.said.render import _said

names = st.text(string.ascii_lowercase, min_size=1, max_size=6).filter(str.isidentifier)
numbers = st.one_of(st.integers(-(10**9), 10**9), st.floats(allow_nan=False, allow_infinity=False, width=32))
plain = st.text(max_size=12)

#: A language that turns every template round and marks it, to see which words came through the files.
BACKWARDS = Language("xx", "Backwards", {}, decimal=",", minus="−", percent=" %", quotes=("»", "«"))


def spoken(text: str, texts: dict[str, str]) -> str:
    return _said(text, replace(BACKWARDS, texts=texts), "iso3950")


@given(
    st.lists(st.tuples(names, st.one_of(numbers, plain)), max_size=4, unique_by=lambda pair: pair[0]), plain
)
def test_the_text_is_what_format_gives(values: list[tuple[str, Any]], around: str) -> None:
    template = around.replace("{", "{{").replace("}", "}}") + "".join(f" {{{name}}}" for name, _ in values)
    made = say(template, **dict(values))
    assert made == template.format(**dict(values))
    assert hash(made) == hash(str(made))
    assert render(made) == made
    assert type(render(made, "de")) is str


@given(st.floats(-1e6, 1e6), st.integers(0, 6), st.sampled_from(["", "+"]))
def test_numbers_take_the_sign_of_the_language(value: float, decimals: int, sign: str) -> None:
    made = say("{value:{sign}.{decimals}f} mm", value=value, decimals=decimals, sign=sign)
    assert made == f"{value:{sign}.{decimals}f} mm"
    german = render(made, "de")
    assert "." not in german
    assert "-" not in german
    assert german.replace(",", ".").replace("−", "-") == made
    assert render(figure(value), "de").replace(",", ".").replace("−", "-") == format(value, ".12g")


def test_values_keep_their_own_texts() -> None:
    inner = say("{n} of {all} teeth", n=3, all=8)
    outer = say(
        "{share:.1%}: {inner}; {who!r}, {word}, {bare}",
        share=0.125,
        inner=inner,
        who="J.K",
        word=Word.FREE,
        bare="A.1",
    )
    assert outer == "12.5%: 3 of 8 teeth; 'J.K', free, A.1"
    texts = {
        "{n} of {all} teeth": "von {all} Zähnen {n}",
        "{share}: {inner}; {who}, {word}, {bare}": "{bare}/{word}/{who}/{inner}/{share}",
        "free": "frei",
    }
    assert spoken(outer, texts) == "A.1/frei/»J.K«/von 8 Zähnen 3/12,5 %"


class Word(StrEnum):
    FREE = "free"


def test_a_misused_template_is_refused() -> None:
    with pytest.raises(TypeError, match="places"):
        say("{a}")
    with pytest.raises(TypeError, match="places"):
        say("a", a=1)
    with pytest.raises(TypeError, match="a place is a name"):
        say("{a.b}", a="x")


def test_nothing_is_lost_by_copies_joins_and_cuts() -> None:
    made = say("{n:.1f} mm", n=1.5)
    for copied in (copy.copy(made), copy.deepcopy(made), pickle.loads(pickle.dumps(made))):
        assert copied == made
        assert render(copied, "de") == "1,5 mm"
    with pytest.raises(AttributeError):
        setattr(made, "form", None)  # noqa: B010
    assert json.dumps({"a": made}) == '{"a": "1.5 mm"}'
    assert render("at " + made + ", " + made, "de") == "at 1,5 mm, 1,5 mm"
    assert type(str(made)) is str
    assert render(joined(say("; "), (made, 2.5, "2.5")), "de") == "1,5 mm; 2,5; 2.5"
    assert render(capital(made), "de") == "1,5 mm"
    assert spoken(capital(say("the pin")), {"the pin": "der Stift"}) == "Der Stift"
    assert cut(made, 10) is made
    assert render(cut(made, 5), "de") == "1,..."
    assert cut("a\nb", 5) == "a?b"


def test_what_the_user_wrote_stays_as_it_is() -> None:
    assert render("12.5 free", "de") == "12.5 free"
    assert render(say("{note}", note="12.5 {a}"), "de") == "12.5 {a}"
    assert render(quoted("a.b"), "de") == "„a.b“"
    assert quoted("a'b") == repr("a'b")
    assert term("a {b}") == "a {b}"
    assert render(term("a {b}"), "de") == "a {b}"


def test_days_and_times() -> None:
    at = dt.datetime(2026, 3, 2, 9, 5, tzinfo=dt.UTC)
    made = say("{at}; {day}; {time}", at=at, day=at.date(), time=at.time())
    assert made == "2026-03-02 09:05+00:00; 2026-03-02; 09:05"
    assert render(made, "de") == "02.03.2026, 09:05; 02.03.2026; 09:05"


def test_teeth_by_the_numbering_of_the_case() -> None:
    made = say("at {teeth}", teeth=joined(", ", (numbered("16", "3"), numbered("55", ""))))
    assert made == "at 16, 55"
    assert render(made, "de", numbering="universal") == "at 3, 55"
    fixed = in_numbering(made, "universal")
    assert fixed == "at 3, 55"
    assert render(fixed, "de", numbering="iso3950") == "at 3, 55"
    assert in_numbering(capital(made), "universal") == "At 3, 55"


@dataclass(frozen=True)
class Page:
    title: str
    rows: tuple[tuple[str, ...], ...]
    more: dict[str, list[str]]
    plain: float = 1.5


class Row(NamedTuple):
    text: str
    n: int


def test_whole_values_are_rendered() -> None:
    page = Page(figure(1.5), (("1.5", figure(2.5)),), {"a": [figure(3.5)]})
    assert rendered(page, "de") == Page("1,5", (("1.5", "2,5"),), {"a": ["3,5"]})
    assert rendered(Row(figure(1.5), 2), "de") == Row("1,5", 2)
    same = Page("1.5", (), {})
    assert rendered((1, "a"), "de") == (1, "a")
    assert rendered(same, "de") == same


def test_a_language_without_files_is_named() -> None:
    with pytest.raises(KeyError, match="en, de"):
        render(say("a"), "fr")


def test_a_text_that_is_not_translated_is_said_in_english() -> None:
    assert render(say("no such text in any file: {x:.1f}", x=0.5), "de") == "no such text in any file: 0,5"
    assert isinstance(say("a"), Said)
