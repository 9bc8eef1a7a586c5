"""Checks of the casts by hand: what is the casts' fault is said of the casts, and nothing is made of a tooth's give."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from answers import kestrel
from mountproof.answers.casts_checks import casts_checks
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Verdict, worst
from mountproof.phantom import truth
from mountproof.phantom.variants import NARROWED_MM

UPPER = [17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27]


def page(**parts: Any) -> tuple[Ledger, list[str]]:
    ledger = Ledger("mounting")
    return ledger, casts_checks(kestrel.case(**{"foils": [], **parts}), ledger)


def foils(casts_held: list[int], mouth_held: list[int] = UPPER, **more: Any) -> list[dict[str, Any]]:
    both = {"relation": "MIP", "thickness_um": 8, "others_free": True, **more}
    return [
        {"where": "mouth", "held": mouth_held, **both},
        {"where": "casts by hand", "held": casts_held, **both},
    ]


def widths(lower: list[float], mouth: list[float], arch: str = "lower") -> dict[str, Any]:
    teeth = [47, 37] if arch == "lower" else [17, 27]
    return {"arch": arch, "between": teeth, "in_mouth_mm": mouth, "on_cast_mm": lower}


def test_nothing_entered_says_nothing() -> None:
    ledger, says = page()
    assert not says and not ledger.verdicts and not ledger.needs and not ledger.finds


def test_casts_that_rock_are_the_casts_fault() -> None:
    firm, says = page(casts={"seats_by_hand": 1})
    assert not says and firm.verdicts == [Verdict.AGREES] and firm.finds[0].values[0] == 0
    rocks, says = page(casts={"seats_by_hand": 2})
    assert rocks.verdicts == [Verdict.DISAGREES]
    assert "the casts are at fault" in says[0]
    assert rocks.finds[0].key == "rock" and rocks.finds[0].values[0] == 1


def test_foils_that_agree() -> None:
    ledger, says = page(foils=foils(UPPER))
    assert ledger.verdicts == [Verdict.AGREES] and not says
    assert "14 of 14 teeth as in the mouth" in ledger.reasons[0].text
    share = ledger["hand_foils_light"]
    assert share.value == 100.0 and share.low == pytest.approx(76.8, abs=0.1) and share.high == 100.0


def test_one_side_open_is_named_by_likelihood_and_rejected() -> None:
    ledger, says = page(foils=foils([t for t in UPPER if t // 10 == 2]))
    assert worst(tuple(ledger.verdicts)) is Verdict.DISAGREES
    assert "on the right side" in says[0] and "not at the mounting" in says[0]
    assert any("missing on the casts: on the right side 99 %." in n for n in ledger.notes)


def test_two_by_two_table_counts() -> None:
    mouth = [t for t in UPPER if t not in (12, 22)]
    ledger, _ = page(foils=foils([t for t in mouth if t != 16] + [12], mouth))
    assert ledger.tables[0].rows == (
        ("mouth holds", "11", "1"),
        ("mouth does not hold", "1", "1"),
    )
    assert {r[0] for r in ledger.tables[1].rows} == {"16", "12"}
    assert any("nodule" in n.reading and "12" in n.reading for n in ledger.needs)


def test_one_missing_contact_is_doubtful_and_makes_no_pattern() -> None:
    ledger, says = page(foils=foils([t for t in UPPER if t != 16]))
    assert ledger.verdicts == [Verdict.DOUBTFUL]
    assert "open at 16" in says[0] and "side" not in says[0]


def test_firm_and_light_are_kept_apart() -> None:
    firm = foils([t for t in UPPER if t // 10 == 2], closure="firm")
    ledger, says = page(foils=[*foils(UPPER), *firm])
    assert set(ledger.verdicts) == {
        Verdict.AGREES,
        Verdict.DOUBTFUL,
    }  # teeth sink under firm closure: no proof
    assert len(says) == 1 and says[0].startswith("closed firmly")
    assert {q.key for q in ledger.quantities} == {"hand_foils_light", "hand_foils_firm"}
    mixed, says = page(foils=[foils(UPPER)[0], foils(UPPER, closure="firm")[1]])
    assert not says and not mixed.verdicts
    assert "light and firm closure" in mixed.needs[0].why


def dentition(**more: Any) -> dict[str, Any]:
    return {"numbering": "iso3950", "missing": [18, 28, 38, 48], **more}


@pytest.mark.parametrize(
    ("give", "implants", "excused"),
    [(20, [], True), (None, [], False), (20, [16], False), (20, [46], False), (5, [], False)],
)
def test_a_tooth_may_give_and_an_implant_does_not(give, implants, excused) -> None:
    lists = foils([t for t in UPPER if t != 16])
    lists.append({**lists[1], "thickness_um": 20, "held": UPPER})  # on the casts 16 lies 8 to 20 um open
    more = {} if give is None else {"give_um": give}
    ledger, _ = page(foils=lists, dentition=dentition(implants=implants, **more))
    assert ledger.verdicts == [Verdict.AGREES if excused else Verdict.DOUBTFUL]


def test_a_tooth_that_drags_on_the_casts_is_within_its_give() -> None:
    lists = foils([t for t in UPPER if t != 16])
    lists[1]["drags"] = [16]
    assert page(foils=lists)[0].verdicts == [Verdict.AGREES]
    assert page(foils=lists, dentition=dentition(implants=[16]))[0].verdicts == [Verdict.DOUBTFUL]


def test_a_crown_that_is_meant_to_be_free_is_no_fault() -> None:
    listed = [t for t in UPPER if t != 16]
    lists = foils(listed, listed, others_free=False)
    lists[1]["free"] = [16]  # nobody wrote it into the mouth's list: it is meant to be free there
    ledger, says = page(foils=lists, dentition=dentition(implants=[16], meant_free=[16]))
    assert ledger.verdicts == [Verdict.AGREES] and not says
    lists[1].update(held=UPPER, free=[])
    early, says = page(foils=lists, dentition=dentition(implants=[16], meant_free=[16]))
    assert early.verdicts == [Verdict.DOUBTFUL] and "early at 16" in says[0]


def test_universal_numbers_are_read_as_such() -> None:
    lists = foils([3, 4], [3, 4, 5])
    _, says = page(foils=lists, dentition={"numbering": "universal", "missing": [1, 16, 17, 32]})
    assert "open at 5" in says[0]


def test_lists_of_lower_teeth() -> None:
    lower = [47, 46, 45, 35, 36, 37]
    _, says = page(foils=foils([47, 46, 45], lower))
    assert "open at 35, 36, 37" in says[0].replace("37, 36, 35", "35, 36, 37")


def test_trap_70_a_narrow_cast_is_the_casts_and_the_flexure_is_named() -> None:
    """The demo's variant D-2: 0.15 mm narrower, measured ten times each by a caliper of 0.02 mm."""
    rng = np.random.default_rng(70)
    across = 2 * truth.SECOND_MOLAR_MM[2]
    mouth = (across + rng.normal(size=10) * 0.02).round(2).tolist()
    cast = (across - NARROWED_MM + rng.normal(size=10) * 0.02).round(2).tolist()
    caliper = {"resolution_mm": 0.01, "sd_mm": 0.02}
    casts = {"widths": [widths(cast, mouth)], "impression_opening_mm": 32}
    ledger, says = page(casts=casts, caliper=caliper)
    assert "narrower" in says[0] and "the jaw bent" in says[0] and "not of the mounting" in says[0]
    assert worst(tuple(ledger.verdicts)) is Verdict.DOUBTFUL
    assert ledger["width_lower"].value == pytest.approx(-NARROWED_MM, abs=0.03)
    found = ledger.finds[0]
    assert found.key == "width" and found.parts == ("width",) and found.values[0] < 0
    # the same with the caliper off by 0.3 mm: the difference does not see it
    off = {"widths": [widths([v + 0.3 for v in cast], [v + 0.3 for v in mouth])], "impression_opening_mm": 32}
    assert page(casts=off, caliper=caliper)[0]["width_lower"].value == pytest.approx(
        ledger["width_lower"].value
    )


def test_a_narrow_cast_without_a_wide_opening_is_no_flexure() -> None:
    caliper = {"resolution_mm": 0.01, "sd_mm": 0.02}
    row = widths([55.75] * 8, [56.0] * 8)
    _, says = page(casts={"widths": [row], "impression_opening_mm": 5}, caliper=caliper)
    assert "bent" not in says[0] and "casts" in says[0]
    unknown, says = page(casts={"widths": [row]}, caliper=caliper)
    assert "bent" not in says[0] and unknown.needs[-1].field == "casts.impression_opening_mm"
    upper = widths([55.75] * 8, [56.0] * 8, "upper")
    _, says = page(casts={"widths": [upper], "impression_opening_mm": 30}, caliper=caliper)
    assert "bent" not in says[0]


def test_widths_that_agree_and_widths_too_rough_to_tell() -> None:
    caliper = {"resolution_mm": 0.01, "sd_mm": 0.02}
    fine, says = page(casts={"widths": [widths([56.0] * 8, [56.01] * 8)]}, caliper=caliper)
    assert fine.verdicts == [Verdict.AGREES] and not says
    rough, says = page(
        casts={"widths": [widths([55.9], [56.0])]}, caliper={"resolution_mm": 0.05, "sd_mm": 0.05}
    )
    assert rough.verdicts == [Verdict.CANNOT_TELL] and not says
    assert "times in the mouth" in rough.needs[0].reading
    half, says = page(casts={"widths": [widths([], [56.0])]})
    assert not half.verdicts and "on the cast" in half.needs[0].reading


def test_an_old_scan_is_asked_about_where_its_day_is_known() -> None:
    scan = {"arch": "upper", "file": "again.stl", "unit": "mm", "shows": "the mouth"}
    assert not page(casts={"other_scans": [scan]})[0].notes
    near, _ = page(casts={"other_scans": [{**scan, "taken": "2026-02-20"}]})
    assert not near.notes
    old, _ = page(casts={"other_scans": [{**scan, "taken": "2025-09-01"}]})
    assert "197 days" in old.notes[0] and old.needs
