"""The change that foil lists tell, as question 4 says it: judged, bounded, drawn and weighed."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from answers import kestrel
from mountproof.answers.foil_fit import foil_fit
from mountproof.answers.foils import compare_foils
from mountproof.answers.hand_foils import hand_foils
from mountproof.answers.ledger import Ledger
from mountproof.answers.mounting import answer
from mountproof.answers.progress import quiet
from mountproof.answers.result import Verdict
from mountproof.case.model import Case
from mountproof.doubt.motions import hinge_opening

UPPER = (17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27)
BACK = (17, 16, 15, 14, 24, 25, 26, 27)
#: Foils of these thicknesses (um) tried at every tooth.
FOILS = (8, 20, 40, 60, 100, 200)


def foil(where: str, um: float, held: Any, **more: Any) -> dict[str, Any]:
    entry = {"where": where, "relation": "CR", "thickness_um": um, "held": list(held), "others_free": True}
    return entry | more


def both(held: Any, on_casts: Any = None, um: float = 8, **more: Any) -> list[dict[str, Any]]:
    return [
        foil("mouth", um, held, **more),
        foil("mounting", um, held if on_casts is None else on_casts, **more),
    ]


def raised(right_mm: float, left_mm: float, foils: tuple[float, ...] = FOILS) -> list[dict[str, Any]]:
    """Lists of a mouth whose back teeth are in contact (front 0.15 mm), and of casts that stand off on both sides so much."""
    gap = {t: 0.0 if t in BACK else 0.15 for t in UPPER}
    off = {t: right_mm if t // 10 == 1 else left_mm for t in UPPER}
    front = {13: 0.6, 12: 0.4, 11: 0.15, 21: -0.15, 22: -0.4, 23: -0.6}
    for t, share in front.items():
        off[t] = 0.5 * (right_mm + left_mm) + 0.5 * share * (right_mm - left_mm)
    out = []
    for um in foils:
        out.append(foil("mouth", um, [t for t in UPPER if gap[t] < um / 1000 + 0.03]))
        out.append(foil("mounting", um, [t for t in UPPER if gap[t] + off[t] < um / 1000]))
    return out


def page(foils: list[dict[str, Any]], **parts: Any) -> tuple[Ledger, str]:
    ledger = Ledger("mounting")
    case = kestrel.case(foils=foils, **parts)
    compared = compare_foils(case, ledger)
    return ledger, foil_fit(case, ledger, compared=bool(compared))


def dentition(**more: Any) -> dict[str, Any]:
    return {"numbering": "iso3950", "missing": [18, 28, 38, 48], **more}


def test_the_demo_says_what_it_said_and_shows_its_foils() -> None:
    with_foils, without = answer(kestrel.case(), quiet), answer(kestrel.case(foils=[]), quiet)
    assert "the foils agree with the mouth" in with_foils.headline
    assert with_foils.verdict is without.verdict
    assert "record 3" in with_foils.headline
    charts = with_foils.evidence.foils  # type: ignore[attr-defined]
    assert [(c.relation, c.casts.where) for c in charts] == [("CR", "mounting"), ("MIP", "casts by hand")]
    cr = charts[0]
    assert cr.differs == () and set(cr.fitted_um) == set(UPPER)
    gap, low, high = cr.fitted_um[15]
    assert low <= gap <= high < 100.0
    # where the foil is free in both, nothing bounds the gap from above
    assert math.isnan(cr.fitted_um[27][0]) and math.isinf(cr.fitted_um[27][2])
    # one tooth holds: shift and tilt stay open, which is told and judges nothing
    assert not any("foils in CR tell" in r.text for r in with_foils.reasons)
    assert any(n.startswith("Foils do not tell to 0.1 mm") for n in with_foils.notes)
    assert with_foils.needs[0].field != "foils"


def test_casts_raised_on_the_right_are_seen() -> None:
    ledger, said = page(raised(0.25, 0.0))
    assert "second molar right" in said
    roll, right, left = (ledger[f"foil_fit_{k}"] for k in ("roll", "right", "left"))
    assert roll.low is not None and roll.low > 0.1
    assert right.low is not None and right.low > 0.1
    assert left.value < 0.5 * right.value
    told = {r.text[:45]: v for r, v in zip(ledger.reasons, ledger.verdicts, strict=True)}
    assert told["the foils in CR tell a tilt of the casts, ope"] in (Verdict.DISAGREES, Verdict.DOUBTFUL)


def test_an_even_lift_is_a_shift_and_no_tilt() -> None:
    ledger, said = page(raised(0.3, 0.3))
    assert said
    verdict = next(
        v
        for r, v in zip(ledger.reasons, ledger.verdicts, strict=True)
        if r.text.startswith("the foils in CR tell a shift")
    )
    assert verdict is Verdict.DISAGREES
    down, roll = ledger["foil_fit_down"], ledger["foil_fit_roll"]
    assert down.low is not None and 0.2 < down.low < 0.3 < down.high  # type: ignore[operator]
    assert roll.low < 0.0 < roll.high  # type: ignore[operator]


def test_the_mirror_image_of_a_lift_is_told_on_the_left() -> None:
    right, _ = page(raised(0.25, 0.0))
    left, said = page(raised(0.0, 0.25))
    assert "second molar left" in said
    assert left["foil_fit_roll"].value == pytest.approx(-right["foil_fit_roll"].value, abs=0.02)
    assert left["foil_fit_left"].value == pytest.approx(right["foil_fit_right"].value, abs=0.02)


def test_one_foil_held_by_every_tooth_is_a_bound_and_no_size() -> None:
    ledger, said = page(both(UPPER))
    assert said == ""
    assert any("bounds the change" in n and "measures none" in n for n in ledger.notes)
    down = ledger["foil_fit_down"]
    assert down.low < 0.0 < down.high  # type: ignore[operator]
    thick, _ = page(both(UPPER, um=200))
    assert thick["foil_fit_down"].u > 2.0 * down.u  # type: ignore[operator]
    assert not any("bounds the change" in n for n in page(raised(0.1, 0.1))[0].notes)


def test_no_tooth_holding_tells_nothing_and_leaves_no_find() -> None:
    ledger, said = page(both(()))
    assert said == "" and not ledger.finds
    assert any("no change at all" in n for n in ledger.notes)
    assert all(q.assumed for q in ledger.quantities if q.key in ("foil_fit_pitch", "foil_fit_roll"))


def test_the_find_leaves_closing_to_the_check_that_has_it() -> None:
    ledger, _ = page(raised(0.15, 0.0))
    (found,) = ledger.finds
    assert found.key == "foils" and found.parts == ("down", "pitch", "roll")
    turn = hinge_opening()[:3]
    # what the hinge does alone is known to no better than a whole fault of closing (20 mrad)
    assert turn @ np.linalg.solve(found.cov, turn) <= 1.0 / 0.02**2 + 1e-6
    sd = np.sqrt(np.diag(found.cov))
    assert found.values[2] > 3.0 * sd[2] and sd[0] > 1.0
    # all checks together hear it: the mounting is off by more on the side that stands off
    off = []
    for lists in (raised(0.25, 0.0), both(BACK), raised(0.0, 0.25)):
        numbers = {q.key: q.value for q in answer(kestrel.case(foils=lists), quiet).quantities}
        off.append(numbers["off_right"] - numbers["off_left"])
    right, level, left = off
    assert right > level + 0.02 and left < level - 0.02


def test_light_and_firm_cr_and_mip_are_fitted_apart_and_only_light_cr_is_judged() -> None:
    lists = both(BACK) + both(BACK, BACK[:4], closure="firm") + both(BACK, BACK[4:], relation="MIP")
    ledger, said = page(lists)
    keys = {q.key for q in ledger.quantities}
    assert {"foil_fit_down", "foil_fit_down_firm", "foil_fit_down_mip"} <= keys
    assert [(c.relation, c.mouth.closure) for c in ledger.pictures] == [  # type: ignore[attr-defined]
        ("CR", "light"),
        ("CR", "firm"),
        ("MIP", "light"),
    ]
    assert said == "" and len(ledger.finds) == 1
    assert Verdict.DISAGREES not in ledger.verdicts
    assert sum("shown and not judged" in n for n in ledger.notes) == 2
    assert ledger["foil_fit_roll_firm"].value < 0.0 < ledger["foil_fit_roll_mip"].value


def test_limits_decide() -> None:
    lists = raised(0.15, 0.15)

    def shift(**limits: Any) -> Verdict:
        ledger, _ = page(lists, limits={"foil_fit_shift": limits} if limits else {})
        return next(
            v
            for r, v in zip(ledger.reasons, ledger.verdicts, strict=True)
            if r.text.startswith("the foils in CR tell a shift")
        )

    assert shift(decent=0.5, redo=0.6) is Verdict.AGREES
    assert shift(decent=0.01, redo=0.05) is Verdict.DISAGREES
    assert shift(decent=0.1, redo=0.3) is Verdict.DOUBTFUL


def test_implants_do_not_give_and_what_is_meant_free_may_be() -> None:
    lists = both(BACK, [t for t in BACK if t != 16])
    natural, _ = page(lists)
    rigid, _ = page(lists, dentition=dentition(implants=[46]))
    # the same list tells more of a tooth that cannot have sunk onto its foil
    assert rigid["foil_fit_right"].value > natural["foil_fit_right"].value
    free = [
        foil("mouth", 8, [t for t in BACK if t != 16], others_free=False),
        foil("mounting", 8, [t for t in BACK if t != 16]),
    ]
    told, _ = page(free, dentition=dentition(implants=[16], meant_free=[16]))
    assert 16 in told.pictures[0].teeth  # type: ignore[attr-defined]
    untold, _ = page(free, dentition=dentition(implants=[16]))
    assert 16 not in untold.pictures[0].teeth  # type: ignore[attr-defined]


def test_a_give_that_was_entered_is_not_assumed() -> None:
    lists = both(BACK)
    assumed, _ = page(lists)
    entered, _ = page(lists, dentition=dentition(give_um=20))
    assert any("give under a foil" in a.what for a in assumed.assumptions)
    assert not any("give under a foil" in a.what for a in entered.assumptions)
    more, _ = page(lists, dentition=dentition(give_um=100))
    assert more["foil_fit_down"].low < entered["foil_fit_down"].low  # type: ignore[operator]


def test_foils_that_contradict_each_other_are_asked_for_again() -> None:
    lists = [*both(BACK), foil("mounting", 40, [t for t in BACK if t != 24])]
    ledger, _ = page(lists)
    need = next(n for n in ledger.needs if "all thicknesses" in n.reading)
    assert "24" in need.reading and need.field == "foils"
    assert 24 not in ledger.pictures[0].teeth  # type: ignore[attr-defined]


def test_one_tooth_against_all_others_is_asked_for_again() -> None:
    lists = [*both(BACK, [t for t in BACK if t != 25]), foil("mounting", 200, [t for t in BACK if t != 25])]
    ledger, _ = page(lists)
    assert any(n.reading.startswith("the foil at 25 once more") for n in ledger.needs)


def test_lists_of_different_thickness_are_fitted_though_not_compared() -> None:
    ledger, _ = page([foil("mouth", 8, BACK), foil("mounting", 40, BACK)])
    assert any("not compared" in n.why for n in ledger.needs)
    # nothing else judges these lists, so that an open answer is told as one
    assert set(ledger.verdicts) and len(ledger.verdicts) == 3
    assert "foil_fit_down" in {q.key for q in ledger.quantities}


def test_the_other_numbering_and_lower_lists_tell_the_same() -> None:
    iso, _ = page(both(BACK, [15, 14, 24, 25, 26, 27]))
    numbers = {17: 2, 16: 3, 15: 4, 14: 5, 24: 12, 25: 13, 26: 14, 27: 15}
    other, _ = page(
        both([numbers[t] for t in BACK], [4, 5, 12, 13, 14, 15]),
        dentition={"numbering": "universal", "missing": [1, 16, 17, 32]},
    )
    lower, _ = page(both([*range(44, 48), *range(34, 38)], [45, 44, 34, 35, 36, 37]))
    for key in ("down", "pitch", "roll"):
        assert other[f"foil_fit_{key}"].value == iso[f"foil_fit_{key}"].value
        # the lower arch is named in another order, nothing else
        assert lower[f"foil_fit_{key}"].value == pytest.approx(
            iso[f"foil_fit_{key}"].value, rel=1e-6, abs=1e-9
        )


def test_casts_by_hand_get_the_same_picture() -> None:
    entries = [foil("mouth", 8, BACK, relation="MIP"), foil("casts by hand", 8, BACK[4:], relation="MIP")]
    case: Case = kestrel.case(foils=entries)
    ledger = Ledger("mounting")
    hand_foils(case, ledger)
    (chart,) = ledger.pictures
    assert (chart.relation, chart.casts.where) == ("MIP", "casts by hand")  # type: ignore[attr-defined]
    assert chart.differs == BACK[:4] and chart.fitted_um  # type: ignore[attr-defined]
    assert [f.key for f in ledger.finds] == ["hand_foils"]


def test_without_lists_or_teeth_tried_in_both_nothing_is_said() -> None:
    for lists in (
        [],
        both(BACK)[:1],
        [foil("mouth", 8, [17], others_free=False), foil("mounting", 8, [27], others_free=False)],
    ):
        ledger, said = page(lists)
        assert said == "" and not ledger.pictures and not ledger.finds and not ledger.quantities
