"""Question 3 from a scanned record: each planted fault is what the part says first, and a good record is left in peace."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from answers.record_scan_case import AWAY, arch, judged, off_mm, record_case
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import ResidualMap
from mountproof.answers.result import Verdict, Why
from mountproof.answers.scanned_records import MATRIX_SD_MM, scanned_relations
from mountproof.answers.sheet import answer
from mountproof.case.scans import write_stl
from mountproof.faults import FaultError
from mountproof.geometry.poses import Array, point_cov
from mountproof.phantom.record_scan import Faults, RecordScan, Spot, cusp_of, joined_casts, record_surface
from mountproof.phantom.truth import record_pose

POSE = record_pose(1)
BACK = tuple(10 * q + k for q in (1, 2, 3, 4) for k in (4, 5, 6, 7))


def _scan(**more: object) -> RecordScan:
    given = {"edge_mm": 0.4, "noise_mm": 0.01, "scan_from_upper": AWAY} | more
    return record_surface(arch("upper"), arch("lower"), POSE, **given)  # type: ignore[arg-type]


def _spot(name: str, tooth: int, radius: float, height: float, behind: float = 0.0) -> Spot:
    at = cusp_of(arch(name), tooth, name, None if name == "upper" else POSE)
    return Spot(name, at[0] - behind, at[2], radius, height)


def test_a_good_record_lies_on_both_casts(tmp_path: Path) -> None:
    case = record_case(tmp_path, _scan())
    ledger, says = judged(case)
    assert says == ["Wax 1 lies on both casts"]
    assert set(ledger.verdicts) == {Verdict.AGREES}
    maps = [p for p in ledger.pictures if isinstance(p, ResidualMap)]
    assert [m.arch for m in maps] == ["upper", "lower"]
    assert all(np.isfinite(m.residual_mm).sum() > 1000 and not m.spots for m in maps)
    (found,) = scanned_relations(case, Ledger("record"))
    assert found.source == "scan" and off_mm(found.upper_from_lower, POSE) < 0.015
    whole = answer(case, ["record"])["record"]
    assert "Wax 1 lies on both casts" in whole.headline
    assert whole.evidence is not None


@pytest.mark.parametrize(
    ("faults", "first", "verdict"),
    [
        (lambda: Faults(twist_mm=0.2), "Wax 1 is twisted by", Verdict.DISAGREES),
        (lambda: Faults(rock_mm=("upper", 0.25)), "Wax 1 rocks on the upper cast", Verdict.DISAGREES),
        (lambda: Faults(voids=(_spot("lower", 46, 1.2, 0.0),)), "Wax 1 has a void at 46", Verdict.DOUBTFUL),
        (lambda: Faults(blobs=(_spot("upper", 16, 1.0, 0.3),)), "Wax 1 rides at 16", Verdict.DISAGREES),
        (
            lambda: Faults(gum=(_spot("upper", 17, 3.0, 0.2, 9.0),)),
            "Wax 1 bears on gum beside 17",
            Verdict.DISAGREES,
        ),
    ],
)
def test_what_is_wrong_is_said_first(tmp_path: Path, faults: object, first: str, verdict: Verdict) -> None:
    case = record_case(tmp_path, _scan(faults=faults()))  # type: ignore[operator]
    ledger, says = judged(case)
    assert says[0].startswith(first)
    assert verdict in ledger.verdicts
    assert any(first.removeprefix("Wax 1").removesuffix(" by") in n.why for n in ledger.needs)
    amounts = {f.key: f.values[0] for f in ledger.finds if f.key != "stops"}
    assert ("soft_tissue" in amounts) == ("gum" in first)
    rolled = abs(amounts["on_cast"]) > 1e-3
    assert rolled == ("rocks" in first)


def test_stops_on_the_front_teeth_alone_are_refused(tmp_path: Path) -> None:
    ledger, says = judged(record_case(tmp_path, _scan(without=BACK)))
    assert says[0].startswith("What wax 1 bears on does not hold 27")
    assert Verdict.DISAGREES in ledger.verdicts


def test_a_scan_of_one_side_says_what_it_leaves_open(tmp_path: Path) -> None:
    scan = joined_casts(arch("upper"), arch("lower"), POSE, side="right", noise_mm=0.01, scan_from_upper=AWAY)
    ledger, says = judged(record_case(tmp_path, scan, joined=True))
    assert "right side only" in says[0] and Verdict.CANNOT_TELL in ledger.verdicts
    assert any("a twist would not show at all" in r.text for r in ledger.reasons)


def test_where_the_scan_lies_may_be_said_by_one_cast(tmp_path: Path) -> None:
    scan = _scan(scan_from_upper=np.eye(4))
    case = record_case(tmp_path, scan, start='lies_on = ["upper"]')
    (found,) = scanned_relations(case, Ledger("record"))
    assert off_mm(found.upper_from_lower, POSE) < 0.015


def test_without_a_start_points_are_asked_for(tmp_path: Path) -> None:
    ledger, says = judged(record_case(tmp_path, _scan(), start="lies_on = []"))
    assert says == ["Where wax 1 lies on the casts is not known"]
    assert ledger.verdicts == [Verdict.CANNOT_TELL]
    assert ledger.needs[0].field == "records.wax 1.scan.points"


def test_a_record_read_as_joined_casts_is_asked_about(tmp_path: Path) -> None:
    ledger, says = judged(record_case(tmp_path, _scan(), joined=True))
    assert says == ["Where wax 1 lies on the casts is not known"]
    assert ledger.needs[0].field.startswith("records.wax 1.scan")


@pytest.mark.parametrize("count", [1, 2])
def test_points_that_were_begun_are_told_to_be_too_few(tmp_path: Path, count: int) -> None:
    one = '{{ name = "{}", arch = "upper", cast = [0, 0, {}], record = [0, 0, {}] }}'
    points = ", ".join(one.format(k, 10 * k, 10 * k) for k in range(count))
    ledger, says = judged(record_case(tmp_path, _scan(), start=f"points = [{points}]"))
    assert says == ["Where wax 1 lies on the casts is not known"]
    word = ("One point was", "Two points were")[count - 1]
    assert any(
        r.why is Why.FAULTY and word.lower() in r.text.lower() and "record.stl" in r.text
        for r in ledger.reasons
    )
    first = ledger.needs[0]
    assert first.field == "records.wax 1.scan.points" and "record.stl" in first.reading
    assert ("two more points" if count == 1 else "one more point") in first.reading


def test_a_record_in_inches_is_asked_about_and_joined_casts_in_inches_are_refused(tmp_path: Path) -> None:
    scan = _scan()
    inch = scan._replace(vertices_mm=scan.vertices_mm / 25.4)
    ledger, says = judged(record_case(tmp_path, inch))
    assert says == ["Where wax 1 lies on the casts is not known"]
    assert any("record.stl" in r.text and "read as inches" in r.text for r in ledger.reasons)
    assert ledger.needs[0].field == "records.wax 1.scan"
    with pytest.raises(FaultError) as caught:
        judged(record_case(tmp_path, inch, joined=True))
    assert caught.value.faults[0].code == "scan.unit_inch" and caught.value.faults[0].where == "record.stl"


def test_holes_of_a_record_are_told_with_its_file(tmp_path: Path) -> None:
    scan = _scan()
    middle = scan.vertices_mm[scan.faces].mean(axis=1)
    there = cusp_of(arch("upper"), 16, "upper")
    there = scan.scan_from_upper[:3, :3] @ there + scan.scan_from_upper[:3, 3]
    far = np.linalg.norm(middle - there, axis=1) > 1.5
    assert 0 < (~far).sum() < len(far)
    ledger, _ = judged(record_case(tmp_path, scan._replace(faces=np.ascontiguousarray(scan.faces[far]))))
    assert any(n.startswith("record.stl: ") and "in the surface" in n for n in ledger.notes)


def test_casts_in_inches_keep_a_record_from_being_laid_and_say_what_to_do(tmp_path: Path) -> None:
    case = record_case(tmp_path, _scan())
    for name in ("upper", "lower"):
        made = arch(name)
        write_stl(tmp_path / f"{name}.stl", made.vertices_mm / 25.4, made.faces, head=name)
    ledger, says = judged(case)  # files are read first now
    assert says == ["Where wax 1 lies on the casts is not known"]
    assert ledger.needs[0].field == "scans" and "unit" in ledger.needs[0].reading


def test_a_file_that_is_no_scan_is_refused(tmp_path: Path) -> None:
    case = record_case(tmp_path, _scan())
    (tmp_path / "record.stl").write_bytes(b"nothing of the kind")
    with pytest.raises(FaultError):
        judged(case)


def test_numbers_alone_come_with_an_assumed_doubt(tmp_path: Path) -> None:
    more = f'[records."wax 2"]\nkind = "CR"\nupper_from_lower = {POSE.tolist()}\nrelation_in = "frame coordinates"'
    ledger = Ledger("record")
    first, second = scanned_relations(record_case(tmp_path, _scan(), more=more), ledger)
    assert (first.source, second.source) == ("scan", "matrix")
    at = np.array([70.0, -40.0, 0.0])
    u: Array = np.sqrt(np.diag(point_cov(second.cov6, at)))
    assert u == pytest.approx([MATRIX_SD_MM] * 3)
    assert any("numbers" in a.what for a in ledger.assumptions)
    before = len(ledger.assumptions)
    scanned_relations(record_case(tmp_path, _scan(), more=more), ledger)
    assert len(ledger.assumptions) == before


def test_contacts_close_from_a_scan_without_any_numbers(tmp_path: Path) -> None:
    numbers = f'upper_from_lower = {POSE.tolist()}\nrelation_in = "frame coordinates"'
    by_scan = answer(record_case(tmp_path, _scan()), ["contacts"])["contacts"]
    case = record_case(tmp_path, _scan(), more=numbers)
    by_hand = answer(case, ["contacts"])["contacts"]
    assert "First contact in CR at" in by_scan.headline
    assert by_scan.headline.split(",")[0] == by_hand.headline.split(",")[0]
    assert any("Closed from the scan of wax 1" in n for n in by_scan.notes)
