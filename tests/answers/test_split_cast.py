"""The gaps of a split cast in question 4: carried to the molars, judged, weighed, refused in a line."""

from __future__ import annotations

import math

import numpy as np
import pytest

from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import MountingEvidence
from mountproof.answers.result import Answer, Verdict
from mountproof.answers.sheet import answer
from mountproof.answers.split_cast import split_casts, verified_by
from mountproof.case.model import Case

RIM = ((90.0, 0.0), (50.0, 25.0), (50.0, -25.0), (50.0, 0.0))


def case(gaps: list[dict[str, float]], **more: object) -> Case:
    return Case(
        code="SPLIT",
        mounted_on="record 1",
        records={"record 1": {"kind": "CR"}, "record 2": {"kind": "CR"}},
        proof={"split_casts": [{"record": "record 2", "gaps": gaps, **more}]},
    )


def tilted(height: float, slope_ahead: float, slope_right: float, **more: object) -> Case:
    return case(
        [
            {
                "ahead_mm": x,
                "right_mm": z,
                "gap_mm": round(height + slope_ahead * (x - 60) + slope_right * z, 6),
            }
            for x, z in RIM
        ],
        **more,
    )


def asked(one: Case) -> Answer:
    return answer(one, ["mounting"])["mounting"]


def test_a_tilt_to_the_right_is_carried_to_the_right_molar_and_its_cause_named() -> None:
    found = asked(tilted(0.2, 0.0, 0.2 / 25.0, gap_sd_mm=0.02))
    assert found["split_cast"].value == pytest.approx(0.2 + 28.0 * 0.2 / 25.0, abs=1e-6)
    assert "right" in found["split_cast"].label
    assert found["split_cast_roll"].value == pytest.approx(math.degrees(0.2 / 25.0), abs=1e-6)
    assert found["split_cast_pitch"].value == pytest.approx(0.0, abs=1e-6)
    assert found.verdict is Verdict.DISAGREES
    assert "does not close with record 2" in found.headline
    assert "not verified" not in found.headline
    assert isinstance(found.evidence, MountingEvidence) and len(found.evidence.splits) == 1
    plane = found.evidence.splits[0].plane
    assert plane[0] + 50.0 * plane[1] + 25.0 * plane[2] == pytest.approx(0.4, abs=1e-6)
    assert [round(mm, 3) for _, _, _, mm, _ in found.evidence.splits[0].carried[:2]] == [0.424, -0.024]
    causes = {c.key: c.chance for c in found.evidence.causes}
    assert causes.get("record_right", 0.0) + causes.get("set_right", 0.0) > causes.get("set_left", 0.0)


def test_bases_that_close_agree() -> None:
    found = asked(tilted(0.01, 0.0, 0.0, gap_sd_mm=0.01))
    assert "the split cast closes with record 2" in found.headline
    assert any("inside its limit" in r.text for r in found.reasons)


def test_strips_stand_for_numbers() -> None:
    gaps: list[dict[str, float]] = [{"ahead_mm": x, "right_mm": z, "holds_um": 12} for x, z in RIM[:3]]
    gaps[1] |= {"passes_um": 40, "holds_um": 100}
    page = Ledger("mounting")
    says = split_casts(case(gaps, gap_sd_mm=0.005), page)
    assert len(says) == 1
    assert page["split_cast"].value == pytest.approx(0.07, abs=0.02)


def test_places_in_a_line_are_refused_with_the_place_to_add() -> None:
    line: list[dict[str, float]] = [
        {"ahead_mm": 60, "right_mm": z, "gap_mm": 0.1} for z in (-25.0, 0.0, 25.0)
    ]
    found = asked(case(line))
    assert found.verdict is Verdict.CANNOT_TELL
    assert any("one line" in r.text for r in found.reasons)
    assert any("one more place" in n.reading for n in found.needs)


def test_a_gap_off_the_plane_is_asked_about() -> None:
    one = tilted(0.1, 0.0, 0.0, gap_sd_mm=0.01)
    gaps = [g.model_dump(exclude_none=True) for g in one.proof.split_casts[0].gaps]
    gaps[3]["gap_mm"] = 0.3
    assert any("in no plane" in r.text for r in asked(case(gaps, gap_sd_mm=0.01)).reasons)


def test_the_interval_at_the_molar_covers_the_planted_gap() -> None:
    rng = np.random.default_rng(3)
    truth, inside = 0.15 + 0.003 * 28.0, 0
    clean = [0.15 + 0.001 * (x - 50.0) + 0.003 * z for x, z in RIM]
    for row in rng.normal(0.0, 0.02, (2000, len(RIM))):
        page = Ledger("mounting")
        read = case(
            [
                {"ahead_mm": x, "right_mm": z, "gap_mm": max(0.0, g + e)}
                for (x, z), g, e in zip(RIM, clean, row, strict=True)
            ],
            gap_sd_mm=0.02,
        )
        split_casts(read, page)
        q = page["split_cast"]
        assert q.low is not None and q.high is not None
        inside += q.low <= truth <= q.high
    assert 0.93 <= inside / 2000 <= 0.97


def test_who_verified_it() -> None:
    assert verified_by(tilted(0.0, 0.0, 0.0)) == "record 2"
    assert verified_by(Case(code="NONE")) == ""
