"""What the mouth showed afterwards against what was predicted, and whether CR moved over the months."""

from __future__ import annotations

from typing import Any

import pytest

from answers import kestrel
from mountproof.answers.asked import asked
from mountproof.answers.case_numbers import case_numbers
from mountproof.answers.followup import _by_chance, brier, follow_up
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import ContactChances, ToothChance
from mountproof.answers.progress import quiet
from mountproof.answers.result import Answer
from mountproof.case.model import Case


def delivered(**changes: Any) -> Case:
    visit = {
        "date": "2026-05-04",
        "delivered": "provisional",
        "minutes": 12,
        "adjusted": [{"tooth": 16, "um": 40}, {"tooth": 15}],
        "first_contact": [15],
        "thickness_um": 8,
        "held": [15, 16, 45],
        "others_free": True,
        **changes,
    }
    return kestrel.case(followups=[visit])


def test_found_is_counted_against_predicted() -> None:
    case = delivered()
    answer: Answer = asked(case, "doubt", quiet)
    # 14 upper teeth are there, the third molars are not; only 16 held in the mouth and not on the mounting
    assert answer["followup_agreement"].value == pytest.approx(100.0 * 13 / 14)
    assert any("13 of 14" in n and "Otherwise at 16" in n for n in answer.notes)
    table = next(t for t in answer.tables if t.title == "Afterwards in the mouth")
    assert table.rows == (("2026-05-04, provisional", "12", "16, 15", "40", "15"),)
    numbers = case_numbers(case, quiet)
    assert numbers.value("followup_minutes") == 12.0 and numbers.value("followup_adjusted_um") == 40.0
    assert (numbers.value("followup_agree"), numbers.value("followup_compared")) == (13.0, 14.0)


def test_another_foil_is_not_compared() -> None:
    answer = asked(delivered(thickness_um=12), "doubt", quiet)
    assert all(q.key != "followup_agreement" for q in answer.quantities)
    assert any(n.field == "followups" for n in answer.needs)


def test_nothing_afterwards_changes_nothing() -> None:
    page = Ledger("doubt")
    follow_up(kestrel.case(), None, page, quiet)
    assert page == Ledger("doubt")


def test_chances_are_scored() -> None:
    assert brier([1.0, 0.0], [True, False]) == 0.0
    assert brier([0.5, 0.5, 0.5], [True, False, False]) == 0.25
    with pytest.raises(ValueError, match="one outcome"):
        brier([], [])
    teeth = tuple(ToothChance(t, 0.1, h, 0.0, 0.0, None, False) for t, h in ((15, 0.9), (16, 0.2), (24, 0.1)))
    page = Ledger("doubt")
    _by_chance(
        delivered(held=[15], free=[16, 24], others_free=False),
        ContactChances(8.0, "light", teeth, 9, True),
        page,
    )
    assert pytest.approx(0.02) == (0.1**2 + 0.2**2 + 0.1**2) / 3
    assert page.tables[0].note.startswith("Mean square miss 0.020: 0 is perfect")


def _later(shift_mm: float) -> Ledger:
    pose = [[1, 0, 0, 0.0], [0, 1, 0, 0.0], [0, 0, 1, 0], [0, 0, 0, 1]]
    records = {}
    for i in range(6):
        own = [list(r) for r in pose]
        own[0][3] = 0.02 * (i % 3) + (shift_mm if i >= 3 else 0.0)
        records[f"r{i}"] = {
            "kind": "CR",
            "visit": "1" if i < 3 else "2",
            "upper_from_lower": own,
            "relation_in": "frame coordinates",
        }
    case = kestrel.case(
        marks=None,
        pin_readings=None,
        mounted_on="r0",
        records=records,
        record_repeat_mm=0.1,
        record_repeat_dof=30,
        visit_repeat_mm=0.1,
        followups=[{"date": "2026-09-01", "visit": "2"}],
    )
    page = Ledger("doubt")
    follow_up(case, None, page, quiet)
    return page


def test_cr_that_moved_is_told_from_one_that_did_not() -> None:
    still, moved = _later(0.0), _later(1.5)
    assert any("no change beyond" in n for n in still.notes)
    assert any("CR has moved" in n for n in moved.notes)
    assert any("CR moved between the visits" in r.text for r in moved.reasons)
    row = next(t for t in moved.tables if t.title.startswith("CR from the first")).rows[0]
    assert row[1] == "+1.50"
