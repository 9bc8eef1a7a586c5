"""The facebow: how the upper cast stands, and what its axis costs for this opening; nothing where nothing is closed."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from answers import kestrel
from answers.test_traps import made, turn
from mountproof.answers.facebow import facebow
from mountproof.answers.ledger import Ledger
from mountproof.answers.placement import Placed
from mountproof.answers.result import Verdict
from mountproof.answers.scan_tips import TIP_U_MM, Tips
from mountproof.geometry.poses import exp6, transform
from mountproof.records.axis_cost import cost_at
from mountproof.records.facebow import AVERAGE, EARS

HEIGHTS = {
    "front_height_mm": 60.0,
    "right_height_mm": 68.0,
    "left_height_mm": 68.5,
    "front_to_molars_mm": 40.0,
    "between_molars_mm": 54.0,
    "height_sd_mm": 0.1,
}


def page(case: Any = None, **parts: Any) -> tuple[Ledger, list[str]]:
    ledger = Ledger("mounting")
    return ledger, facebow(kestrel.case(**parts) if case is None else case, ledger)


def opened(degrees: float, **bow: Any) -> Any:
    """The demo's marks read without noise, the record opening so much about the hinge."""
    return made({"A": turn(0), "B": turn(degrees), "G": turn(0)}, facebow=bow)


def test_without_a_facebow_the_cost_is_shown_and_not_judged() -> None:
    ledger, says = page()
    assert not says and not ledger.verdicts and not ledger.finds
    assert ledger["axis_cost"].assumed and ledger["axis_cost"].u > 0
    assert ledger.needs[0].field == "facebow.axis"


def test_the_cost_is_that_of_the_opening_entered() -> None:
    ledger, says = page(opened(2.0, axis="ear rods", axis_u_mm=4.0))
    want = cost_at(math.radians(2.0), 4.0, [50, -35, 0], [92, -42, 0], 0.3)
    assert ledger["axis_cost"].value == pytest.approx(want.rms_mm, rel=1e-3)
    assert not ledger["axis_cost"].assumed
    assert len(says) == 1 and "second molars" in says[0]
    assert ledger.verdicts == [Verdict.DOUBTFUL]
    row = dict(zip(ledger.tables[0].columns, ledger.tables[0].rows[-1], strict=True))
    assert row["teeth"] == "second molars" and row["costs nothing along"] == "35 degrees down, ahead"
    assert row["once they meet, 1 SD"] == f"{want.rms_mm:.2f}"


@pytest.mark.parametrize(
    ("u", "verdict"), [(0.5, Verdict.AGREES), (4.0, Verdict.DOUBTFUL), (12.0, Verdict.DISAGREES)]
)
def test_verdicts_against_the_limit(u, verdict) -> None:
    ledger, says = page(opened(2.0, axis_u_mm=u))
    assert ledger.verdicts == [verdict]
    assert bool(says) is (verdict is not Verdict.AGREES)


def test_no_opening_no_cost() -> None:
    ledger, says = page(opened(0.0, axis="ear rods"))
    assert not says and not ledger.verdicts
    assert "costs nothing" in ledger.notes[0]


def test_a_record_as_thin_as_advised_and_an_axis_as_good_as_advised_agree() -> None:
    case = opened(2.0, axis_u_mm=4.0)
    ledger, _ = page(case)
    thin = next(n for n in ledger.needs if n.field == "records").reading
    mm = float(thin.split("no thicker than ")[1].split(" mm")[0])
    assert "second molars" in thin.split(",")[0]
    angle = mm / 50.0  # at the second molars, first order
    again, _ = page(opened(math.degrees(angle) * 0.97, axis_u_mm=4.0))
    assert again["axis_cost"].value == pytest.approx(0.1, rel=0.06)
    known = float(
        next(n for n in ledger.needs if n.field == "facebow.axis").reading.split(" to ")[1].split(" mm")[0]
    )
    assert page(opened(2.0, axis_u_mm=known))[0]["axis_cost"].value == pytest.approx(0.1, rel=0.05)


def test_average_lengths_are_compared_with_an_earbow() -> None:
    ledger, _ = page(opened(2.0, axis="average lengths, no facebow"))
    told = next(n for n in ledger.notes if "average lengths" in n)
    here = cost_at(math.radians(2.0), AVERAGE.sd_mm, [50, -35, 0], [92, -42, 0], 0.3).beyond
    ears = cost_at(math.radians(2.0), EARS.sd_mm, [50, -35, 0], [92, -42, 0], 0.3).beyond
    assert f"{100 * here:.0f} %" in told and f"{100 * ears:.0f} %" in told and here > ears
    assert len(ledger.tables[1].rows) == 4


def test_the_band_of_an_axis_that_nobody_measured_widens_the_doubt() -> None:
    measured, _ = page(opened(2.0, axis="points measured on the skin", axis_u_mm=5.0))
    assumed, _ = page(opened(2.0, axis="points measured on the skin"))
    assert assumed["axis_cost"].assumed and assumed["axis_cost"].u > 5 * measured["axis_cost"].u
    assert any("published: 1.9 to 8.2" in a.source for a in assumed.assumptions)


def test_one_sided_doubt_turns_the_jaw() -> None:
    ledger, _ = page(opened(2.0, axis_u_mm=4.0))
    want = 2 * math.sin(math.radians(1.0)) * 2 * 4.0 / 110
    assert ledger["axis_turn"].value == pytest.approx(math.degrees(want), rel=1e-3)


def test_implants_are_held_to_their_own_limit() -> None:
    teeth = {"numbering": "iso3950", "missing": [18, 28, 38, 48], "implants": [46]}
    case = opened(2.0, axis_u_mm=2.0)
    plain, _ = page(case)
    with_implant, _ = page(case.model_copy(update={"dentition": type(case.dentition)(**teeth)}))
    assert plain.verdicts == [Verdict.DOUBTFUL] or plain.verdicts == [Verdict.AGREES]
    assert with_implant.verdicts[1] in (Verdict.DOUBTFUL, Verdict.DISAGREES)
    assert "16" in with_implant.reasons[1].text and "agrees up to 0.05" in with_implant.reasons[1].text


def test_the_upper_cast_against_the_photograph() -> None:
    def cant(photo: float) -> tuple[Ledger, list[str]]:
        return page(facebow={**HEIGHTS, "photo_cant_deg": photo, "photo_u_deg": 0.3})

    ledger, says = cant(0.5)
    found = math.degrees(math.atan(0.5 / 54))
    assert ledger["cant"].value == pytest.approx(found) and found > 0
    assert ledger["pitch"].value == pytest.approx(math.degrees(math.atan(8.25 / 40)))
    assert ledger["cant_off"].value == pytest.approx(found - 0.5)
    assert ledger.verdicts == [Verdict.AGREES] and not says
    assert ledger.finds[0].key == "facebow" and ledger.finds[0].values[0] == pytest.approx(
        math.radians(found - 0.5)
    )
    ledger, says = cant(-4.5)
    assert ledger.verdicts == [Verdict.DISAGREES] and "otherwise than in the photograph" in says[0]


def test_heights_that_are_missing_are_asked_for() -> None:
    ledger, says = page(facebow={"front_height_mm": 60.0})
    assert not says and not ledger.verdicts
    assert any(n.field == "facebow.right_height_mm" for n in ledger.needs)


def test_a_pitch_that_hardly_anybody_has_is_questioned() -> None:
    usual, _ = page(facebow=HEIGHTS)
    assert not usual.verdicts and any("Against the axis-orbital plane" in n for n in usual.notes)
    steep, _ = page(facebow={**HEIGHTS, "right_height_mm": 85.0, "left_height_mm": 85.0})
    assert steep.verdicts == [Verdict.DOUBTFUL] and "third reference point" in steep.needs[-2].reading


def tips_of(pitch: float, cant: float, u_deg: float) -> Tips:
    level = {
        11: [90, -40, 4],
        21: [90, -40, -4],
        16: [50, -40, 27],
        26: [50, -40, -27],
        17: [42, -40, 28],
        27: [42, -40, -28],
    }
    moved = exp6([math.radians(cant), 0, -math.radians(pitch), 0, 0, 0])
    places = {t: transform(moved, np.array(p, float)) for t, p in level.items()}
    cov = np.diag([math.radians(u_deg) ** 2] * 3 + [0.1] * 3)
    inner = {t: places[t] for t in (16, 26, 17, 27)}
    return Tips(places, inner, Placed(np.eye(4), cov, "by landmarks", False))


@pytest.mark.parametrize(("pitch", "verdicts"), [(11.65, []), (16.0, [Verdict.DOUBTFUL])])
def test_heights_and_scan_are_held_against_each_other(pitch, verdicts, monkeypatch) -> None:
    monkeypatch.setattr(
        "mountproof.answers.facebow.upper_tips", lambda case, ledger: tips_of(pitch, 0.5, 0.5)
    )
    ledger, _ = page(facebow=HEIGHTS)
    assert ledger.verdicts == verdicts
    assert ledger["pitch"].value == pytest.approx(math.degrees(math.atan(8.25 / 40)))  # the heights are told
    alone, _ = page(facebow={"photo_cant_deg": 0.5, "photo_u_deg": 0.2})
    assert alone["pitch"].value == pytest.approx(pitch, abs=0.05) and alone["cant"].value == pytest.approx(
        0.5, abs=0.05
    )
    # the placement, and the tips of two molars 54 mm apart
    tips_deg = math.degrees(TIP_U_MM * math.sqrt(2.0) / 54.0)
    assert alone["cant"].u == pytest.approx(math.hypot(0.5, tips_deg), rel=0.01)
    assert [t.rows[0][0] for t in ledger.tables if "tooth by tooth" in t.title] == ["17"]
