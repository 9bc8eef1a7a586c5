"""The sheet on paper: every answer, every caution, every entry; the same bytes; hostile text stays text."""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mountproof.answers.result import Assumption, Need, Sheet, Verdict
from mountproof.answers.words import CAUTION_BY_KEY, CAUTIONS
from mountproof.case.model import Case
from mountproof.surfaces.report import render_pdf
from mountproof.surfaces.report.render import page_count
from surfaces.make_sheet import make_answers, make_case, make_sheet
from surfaces.pdf_text import grey, squeeze, words

VERSION = "0.0.0+test"
GOLDEN = Path(__file__).parent / "golden" / "report.txt"


def _render(sheet: Sheet | None = None, case: Case | None = None) -> bytes:
    return render_pdf(sheet or make_sheet(), case or make_case(), version=VERSION)


def _text(sheet: Sheet | None = None, case: Case | None = None) -> str:
    return " ".join(words(_render(sheet, case)))


@pytest.fixture(scope="module")
def plain_text() -> str:
    return _text()


@pytest.fixture(scope="module")
def scan_text() -> str:
    return _text(make_sheet(scans=True))


@pytest.mark.parametrize("scans", [False, True])
def test_everything_of_the_demo_stands_on_one_page(scans: bool) -> None:
    assert page_count(_render(make_sheet(scans=scans))) == 1


@pytest.mark.parametrize("scans", [False, True])
def test_two_processes_make_the_same_bytes(scans: bool) -> None:
    # The other process sees another time zone, another hash seed and another folder.
    code = (
        "import hashlib; from surfaces.make_sheet import make_case, make_sheet; "
        "from mountproof.surfaces.report import render_pdf; "
        f"print(hashlib.sha256(render_pdf(make_sheet(scans={scans}), make_case(), version={VERSION!r})).hexdigest())"
    )
    tests = Path(__file__).parents[1]
    other = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=tests.parent / "docs",
        env={
            **os.environ,
            "PYTHONPATH": os.pathsep.join([str(tests.parent / "src"), str(tests)]),
            "PYTHONHASHSEED": "7",
            "TZ": "Asia/Kathmandu",
        },
    )
    here = hashlib.sha256(_render(make_sheet(scans=scans))).hexdigest()
    assert other.stdout.strip() == here


def test_the_date_is_the_case_s_or_there_is_none() -> None:
    dated = _render(case=make_case(date=dt.date(2031, 2, 3)))
    undated = _render(case=make_case(date=None))
    year = str(dt.datetime.now(dt.UTC).year).encode()
    assert re.findall(rb"/CreationDate\(D:(\d{8})", dated) == [b"20310203"]
    assert re.findall(rb"D:(\d{4})", undated) == []
    assert b"CreateDate>" + year not in dated + undated
    assert "date not given" in words(undated)[0]


def test_all_eight_answers_are_there_in_order(plain_text: str) -> None:
    found = [plain_text.index(squeeze(a.headline)) for a in make_answers().values()]
    assert found == sorted(found)
    for number, answer in enumerate(make_answers().values(), start=1):
        start = plain_text.index(f"{number} {answer.question}")
        assert answer.verdict.value in plain_text[start : start + len(answer.question) + 30]


def test_the_numbers_of_the_bench_stand_with_their_interval(plain_text: str) -> None:
    assert "4.18 mm 4.10 to 4.26" in plain_text
    assert "−0.93 mm −1.05 to −0.81" in plain_text
    assert "27.8 mL" in plain_text


def test_what_to_measure_next_is_said(plain_text: str) -> None:
    for answer in make_answers().values():
        for need in answer.needs[:1]:
            assert f"Measure next: {need.reading}" in plain_text


@pytest.mark.parametrize("scans", [False, True])
def test_every_caution_is_there(scans: bool, plain_text: str, scan_text: str) -> None:
    text = scan_text if scans else plain_text
    for caution in (*CAUTIONS, *(c for own in CAUTION_BY_KEY.values() for c in own)):
        assert squeeze(caution) in text


def test_every_assumption_is_called_assumed() -> None:
    sheet = make_sheet()
    text = _text(sheet)
    listed = text[text.index("Assumed, nobody measured it:") :]
    for assumption in (a for answer in sheet.answers.values() for a in answer.assumptions):
        assert f"{assumption.what} {assumption.value}" in listed
        assert assumption.source in listed
    assert "Lift of the stone assumed" in _roomy_text(sheet)


def test_an_assumed_number_carries_the_word(plain_text: str) -> None:
    answers = make_answers()
    q = replace(answers["mounting"].quantities[0], assumed=True)
    answers["mounting"] = replace(answers["mounting"], quantities=(q,))
    assert "0.04 mm (−0.11 to 0.19) assumed" in _text(Sheet("K", answers))
    assert "0.04 mm (−0.11 to 0.19) assumed" not in plain_text


def _roomy_text(sheet: Sheet) -> str:
    """The sheet with so many entries that the inputs go to the back."""
    return _text(sheet, make_case(note="many words " * 500))


def test_digest_version_and_sources_are_printed(plain_text: str) -> None:
    assert f"mountproof {VERSION}" in plain_text
    for answer in make_answers().values():
        assert answer.digest[:8] in plain_text
        for source in answer.sources:
            assert source in plain_text


def test_questioned_readings_and_echoes_are_printed(plain_text: str) -> None:
    for line in (*make_sheet().questions, *make_sheet().echoes):
        assert squeeze(line) in plain_text


def _numbers(value: Any) -> Iterator[float]:
    if isinstance(value, dict):
        for part in value.values():
            yield from _numbers(part)
    elif isinstance(value, list | tuple):
        for part in value:
            yield from _numbers(part)
    elif isinstance(value, float | int) and not isinstance(value, bool):
        yield float(value)


@pytest.mark.parametrize("many", [False, True])
def test_every_number_that_was_entered_is_printed(many: bool) -> None:
    # Numbers no two of which are alike, so that none can stand for another.
    grid = "\n".join(
        ["pair " + " ".join(f"S{i}" for i in range(30 if many else 4))]
        + [
            f"U{p}-L{p} " + " ".join(f"{30 + p + i / 37:.3f}" for i in range(30 if many else 4))
            for p in range(6)
        ]
    )
    case = make_case(
        marks={
            "places": {"U0": {"arch": "upper", "ahead_mm": 51.37, "above_mm": -21.46, "right_mm": 33.19}},
            "states": {f"S{i}": {"kind": "record in", "record": "1"} for i in range(30 if many else 4)},
            "readings_mm": grid,
        },
        records={
            "1": {
                "kind": "CR",
                "upper_from_lower": [[1, 0, 0, 0.123456], [0, 1, 0, -2.5], [0, 0, 1, 7.25], [0, 0, 0, 1]],
            }
        },
        limits={"reseat_sd": {"decent": 0.0512, "redo": 0.1034, "unit": "mm"}},
    )
    text = _text(case=case).replace("−", "-")
    printed = {float(found) for found in re.findall(r"-?\d+(?:\.\d+)?", text)}
    entered = case.model_dump(mode="json", exclude={"limits", "date"})
    missing = [n for n in _numbers(entered) if not any(abs(n - p) < 1e-9 for p in printed)]
    assert missing == []
    assert "entered: reseat SD 0.0512|0.1034 mm" in text


def test_a_table_too_wide_for_the_page_goes_on_below(plain_text: str) -> None:
    states = [f"STATE{i:02d}" for i in range(40)]
    grid = "\n".join(["pair " + " ".join(states), "U-L " + " ".join(f"{30 + i / 8:.3f}" for i in range(40))])
    case = make_case(
        marks={"places": {}, "states": {s: {"kind": "record in"} for s in states}, "readings_mm": grid},
        pin_readings=[],
    )
    text = _text(case=case)
    assert text.count("pair, mm STATE") > 1
    assert plain_text.count("pair, mm A B C") == 1
    assert all(text.count(f"{state} record in") == 1 for state in states)
    assert all(f"{30 + i / 8:.3f}" in text for i in range(40))


HOSTILE = (
    "#set page(width: 1mm)",
    '#panic("no")',
    "[unclosed",
    "]closed",
    'quote " and \\ backslash \\u{41}',
    "$x^2$ *bold* _it_ `raw` <label> @ref // rest /* more",
    "= heading - item + item",
    "#eval(sys.inputs.sheet)",
    "{{ data }} %s {0}",
    "Zoë Ångström Ώμέγα Жук",
)


@pytest.mark.parametrize("text", HOSTILE)
def test_text_of_a_case_is_never_markup(text: str) -> None:
    case = make_case(
        by=text[:60],
        lab=text,
        note=text,
        records={text[:60]: {"kind": "CR", "material": text}},
        mounted_on=None,
    )
    answers = make_answers()
    answers["pin"] = replace(answers["pin"], headline=text, needs=(Need(text, text),))
    shown = _text(Sheet(case.code, answers, (text,), (text,)), case)
    assert shown.count(squeeze(text)) >= 7


@settings(max_examples=10)
@given(st.text(max_size=80), st.text(st.characters(exclude_categories=["Cc", "Cs"]), min_size=1, max_size=40))
def test_no_text_at_all_can_stop_the_sheet(text: str, name: str) -> None:
    if not name.strip():
        name = "x"
    case = make_case(note=text, by=text, records={name: {"kind": "CR", "note": text}}, mounted_on=name)
    answers = make_answers()
    answers["stone"] = replace(answers["stone"], headline=text, notes=(text,), sources=(text,))
    assert page_count(_render(Sheet(text, answers, (text,), (text,)), case)) >= 1


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("中", "[U+4E2D]"),
        ("🦷", "[U+1F9B7]"),
        ("a\u202eb", "a[U+202E]b"),
        ("a\x00b", "a[U+0000]b"),
        ("a\n\tb\u2028c", "a b c"),
        ("e\u0301", "é"),
    ],
)
def test_what_the_typeface_lacks_is_spelt_out(text: str, shown: str) -> None:
    case = make_case(note=f"before {text} after")
    assert f"before {shown} after" in _text(case=case)


def test_ten_thousand_characters_in_one_word_are_broken_not_cut_off() -> None:
    word = "".join(chr(65 + i % 26) for i in range(10_000))
    found = words(_render(case=make_case(note=word)))
    joined = "".join(found).replace(" ", "")
    assert word in joined
    answers = make_answers()
    answers["pin"] = replace(answers["pin"], headline=word)
    assert "(cut here; 10000 characters in the case)" in " ".join(words(_render(Sheet("K", answers))))


def test_a_long_entry_sends_the_inputs_to_the_back_and_the_answers_stay_in_front() -> None:
    front, back = words(_render(case=make_case(note="many words " * 500)))
    assert "8 Which step limits me" in front
    assert "Before anybody acts on this" in front
    assert "What was entered" not in front
    assert "What was entered" in back
    assert "36.10" in back


def test_answers_without_numbers_say_what_is_needed() -> None:
    bare = {
        key: replace(
            a, quantities=(), tables=(), verdict=Verdict.CANNOT_TELL, needs=(Need(f"reading {key}", ""),)
        )
        for key, a in make_answers().items()
    }
    empty = Case(code="EMPTY-1")
    text = _text(Sheet("EMPTY-1", bare), empty)
    for key in bare:
        assert f"Measure next: reading {key}" in text
    assert "articulator not given" in text
    assert "Checked name date signature" in text


def test_a_sheet_of_one_question_shows_that_question() -> None:
    text = _text(Sheet("K", {"stone": make_answers()["stone"]}))
    assert "2 How much stone" in text
    assert "How far do I open" not in text


def test_a_number_that_is_not_finite_is_unknown_not_nan() -> None:
    answers = make_answers()
    q = replace(answers["pin"].quantities[0], value=float("nan"), low=float("nan"), high=float("inf"))
    answers["pin"] = replace(answers["pin"], quantities=(q,))
    text = _text(Sheet("K", answers))
    assert "unknown mm" in text
    assert "nan" not in text.split()


def test_the_file_is_tagged_titled_and_pictures_have_words() -> None:
    pdf = _render(make_sheet(scans=True))
    assert b'<dc:title><rdf:Alt><rdf:li xml:lang="x-default">Mounting sheet KESTREL-0417' in pdf
    assert b"/Marked true" in pdf
    assert b"<pdfuaid:part>1" in pdf
    assert pdf.count(b"/Alt") >= 7
    assert b"/Lang(en)" in pdf


def test_patients_right_is_named_and_teeth_are_numbered(scan_text: str) -> None:
    assert "Upper teeth from below, patient's right on the left" in scan_text
    assert "Lower teeth from above, patient's right on the left" in scan_text
    for tooth in (17, 11, 21, 27, 47, 41, 31, 37):
        assert f" {tooth} " in scan_text
    assert "up to 0.05 0.05 to 0.1 0.1 to 0.25 0.25 to 0.5 0.5 to 1" in scan_text
    assert "15/45 0.000" in scan_text


def test_a_hole_is_named_in_the_legend() -> None:
    from surfaces.make_views import make_evidence

    answers = make_answers(scans=True)
    answers["contacts"] = replace(answers["contacts"], evidence=make_evidence(hole=True))
    assert "0.5 to 1 unknown" in _text(Sheet("K", answers))


def test_no_word_that_promises_or_belongs_to_others(plain_text: str, scan_text: str) -> None:
    for word in ("safe", "correct", "ideal", "grind", "ICP", "TMD", "force", "load"):
        assert not re.search(rf"\b{word}\b", plain_text + scan_text, re.IGNORECASE), word


def test_many_assumptions_are_listed_once_each() -> None:
    answers = make_answers()
    same = Assumption("density", "2.75", "textbook")
    answers["pin"] = replace(answers["pin"], assumptions=(same, same))
    answers["stone"] = replace(answers["stone"], assumptions=(same,))
    assert _text(Sheet("K", answers)).count("density 2.75") == 1


@pytest.mark.parametrize("scans", [False, True])
def test_nothing_runs_off_the_paper(scans: bool) -> None:
    page = grey(_render(make_sheet(scans=scans)), scale=2.0)
    edge = 12  # 6 pt, 2 mm
    border = np.concatenate(
        [page[:edge].ravel(), page[-edge:].ravel(), page[:, :edge].ravel(), page[:, -edge:].ravel()]
    )
    assert border.min() == 255


def test_the_words_are_those_that_were_looked_at() -> None:
    """A file a person can read; MOUNTPROOF_GOLDEN=write writes it anew, and the difference is then looked at."""
    text = "\n\n".join(_lines(page) for page in words(_render(make_sheet(scans=True)))) + "\n"
    if os.environ.get("MOUNTPROOF_GOLDEN") == "write":
        GOLDEN.write_text(text, encoding="utf-8")
    assert text == GOLDEN.read_text(encoding="utf-8")


def _lines(page: str) -> str:
    return re.sub(r"(?<=[.:;?]) ", "\n", page)
