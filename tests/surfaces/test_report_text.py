"""Text fit to print, numbers as they were entered, files whole or not at all."""

from __future__ import annotations

import math
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.answers.result import Quantity
from mountproof.faults import FaultError
from mountproof.surfaces.report import check_writable, write_report
from mountproof.surfaces.report.figures import entry, interval, plain, same_decimals, size
from mountproof.surfaces.report.text import FONTS, clean, covered


@given(st.text(max_size=300))
def test_clean_text_is_shown_in_full_by_our_typeface(text: str) -> None:
    assert set(clean(text)) <= covered() | {"\u200b"}


@given(st.text(alphabet='abcÄßЖω .,-#[]\\"', max_size=200))
def test_text_our_typeface_has_is_kept_word_for_word(text: str) -> None:
    assert clean(text).replace("\u200b", "") == " ".join(text.split())


@given(st.text(alphabet="ab ", max_size=400))
def test_no_run_is_longer_than_a_line_can_take(text: str) -> None:
    for run in clean(text).replace("\u200b", " ").split(" "):
        assert len(run) <= 24


def test_the_typeface_has_the_signs_of_the_trade() -> None:
    assert set("−–—±×°µ²³≤≥≠≈…·•½’“”„éüßøñçőžĄŁΔθφπЖя") <= covered()


def test_every_style_shows_the_same_characters_and_all_fonts_stay_small() -> None:
    assert covered("Regular") == covered("Bold") == covered("Italic")
    assert sum(f.stat().st_size for f in FONTS.iterdir()) < 600_000
    assert "SIL OPEN FONT LICENSE" in (FONTS / "LICENCE.txt").read_text(encoding="utf-8")


def test_a_long_text_says_that_it_was_cut() -> None:
    assert clean("x " * 50, at_most=10) == "x x x x x … (cut here; 99 characters in the case)"


@given(st.floats(min_value=-1e6, max_value=1e6).map(lambda v: round(v, 6)))
def test_an_entered_number_reads_back_as_entered(value: float) -> None:
    assert float(plain(value).replace("−", "-")) == pytest.approx(value, abs=1e-6, rel=1e-11)
    assert float(entry(value).replace("−", "-")) == pytest.approx(value, rel=1e-8)


def test_numbers_that_are_none_are_unknown() -> None:
    q = Quantity("k", "l", math.nan, "mm", None, math.nan, 1.0)
    assert (size(q), interval(q), plain(math.inf), entry(math.nan)) == ("unknown", "", "unknown", "unknown")


def test_an_interval_keeps_its_unit_out_of_the_way() -> None:
    assert interval(Quantity.of("k", "l", -0.5, "mm", 0.1, coverage=2.0)) == "−0.70 to −0.30"
    assert interval(Quantity("k", "l", 2.0, "", None)) == ""


def test_a_table_shows_as_many_decimals_as_were_entered() -> None:
    assert same_decimals([36.1, 38.05]) == 2
    assert same_decimals([36.0], at_least=1) == 1
    assert same_decimals([1 / 3]) == 6


def test_a_report_is_whole_and_replaces_what_was_there(tmp_path: Path) -> None:
    target = tmp_path / "a.pdf"
    target.write_bytes(b"old")
    check_writable(target)
    assert target.read_bytes() == b"old"
    write_report(target, b"new")
    assert target.read_bytes() == b"new"
    assert [p.name for p in tmp_path.iterdir()] == ["a.pdf"]
    umask = os.umask(0)
    os.umask(umask)
    assert target.stat().st_mode & 0o777 == 0o666 & ~umask


def test_a_place_that_cannot_be_written_is_named_before_the_work(tmp_path: Path) -> None:
    for target in (tmp_path / "no" / "a.pdf", tmp_path, tmp_path / ("x" * 300 + ".pdf") / "a.pdf"):
        with pytest.raises(FaultError) as caught:
            check_writable(target)
        assert caught.value.faults[0].code == "out.not-writable"
        assert caught.value.faults[0].todo
    with pytest.raises(FaultError):
        write_report(tmp_path / "no" / "a.pdf", b"")


def test_nothing_stays_behind_when_the_last_step_fails(tmp_path: Path) -> None:
    target = tmp_path / "a.pdf"
    target.mkdir()
    (target / "kept").write_text("x")
    with pytest.raises(FaultError):
        write_report(target, b"new")
    assert [p.name for p in tmp_path.iterdir()] == ["a.pdf"]
