"""Question 3 from scanned records and marks: repeats, visits, thickness with an axis in doubt, the axis itself, how many."""

import math
from typing import Any

import numpy as np
import pytest

from answers import kestrel
from mountproof.answers import record, scanned_records
from mountproof.answers.picture_data import RecordEvidence, Scatter
from mountproof.answers.progress import quiet
from mountproof.answers.result import Answer, Verdict
from mountproof.bench.same_opening import repeat_cov6
from mountproof.case.model import Case
from mountproof.geometry.poses import exp6, opened, translation
from mountproof.records.repeats import repeats_for_mean, repeats_needed


def turned(degrees: float, off: Any = (0.0,) * 6, axis: tuple[float, float] = (0.0, 0.0)) -> np.ndarray:
    """A record that opens by so much about the patient's axis (ahead, above of the entered one), with ``off`` besides."""
    at = translation([axis[0], axis[1], 0.0])
    return at @ opened(math.radians(degrees)) @ np.linalg.inv(at) @ exp6(np.array(off))


def scanned(poses: dict[str, np.ndarray], visits: dict[str, str] | None = None, **changes: Any) -> Case:
    records = {
        name: {
            "kind": "CR",
            "upper_from_lower": pose.tolist(),
            "relation_in": "frame coordinates",
            "visit": (visits or {}).get(name, ""),
        }
        for name, pose in poses.items()
    }
    return kestrel.case(
        **{"marks": None, "pin_readings": [], "mounted_on": "one", "records": records, "foils": [], **changes}
    )


def told(case: Case) -> Answer:
    return record.answer(case, quiet)


@pytest.fixture(autouse=True)
def fine_scanner(monkeypatch: pytest.MonkeyPatch) -> None:
    """Relations that came as numbers are as good as a good scanner's, so that what is planted stands out."""
    monkeypatch.setattr(scanned_records, "MATRIX_SD_MM", 0.01)


ALIKE = {"one": turned(2.0), "two": turned(2.2, (0, 0, 0, 0.03, -0.02, 0.02)), "three": turned(2.1)}


def test_scanned_records_that_agree() -> None:
    found = told(scanned(ALIKE))
    assert found.headline.startswith(("The records agree", "No difference between the records was found"))
    assert any("0.52 to 6.3 times" in note for note in found.notes)
    assert "show" in found.reasons[0].text
    table = next(t for t in found.tables if t.title.startswith("Records compared"))
    assert [row[0] for row in table.rows][-2:] == ["right second molar, up", "left second molar, up"]


def test_a_condyle_that_sags_in_one_record_is_named_and_drawn() -> None:
    # 0.8 mm down at the left condyle, nothing at the right one
    sag = (-0.8 / 110.0, 0.0, 0.0, 0.0, -0.4, 0.0)
    poses = {**ALIKE, "four": turned(2.0), "two": turned(2.2, sag)}
    found = told(scanned(poses, mounted_on="two"))
    assert "Two stands out" in found.headline
    assert found.verdict is Verdict.DISAGREES
    assert isinstance(found.evidence, RecordEvidence)
    drawn = found.evidence.scatter
    assert drawn is not None
    assert (drawn.mounted, drawn.outlier) == ("two", "two")
    assert drawn.nearest in ("one", "three", "four")
    right, left = drawn.dots[:2]
    at = drawn.names.index("two")
    assert left.places_mm[at][1] == pytest.approx(-0.8, abs=0.06)
    assert right.places_mm[at][1] == pytest.approx(0.0, abs=0.06)
    assert [d.name for d in drawn.dots][2:] == ["incisors", "right second molar", "left second molar"]
    assert right.usual_sd_mm == pytest.approx(0.1, abs=0.005) and right.usual_assumed
    ledger = record.noted_parts(scanned(poses, mounted_on="two"), quiet).ledger
    find = next(f for f in ledger.finds if f.key == "repeats")
    of = dict(zip(find.parts, find.values, strict=True))
    assert of["left condyle down"] == pytest.approx(0.8, abs=0.06)
    assert of["right condyle down"] == pytest.approx(0.0, abs=0.06)
    assert any(isinstance(p, Scatter) for p in ledger.pictures)


def test_27_unequal_thickness_and_an_axis_in_doubt_are_not_blamed_on_a_record() -> None:
    """An axis 12 mm off and 4 degrees between records: 0.8 mm, which no located axis would leave."""
    poses = {"one": turned(1.0, axis=(9, 8)), "two": turned(5.0, axis=(9, 8))}
    own = {"record_repeat_mm": 0.08, "record_repeat_dof": 40}
    found = told(scanned(poses, facebow={"axis": "ear rods"}, **own))
    assert found.verdict is Verdict.CANNOT_TELL
    assert any("cannot be told from disagreement" in r.text for r in found.reasons)
    assert any(need.reading == "records of one thickness, or the axis located" for need in found.needs)
    located = told(scanned(poses, facebow={"axis": "located by opening and closing"}, **own))
    assert located.verdict is Verdict.DISAGREES
    # records of one thickness that differ by as much differ, whatever the axis
    level = {"one": turned(3.0), "two": turned(3.0, (0, 0, 0, 0.6, -0.6, 0.0))}
    assert told(scanned(level, facebow={"axis": "ear rods"}, **own)).verdict is Verdict.DISAGREES


def test_31_visits_are_held_apart() -> None:
    poses = {
        "one": turned(2.0),
        "two": turned(2.0, (0, 0, 0, 0.02, 0, 0)),
        "three": turned(2.0, (0, 0, 0, 0.9, 0, 0)),
    }
    poses["four"] = turned(2.0, (0, 0, 0, 0.88, 0.02, 0))
    visits = {"one": "1", "two": "1", "three": "2", "four": "2"}
    found = told(scanned(poses, visits, record_repeat_mm=0.05, visit_repeat_mm=0.3))
    assert found.verdict is Verdict.DOUBTFUL
    assert any("moved between the visits" in r.text for r in found.reasons)
    table = next(t for t in found.tables if t.title.startswith("Within and between"))
    ahead = table.rows[0]
    assert float(ahead[1]) < 0.05 < 0.4 < float(ahead[3])
    assert "to" in ahead[2] and "to" in ahead[4]
    one_day = told(scanned(poses, dict.fromkeys(visits, "1"), record_repeat_mm=0.05))
    assert one_day.verdict is Verdict.DISAGREES
    assert not any(t.title.startswith("Within and between") for t in one_day.tables)


def test_28_an_sd_of_few_records_is_not_taken_as_known() -> None:
    poses = {"one": turned(2.0), "two": turned(2.0, (0, 0, 0, 0.3, 0.2, 0.0))}
    known = told(scanned(poses, record_repeat_mm=0.05))
    assert any("taken as exact" in note for note in known.notes)
    few = told(scanned(poses, record_repeat_mm=0.05, record_repeat_dof=2))
    wide, narrow = (
        float(next(t for t in f.tables if t.title.startswith("Records compared")).rows[0][-2])
        for f in (few, known)
    )
    assert wide > narrow


def test_25_how_many_records_hold_two_tenths() -> None:
    """Against simulation within 5 %: means of so many lie within 0.2 mm, and differences of 0.2 mm are found."""
    found = told(scanned(ALIKE, record_repeat_mm=0.15, record_repeat_dof=24))
    one, each = found["records_for_one"], found["records_to_compare"]
    assert one.value == repeats_for_mean(0.15, 0.2) == 3
    assert each.value == repeats_needed(0.15, 0.2, power=0.9) == 12
    assert one.low is not None and one.high is not None and one.low <= one.value <= one.high
    rng = np.random.default_rng(25)
    for s in (0.08, 0.15, 0.3):
        # the formula before it is rounded up to whole records
        n = repeats_needed(s, 0.2, power=0.9)
        a, b = (rng.normal(0.0, s, (40_000, n)).mean(axis=1) for _ in range(2))
        seen = np.mean(np.abs(b + 0.2 - a) > 1.959964 * s * math.sqrt(2.0 / n))
        exact = 0.5 * math.erfc(-(0.2 / (s * math.sqrt(2.0 / n)) - 1.959964) / math.sqrt(2.0))
        assert seen == pytest.approx(exact, rel=0.05)
        assert seen >= 0.9 * 0.95
        m = repeats_for_mean(s, 0.2)
        held = np.mean(np.abs(rng.normal(0.0, s, (40_000, m)).mean(axis=1)) <= 0.2)
        assert held >= 0.95 * 0.99
        if m > 1:
            fewer = np.mean(np.abs(rng.normal(0.0, s, (40_000, m - 1)).mean(axis=1)) <= 0.2)
            assert fewer < 0.95
    assert any("in 95 of 100 cases" in note for note in found.notes)


def test_the_axis_is_found_from_a_thick_and_a_thin_record() -> None:
    rng = np.random.default_rng(4)
    root = np.linalg.cholesky(repeat_cov6(0.03, 110.0) + np.diag([0, 0, 1e-16, 0, 0, 0]))
    axis = (9.0, -7.0)
    poses = {
        name: turned(deg, root @ rng.normal(size=6), axis=axis)
        for name, deg in (("one", 1.0), ("two", 9.0), ("three", 5.0))
    }
    found = told(scanned(poses, record_repeat_mm=0.03, facebow={"axis_u_mm": 8}))
    for key, truth in (("axis_ahead", axis[0]), ("axis_above", axis[1])):
        q = found[key]
        assert q.u is not None and q.u < 3.0
        assert abs(q.value - truth) < 3.0 * q.u
    assert "turn about an axis" in found.headline and "ahead" in found.headline and "below" in found.headline
    table = next(t for t in found.tables if t.title.startswith("What the doubt of the axis costs"))
    assert all(float(row[2]) < float(row[1]) for row in table.rows)
    assert any("slid by" in note for note in found.notes)


def test_records_too_alike_do_not_show_the_axis_and_the_one_to_take_is_named() -> None:
    found = told(scanned(ALIKE, facebow={"axis": "ear rods"}))
    assert not any(q.key == "axis_ahead" for q in found.quantities)
    assert any("too alike in thickness" in note for note in found.notes)
    need = next(n for n in found.needs if "opens the incisors" in n.reading)
    assert "more than one" in need.reading
    sure = told(scanned(ALIKE, facebow={"axis": "located by opening and closing", "axis_u_mm": 0.3}))
    assert any("no longer only turns" in note for note in sure.notes)


def test_one_scanned_record_asks_for_a_second() -> None:
    found = told(scanned({"one": turned(2.0)}))
    assert found.verdict is Verdict.CANNOT_TELL
    assert any("second and a third CR record" in need.reading for need in found.needs)
    assert found.evidence is None


def test_scans_and_marks_are_both_told() -> None:
    records = {
        name: {"kind": "CR", "upper_from_lower": pose.tolist(), "relation_in": "frame coordinates"}
        for name, pose in (("record 1", turned(2.0)), ("record 2", turned(2.1)))
    }
    whole = kestrel.data()
    found = told(kestrel.case(records={**whole["records"], **records}))
    assert "By scans: " in found.headline and "By marks: " in found.headline
    assert sum(t.title.startswith("Records compared") for t in found.tables) == 2


def test_an_axis_in_doubt_is_not_taken_for_visits_that_differ() -> None:
    """A thin record on one day and a thick one on another, of one relation, about an axis 12 mm off."""
    poses = {
        "one": turned(1.5, axis=(9, -8)),
        "two": turned(6.0, axis=(9, -8)),
        "three": turned(1.6, axis=(9, -8)),
    }
    visits = {"one": "1", "two": "2", "three": "1"}
    found = told(scanned(poses, visits, record_repeat_mm=0.05, facebow={"axis": "ear rods"}))
    assert not any("between the visits" in r.text for r in found.reasons)
    assert found.verdict is Verdict.CANNOT_TELL
