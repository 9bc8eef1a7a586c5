"""The papers in print: both languages, the same bytes, every text, no second page where one will do, black and white."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from answers.test_papers import MORE, full, texts
from mountproof.answers.message import message
from mountproof.answers.paper import Paper
from mountproof.answers.papers import PAPERS
from mountproof.case.model import Case
from mountproof.said import capital, render, rendered
from mountproof.surfaces.report import message_paper, paper_pdf, render_pdf
from mountproof.surfaces.report.render import page_count
from mountproof.surfaces.report.text import clean
from surfaces.cli_bench import run
from surfaces.pdf_text import squeeze, words

BENCH = Path(__file__).parents[1] / "case" / "bench_case.toml"
GOLDEN = Path(__file__).parent / "golden"
NAMES = [*PAPERS, "message"]
#: English words that a German page has no other use for; a user's own words are taken out first.
ENGLISH = re.compile(r"\b(the|with|and|next|because|assumed|page|signature|missing|not|is|are)\b")


def made(name: str) -> tuple[Paper, Case]:
    case, sheet = full()
    return (
        message_paper(message(case, sheet)) if name == "message" else PAPERS[name].make(case, sheet)
    ), case


@cache
def pdf(name: str, language: str) -> bytes:
    paper, case = made(name)
    return paper_pdf(paper, case, version="0.0.0+test", language=language)


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("name", NAMES)
def test_every_text_of_a_paper_is_printed_the_same_twice(name: str, language: str) -> None:
    paper, case = made(name)
    printed = " ".join(words(pdf(name, language)))
    for text in texts(rendered(paper, language)):
        assert squeeze(clean(text)).casefold() in printed.casefold(), text
    assert pdf(name, language) == paper_pdf(paper, case, version="0.0.0+test", language=language)
    assert re.findall(rb"/CreationDate\(D:(\d{8})", pdf(name, language)) == [b"20260302"]
    assert f"/Lang({language})".encode() in pdf(name, language)


@pytest.mark.parametrize(
    ("name", "pages"), [("prescription", 1), ("patient", 1), ("before-cutting", 2), ("message", 1)]
)
def test_a_paper_takes_no_more_pages_than_it_needs(name: str, pages: int) -> None:
    assert page_count(pdf(name, "en")) <= pages and page_count(pdf(name, "de")) <= pages


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("name", ["prescription", "patient"])
def test_a_paper_reads_as_the_golden_one(name: str, language: str) -> None:
    golden = GOLDEN / f"paper-{name}-{language}.txt"
    assert "\n".join(words(pdf(name, language))) == golden.read_text().rstrip("\n")


@pytest.mark.parametrize("name", NAMES)
def test_a_german_paper_has_no_english_left(name: str) -> None:
    printed = " ".join(words(pdf(name, "de")))
    for own in ("even contact behind", "the master casts", "a removable splint"):
        printed = printed.replace(own, "").replace(capital(own), "")
    assert not ENGLISH.findall(printed)


def test_text_of_a_user_is_never_read_as_markup() -> None:
    case, sheet = full()
    odd = case.model_copy(
        update={"prescription": case.prescription.model_copy(update={"scheme": "#panic() *x* $y$"})}
    )
    printed = " ".join(words(paper_pdf(PAPERS["prescription"].make(odd, sheet), odd, version="0")))
    assert "#panic() *x* $y$" in printed


def test_the_sheet_speaks_german_too() -> None:
    case, sheet = full()
    found = render_pdf(sheet, case, version="0", language="de")
    printed = " ".join(words(found))
    for answer in sheet.answers.values():
        assert squeeze(render(answer.headline, "de")) in printed
        assert squeeze(render(answer.question, "de")) in printed
    front, back = words(found)
    assert not ENGLISH.findall(front)
    for own in ("pin set", "wear of upper front teeth", "upper only", "the master casts"):
        back = back.replace(own, "")
    assert not ENGLISH.findall(back) and "interkondylär 110 mm" in back and "36,10 38,05" in back
    assert "Als Nächstes messen:" in front and "4,24" in front and "4.24" not in front
    assert found == render_pdf(sheet, case, version="0", language="de")
    assert b"/Lang(de)" in found


def test_the_command_writes_each_paper_and_says_what_is_blank(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text(BENCH.read_text() + MORE)
    out = tmp_path / "p.pdf"
    done = run("paper", tmp_path, "prescription", "--out", out, "--lang", "de")
    assert done.status == 0 and "Auftrag an das Labor" in words(out.read_bytes())[0]
    (tmp_path / "case.toml").write_text(BENCH.read_text())
    blank = run("paper", tmp_path, "prescription")
    assert blank.status == 5 and "Left blank: who verified what" in blank.out
    assert (tmp_path / "KESTREL-0417-prescription.pdf").exists()
    assert run("paper", tmp_path, "patient").status == 0
    assert run("paper", tmp_path, "message").status == 0
    refused = run("paper", tmp_path, "invoice")
    assert (
        refused.status == 2
        and "Ask for one of: prescription, patient, before-cutting, message" in refused.err
    )
