"""Question 7, D12: the table from pin to teeth, the smallest pin reading for a thickness, and what stays short."""

from __future__ import annotations

import cmath
import math
import tomllib
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from answers import kestrel
from mountproof.answers.change_space import Place, gap, goes_back, places
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import ChangeEvidence, SpaceChart
from mountproof.answers.result import Answer, Table
from mountproof.answers.sheet import answer
from mountproof.bench.pin import Tooth, opening_from_gap
from mountproof.case.files import load_case
from mountproof.case.model import Case, Space
from mountproof.geometry.carry import exact
from mountproof.surfaces.demo_case import make_demo
from mountproof.surfaces.pictures.gallery import gallery
from mountproof.surfaces.pictures.svg import plate_svg

WANTED = "wanted = [{ teeth = [16, 26, 36, 46], thickness_mm = 1.5 }, { teeth = [17], thickness_mm = 1.5 }]\n"


def with_space(case: Case, text: str) -> Case:
    made = case.model_copy(update={"space": Space.model_validate(tomllib.loads(text))})
    made._folder = case.folder
    return made


def asked(case: Case) -> Answer:
    return answer(case, ["change"])["change"]


def table(one: Answer, begins: str) -> Table:
    return next(t for t in one.tables if t.title.startswith(begins))


def number(cell: str) -> float:
    return float(cell.split("±")[0])


@pytest.fixture(scope="module")
def bench() -> Case:
    return kestrel.case()


def test_one_millimetre_in_front_is_what_the_trade_says() -> None:
    """trade.md D12: 1 mm at the incisors is 0.65 mm at the first and 0.54 mm at the second molar, and 0.47 mm of overjet."""
    at = {p.tooth.name: p for p in places(Case(code="x"), Ledger("change"))}
    for mm in (1.0, 2.0):
        turned = exact(opening_from_gap(at["incisors"].tooth, mm))
        assert gap(at["incisors"], turned).value == pytest.approx(mm)
        assert gap(at["first molars"], turned).value / mm == pytest.approx(0.65, abs=0.005)
        assert gap(at["second molars"], turned).value / mm == pytest.approx(0.54, abs=0.005)
        assert goes_back(at["incisors"], turned).value / mm == pytest.approx(0.47, abs=0.01)


def test_the_table_is_a_turn_about_the_hinge(bench: Case) -> None:
    """Every cell by complex numbers: the pin's tip (110, -62) stays on the table that turns with the lower."""
    rows = table(asked(bench), "What a change").rows
    spots = [92 - 42j, 84 - 40j, 72 - 38.5j, 60 - 37j, 50 - 35j]
    for row in rows:
        reads = number(row[0])
        # the tip (110, -62 - s) as the lower sees it lies at the height of the table, -62
        turn = brentq(lambda t, s=reads: ((110 - 1j * (62 + s)) * cmath.exp(1j * t)).imag + 62.0, -0.05, 0.1)
        gaps = [p.imag - (p * cmath.exp(-1j * turn)).imag for p in spots]
        assert [number(c) for c in row[2:7]] == pytest.approx(gaps, abs=0.006)
        back = spots[0].real - (spots[0] * cmath.exp(-1j * turn)).real
        assert number(row[7]) == pytest.approx(back, abs=0.006)
        assert number(row[8]) == pytest.approx(-gaps[0], abs=0.006)


def test_intervals_grow_with_the_opening_and_with_the_doubt_of_the_places() -> None:
    far, near = (Place(Tooth("molars", 50.0, -35.0), u) for u in (3.0, 1.0))
    small, large = exact(0.02), exact(0.06)
    assert gap(far, small).u == pytest.approx(3.0 * math.hypot(math.sin(0.02), 1.0 - math.cos(0.02)))
    assert gap(near, small).u < gap(far, small).u < gap(far, large).u


def test_the_smallest_pin_for_a_thickness_is_decided_by_the_hindmost(bench: Case) -> None:
    """trade.md D14: 1.5 mm at the second molar is 2.8 mm in front and 3.4 mm at a straight pin."""
    found = asked(with_space(bench, WANTED))
    assert found["space_pin"].value == pytest.approx(3.4, abs=0.05)
    assert found["space_pin"].label.endswith("(17 decides)")
    chart = found.evidence
    assert isinstance(chart, SpaceChart) and not chart.short and not chart.exact
    at = {one.tooth: one.gap_mm for one in chart.teeth}
    assert at[17] == pytest.approx(1.5, abs=0.005) and at[11] == pytest.approx(2.8, abs=0.04)


def test_a_pin_reading_below_it_leaves_teeth_short(bench: Case) -> None:
    """2 mm along the pin give 1.08 mm at the first and 0.90 mm at the second molars (checks by hand above)."""
    found = asked(with_space(bench, WANTED + "pin_reads = 2\n"))
    chart = found.evidence
    assert isinstance(chart, SpaceChart)
    short = {one.tooth: one.short_mm for one in chart.short}
    assert short == pytest.approx({17: 0.60, 16: 0.42, 26: 0.42, 36: 0.42, 46: 0.42}, abs=0.01)
    assert "at 2.0 mm short: 17, " in found.headline
    rows = {row[0]: row for row in table(found, "Space at each tooth").rows}
    assert rows["17"][2:] == ("1.50", "0.60 short") and rows["27"][2:] == ("-", "-")


def test_nothing_wanted_claims_nothing(bench: Case) -> None:
    found = asked(bench)
    assert found.evidence is None and "space_pin" not in {q.key for q in found.quantities}


def test_a_tooth_without_a_place_is_asked_for(bench: Case) -> None:
    found = asked(with_space(bench, "wanted = [{ teeth = [18], thickness_mm = 1 }]\n"))
    assert any(need.field == "teeth_at" and "18" in need.reading for need in found.needs)


@pytest.fixture(scope="module")
def scanned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Answer, Answer]:
    """The demo at the smallest pin reading, and 0.6 mm below it."""
    folder: Path = tmp_path_factory.mktemp("space")
    make_demo(folder, triangles=8_000)
    case = load_case(folder)
    least = asked(with_space(case, WANTED))
    reads = least["space_pin_reads"].value - 0.6
    return least, asked(with_space(case, WANTED + f"pin_reads = {reads:.4f}\n"))


def chart(found: Answer) -> SpaceChart:
    assert isinstance(found.evidence, ChangeEvidence) and found.evidence.space is not None
    return found.evidence.space


def test_scans_give_the_space_tooth_by_tooth(scanned: tuple[Answer, Answer]) -> None:
    least, below = scanned
    for found in scanned:
        assert chart(found).exact
    first = chart(least)
    assert not first.short
    decides = least["space_pin"].label.split("(")[1].split(" ")[0]
    tight = {one.tooth: one for one in first.teeth}[int(decides)]
    assert tight.gap_mm == pytest.approx(1.5, abs=0.005)
    # 0.6 mm of the pin are 0.27 mm upright at the second molars, and less across their inclines
    short = {one.tooth: one.short_mm for one in chart(below).short}
    assert 0.05 < short[int(decides)] < 0.30
    assert below.headline.count("short") >= 1


def test_the_map_shows_no_less_than_the_number_at_a_tooth(scanned: tuple[Answer, Answer]) -> None:
    """Pixels and numbers come by two ways: faces from corners both ways, and corners alone drawn on the surface."""
    found = chart(scanned[1])
    numbers = {one.tooth: one.gap_mm for one in found.teeth}
    for view in found.views.views:  # type: ignore[attr-defined]
        for tooth in (16, 17, 26, 46, 47):
            seen = view.gap_mm[(view.tooth == tooth) & np.isfinite(view.gap_mm)]
            if seen.size:
                assert numbers[tooth] - 0.02 <= float(seen.min()) < numbers[tooth] + 0.25


def test_chart_and_casts_are_drawn_with_their_table(scanned: tuple[Answer, Answer]) -> None:
    plates = {p.name: p for p in gallery(scanned[1], str)}
    assert {"space", "space-upper", "space-lower"} <= set(plates)
    shown = {row[0]: row for row in plates["space"].table.rows}
    for one in chart(scanned[1]).teeth:
        assert shown[str(one.tooth)][1] == f"{one.gap_mm:.2f}"
    for name, teeth in (("space-upper", "12"), ("space-lower", "34")):
        assert {row[0][0] for row in plates[name].table.rows} == set(teeth)
        assert plates[name].image is not None and plate_svg(plates[name]).startswith(b"<svg")
