"""The demo from end to end: its sheet is one page, the same bytes each time, and names what the phantom was made with."""

from __future__ import annotations

from pathlib import Path

import pytest

from mountproof.answers.result import Sheet
from mountproof.answers.sheet import answer
from mountproof.case.files import load_case
from mountproof.case.model import Case
from mountproof.phantom import truth
from mountproof.surfaces.demo_case import make_demo
from mountproof.surfaces.report import render_pdf
from mountproof.surfaces.report.render import page_count


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Case, Sheet]:
    folder = tmp_path_factory.mktemp("demo")
    make_demo(folder)
    case = load_case(folder)
    return case, answer(case)


def test_the_sheet_is_one_paper_and_the_same_bytes_each_time(demo: tuple[Case, Sheet]) -> None:
    case, sheet = demo
    first = render_pdf(sheet, case, version="test")
    assert page_count(first) == 2  # answers in front, what was entered on the back
    assert render_pdf(answer(case), load_case(case.folder or Path()), version="test") == first


def test_first_contact_is_the_one_the_phantom_was_made_with(demo: tuple[Case, Sheet]) -> None:
    _, sheet = demo
    evidence = sheet["contacts"].evidence
    first = evidence.table.pairs[0]
    assert (first.upper_tooth, first.lower_tooth) == (truth.FIRST_TOOTH, truth.FIRST_MATE)
    # As the case was made: by tooth, within the density of the mesh (about 20 um) and the pose before stone.
    gaps = {p.upper_tooth: p.remaining_along_closure_mm for p in reversed(evidence.table.pairs)}
    for tooth, made in truth.RUNNERS_UP_MM.items():
        assert gaps[tooth] == pytest.approx(made, abs=0.03), tooth
    assert sheet["contacts"]["first_chance"].value > 90.0


def test_closing_agrees_with_the_pin_of_the_truth(demo: tuple[Case, Sheet]) -> None:
    _, sheet = demo
    closing = sheet["contacts"]["closing_pin"]
    assert closing.low is not None
    assert closing.high is not None
    # Before stone; during set the lower went SET_AWAY_MM away, which opens the pin a little more.
    assert closing.low < truth.PIN_PARALLEL_CR_MM < closing.high
