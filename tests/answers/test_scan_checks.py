"""What is left of landmarks while they are picked, and what a scan is found to be."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from answers import scene_case
from mountproof.answers.scan_checks import checked, picked, placed_so, raw_scan
from mountproof.case.model import Arch, Case
from mountproof.faults import FaultError
from mountproof.geometry.poses import exp6, inverse, transform

#: Landmarks of an upper cast in the frame. Invented.
_PLACES = {
    "incisors": (92.0, -42.0, 0.0),
    "right second molar": (50.0, -35.0, 28.0),
    "left second molar": (50.0, -35.0, -28.0),
    "right canine": (84.0, -40.0, 18.0),
}
_TURN = exp6(np.array([0.1, -0.05, 0.2, 12.0, -5.0, 3.0]))


def landmarks(off: dict[str, tuple[float, float, float]], factor: float = 1.0) -> list[dict[str, Any]]:
    back = inverse(_TURN)
    return [
        {
            "name": name,
            "scan": tuple(
                (transform(back, np.array(at) + np.array(off.get(name, (0, 0, 0)))) / factor).tolist()
            ),
            "ahead_mm": at[0],
            "above_mm": at[1],
            "right_mm": at[2],
        }
        for name, at in _PLACES.items()
    ]


def one_scan(placement: dict[str, Any], unit: str = "mm", **more: Any) -> Case:
    return Case(
        code="T", scans=[{"arch": "upper", "file": "u.stl", "unit": unit, "placement": placement}], **more
    )


@given(unit=st.sampled_from([("mm", 1.0), ("um", 0.001), ("inch", 25.4)]))
def test_landmarks_that_fit_leave_nothing(unit: tuple[str, float]) -> None:
    (so,) = placed_so(one_scan({"landmarks": landmarks({}, unit[1])}, unit[0]))
    assert so.how.startswith("by 4 landmarks")
    assert [r.name for r in so.residuals] == list(_PLACES)
    assert all(r.miss_mm < 1e-6 and r.shown == "0.00 mm off" for r in so.residuals)
    assert not [f for f in so.findings if f.weight == "stop"]


def test_the_landmark_that_does_not_fit_is_asked_for_by_name() -> None:
    (so,) = placed_so(one_scan({"landmarks": landmarks({"right canine": (6.0, 0.0, 0.0)})}))
    asked = {r.name for r in so.residuals if r.asked}
    assert asked == {"right canine"}
    assert max(so.residuals, key=lambda r: r.miss_mm).name == "right canine"
    assert any("right canine" in f.what for f in so.findings)


def test_while_landmarks_are_too_few_it_says_how_many_are_wanted() -> None:
    for placement in ({}, {"landmarks": landmarks({})[:2]}):
        (so,) = placed_so(one_scan(placement))
        assert so.how == "" and so.residuals == ()
        (finding,) = so.findings
        assert finding.weight == "stop" and finding.todo


def test_distances_tell_what_is_left_from_each_hinge_point() -> None:
    back = inverse(_TURN)
    given_mm = []
    for name, at in _PLACES.items():
        right, left = (float(np.linalg.norm(np.array(at) - [0, 0, z])) for z in (55.0, -55.0))
        scan = tuple(transform(back, np.array(at)).tolist())
        given_mm.append(
            {"name": name, "scan": scan, "from_right_hinge_mm": right, "from_left_hinge_mm": left}
        )
    given_mm[3]["from_right_hinge_mm"] += 0.8
    (so,) = placed_so(one_scan({"hinge_distances": given_mm}))
    assert so.how.startswith("by 8 hinge distances")
    last = so.residuals[3]
    assert "right hinge +0." in last.shown and "left hinge" in last.shown
    assert max(so.residuals, key=lambda r: r.miss_mm).name == "right canine"


def test_one_unplaced_scan_does_not_keep_the_other_from_being_told() -> None:
    scans = [
        {"arch": "upper", "file": "u.stl", "unit": "mm", "placement": {}},
        {"arch": "lower", "file": "l.stl", "unit": "mm", "placement": {"landmarks": landmarks({})}},
    ]
    upper, lower = placed_so(Case(code="T", scans=scans))
    assert upper.how == "" and lower.how
    scans[1]["placement"] = {"with_other_arch": True}
    upper, lower = placed_so(Case(code="T", scans=scans))
    assert upper.how == lower.how == ""
    assert any("upper" in f.what for f in lower.findings)


def test_a_whole_scan_is_counted_and_a_broken_one_told(tmp_path: Path) -> None:
    scene_case.write_casts(tmp_path)
    case = scene_case.read(tmp_path)
    seen: list[float] = []
    found = checked(case, case.scans[0], lambda share, _: seen.append(share))
    assert found.triangles is not None and found.triangles > 10_000
    assert not [f for f in found.findings if f.weight == "stop"]
    assert seen == sorted(seen)
    whole = (tmp_path / "upper.stl").read_bytes()
    (tmp_path / "upper.stl").write_bytes(whole[: len(whole) // 2])
    broken = checked(case, case.scans[0])
    assert broken.triangles is None
    assert [f.weight for f in broken.findings] == ["stop"]
    assert broken.findings[0].todo


def test_sides_are_asked_about_until_somebody_compared_them(tmp_path: Path) -> None:
    scene_case.write_casts(tmp_path)
    text = scene_case.case_text()
    for said, asked in (
        (text, False),
        (text.replace("sides_compared = true", "sides_compared = false"), True),
    ):
        case = scene_case.read(tmp_path, said)
        codes = [f.code for f in checked(case, case.scans[0]).findings]
        assert ("scan.mirrored_mesh_undetectable" in codes) is asked


@given(weights=st.tuples(*[st.floats(0, 1)] * 3).filter(lambda w: sum(w) > 0.1), face=st.integers(0, 15_000))
def test_a_pick_lies_on_its_face(
    weights: tuple[float, float, float], face: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.getbasetemp() / "picks"
    if not folder.exists():
        folder.mkdir()
        scene_case.write_casts(folder)
    scan = raw_scan(scene_case.read(folder), Arch.UPPER)
    at = picked(scan, face, weights, 1.0)
    corners = np.asarray(scan.vertices[scan.faces[face]], dtype=np.float64)
    expected = np.average(corners, axis=0, weights=weights)
    assert np.allclose(at, expected, atol=6e-4)
    assert (at >= corners.min(axis=0) - 6e-4).all() and (at <= corners.max(axis=0) + 6e-4).all()


def test_a_pick_that_is_nowhere_and_a_scan_that_is_not_there(tmp_path: Path) -> None:
    scene_case.write_casts(tmp_path)
    case = scene_case.read(tmp_path)
    scan = raw_scan(case, Arch.LOWER)
    for face, weights in ((10**7, (1, 0, 0)), (0, (0, 0, 0)), (-1, (1, 1, 1))):
        with pytest.raises(FaultError):
            picked(scan, face, weights, 1.0)
    with pytest.raises(FaultError) as caught:
        raw_scan(Case(code="T"), Arch.LOWER)
    assert "lower" in caught.value.faults[0].what
