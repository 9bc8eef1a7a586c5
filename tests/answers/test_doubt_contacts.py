"""Chances of teeth from drawn mountings closed exactly: against first order, by foils, and by their laws."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from mountproof.answers import doubt_contacts, doubt_drawn
from mountproof.answers.doubt_chain import chain_of
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import ContactChances
from mountproof.answers.progress import quiet
from mountproof.answers.result import Verdict
from mountproof.answers.sheet import answer
from mountproof.case.files import load_case, parse_case
from mountproof.case.model import Case
from surfaces.cli_bench import scan_case, scan_text

FEW = 1_500


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return scan_case(tmp_path_factory.mktemp("doubt") / "c")


@pytest.fixture(autouse=True)
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doubt_drawn, "_DRAWS", FEW)
    monkeypatch.setattr(doubt_contacts, "_SHARE_DRAWS", 128)
    monkeypatch.setattr(doubt_contacts, "_WIDE_DRAWS", 100)


def told(case: Case) -> tuple[ContactChances | None, Ledger]:
    page = Ledger("doubt")
    return doubt_contacts.contacts(case, page, chain_of(case, Ledger("doubt")), quiet), page


def with_foils(folder: Path, foils: str) -> Case:
    return parse_case(scan_text(foils=foils), folder=folder)


def foil(held: list[int], free: list[int] = [], um: int = 8) -> str:  # noqa: B006
    return f'[[foils]]\nwhere = "mouth"\nrelation = "CR"\nclosure = "light"\nthickness_um = {um}\nheld = {held}\nfree = {free}\n'


@pytest.fixture(scope="module")
def plain(folder: Path) -> tuple[ContactChances, Ledger]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(doubt_drawn, "_DRAWS", FEW)
        patch.setattr(doubt_contacts, "_SHARE_DRAWS", 128)
        patch.setattr(doubt_contacts, "_WIDE_DRAWS", 100)
        chances, page = told(load_case(folder))
    assert chances is not None
    return chances, page


def test_first_contact_is_where_the_exact_answer_puts_it(
    folder: Path, plain: tuple[ContactChances, Ledger]
) -> None:
    chances, page = plain
    by_tooth = {t.tooth: t for t in chances.teeth}
    best = max(by_tooth.values(), key=lambda t: t.first)
    contacts = answer(load_case(folder), ["contacts"])["contacts"]
    assert str(best.tooth) in contacts.headline
    # every mounting meets somewhere, on one upper and one lower tooth
    assert sum(t.first for t in chances.teeth) == pytest.approx(2.0, abs=0.02)
    assert all(0.0 <= t.first <= t.holds + 1e-9 <= 1.0 + 1e-9 for t in chances.teeth)
    assert not chances.after_checks and chances.draws == FEW
    assert best.gap_um is not None and best.gap_um[0] == pytest.approx(0.0, abs=1e-6)
    # more doubt than the record alone: a first place is less sure than question 5 says of its record
    assert page["whole_first_chance"].value <= contacts["first_chance"].value + 3.0


def test_closing_is_told_with_the_doubt_of_every_step(
    folder: Path, plain: tuple[ContactChances, Ledger]
) -> None:
    _, page = plain
    whole = page["whole_closing"]
    exact = answer(load_case(folder), ["contacts"])["contacts"]["closing"]
    assert whole.u is not None and exact.u is not None and whole.u > exact.u
    assert whole.value == pytest.approx(exact.value, abs=4.0 * whole.u / np.sqrt(FEW) + 0.05)
    shares = page.tables[0]
    assert len(shares.rows) >= 6


def test_a_foil_in_the_mouth_moves_the_chances_its_way(
    folder: Path, plain: tuple[ContactChances, Ledger]
) -> None:
    before = {t.tooth: t for t in plain[0].teeth}
    chances, _ = told(with_foils(folder, foil([15], [14, 16, 17, 24, 25, 26, 27])))
    assert chances is not None and chances.after_checks
    after = {t.tooth: t for t in chances.teeth}
    assert after[15].holds >= before[15].holds - 0.01
    for tooth in (24, 26, 17):
        assert after[tooth].holds <= before[tooth].holds + 0.02


def test_foils_that_no_orderly_mounting_makes_are_refused(folder: Path) -> None:
    chances, page = told(with_foils(folder, foil([11, 21], [14, 15, 16, 17, 24, 25, 26, 27], um=8)))
    if chances is None:
        assert page.verdicts == [Verdict.CANNOT_TELL]
        assert any(n.field == "foils" for n in page.needs)
    else:  # enough draws go with it: then they must say so
        by_tooth = {t.tooth: t for t in chances.teeth}
        assert by_tooth[11].holds > 0.5


def test_the_same_case_gives_the_same_numbers(folder: Path, plain: tuple[ContactChances, Ledger]) -> None:
    again, _ = told(load_case(folder))
    assert again == plain[0]


def test_without_scans_there_is_nothing_to_tell() -> None:
    case = parse_case('code = "BENCH"\n')
    assert doubt_contacts.contacts(case, Ledger("doubt"), chain_of(case, Ledger("doubt")), quiet) is None
