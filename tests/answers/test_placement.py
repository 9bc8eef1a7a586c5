"""Each way of placing a scan finds the pose that the readings were made from, and says what it rests on."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.answers.ledger import Ledger
from mountproof.answers.placement import placements
from mountproof.case.model import Arch, Case
from mountproof.faults import FaultError
from mountproof.geometry.poses import exp6, inverse, transform

#: Landmarks of an upper cast in the frame: incisors, both second molars, a canine. Invented.
_PLACES = {
    "incisors": (92.0, -42.0, 0.0),
    "right second molar": (50.0, -35.0, 28.0),
    "left second molar": (50.0, -35.0, -28.0),
    "right canine": (84.0, -40.0, 18.0),
}
_HALF_MM = 55.0


def _case(placement: dict[str, Any], **more: Any) -> Case:
    scans = [{"arch": "upper", "file": "u.stl", "unit": "mm", "placement": placement}]
    return Case(code="T", scans=scans, **more)


def _pose(six: list[float]) -> np.ndarray:
    return exp6(np.array(six))


_small = st.lists(st.floats(-0.3, 0.3), min_size=3, max_size=3)
_shift = st.lists(st.floats(-40, 40), min_size=3, max_size=3)


@given(turn=_small, shift=_shift, factor=st.sampled_from([1.0, 25.4, 1000.0]))
def test_landmarks_find_the_pose(turn: list[float], shift: list[float], factor: float) -> None:
    frame_from_scan = _pose([*turn, *shift])
    scan_from_frame = inverse(frame_from_scan)
    pairs = [
        {
            "name": name,
            "scan": tuple(transform(scan_from_frame, np.array(at)) / factor),
            "ahead_mm": at[0],
            "above_mm": at[1],
            "right_mm": at[2],
        }
        for name, at in _PLACES.items()
    ]
    ledger = Ledger("contacts")
    found = placements(_case({"landmarks": pairs}), ledger, {Arch.UPPER: factor})[Arch.UPPER]
    assert np.allclose(found.frame_from_scan, frame_from_scan, atol=1e-9)
    assert found.cov6 is not None
    assert any(a.field == "scans.placement.landmarks" for a in ledger.assumptions)


@given(turn=_small, shift=_shift)
def test_hinge_distances_with_a_third_point_find_the_pose(turn: list[float], shift: list[float]) -> None:
    frame_from_scan = _pose([*turn, *shift])
    scan_from_frame = inverse(frame_from_scan)
    third = np.array([110.0, 20.0, 5.0])
    distances = [
        {
            "name": name,
            "scan": tuple(transform(scan_from_frame, np.array(at))),
            "from_right_hinge_mm": math.dist(at, (0, 0, _HALF_MM)),
            "from_left_hinge_mm": math.dist(at, (0, 0, -_HALF_MM)),
            "from_third_point_mm": math.dist(at, third),
        }
        for name, at in _PLACES.items()
    ]
    placement = {
        "hinge_distances": distances,
        "third_point": {"ahead_mm": third[0], "above_mm": third[1], "right_mm": third[2]},
        "distance_sd_mm": 0.2,
    }
    pin = {"kind": "straight", "ahead_mm": 110, "below_mm": 62}
    case = _case(placement, instrument={"name": "x", "intercondylar_mm": 2 * _HALF_MM, "pin": pin})
    ledger = Ledger("contacts")
    found = placements(case, ledger, {Arch.UPPER: 1.0})[Arch.UPPER]
    assert np.allclose(found.frame_from_scan, frame_from_scan, atol=1e-6)
    assert not any("tilt" in a.what for a in ledger.assumptions)


def test_without_a_third_point_closing_is_held_and_the_tilt_is_assumed() -> None:
    distances = [
        {
            "name": name,
            "scan": at,
            "from_right_hinge_mm": math.dist(at, (0, 0, _HALF_MM)),
            "from_left_hinge_mm": math.dist(at, (0, 0, -_HALF_MM)),
        }
        for name, at in _PLACES.items()
    ]
    ledger = Ledger("contacts")
    found = placements(_case({"hinge_distances": distances}), ledger, {Arch.UPPER: 1.0})[Arch.UPPER]
    moved = transform(found.frame_from_scan, np.array(list(_PLACES.values())))
    truth = np.array(list(_PLACES.values()))
    # What closing about the hinge needs: distance from the axis and the place along it.
    assert np.allclose(np.hypot(moved[:, 0], moved[:, 1]), np.hypot(truth[:, 0], truth[:, 1]), atol=1e-6)
    assert np.allclose(moved[:, 2], truth[:, 2], atol=1e-6)
    assert any("tilt" in a.what for a in ledger.assumptions)
    assert any("third point" in n.reading for n in ledger.needs)


def test_average_anatomy_is_declared_as_an_assumption() -> None:
    ledger = Ledger("contacts")
    average = {"incisors": (0, 0, 0), "right_molar": (-40, 0, 25), "left_molar": (-40, 0, -25)}
    found = placements(_case({"average": average}), ledger, {Arch.UPPER: 1.0})[Arch.UPPER]
    assert found.assumed
    assert ledger.assumptions
    assert ledger.needs


@pytest.mark.parametrize(
    ("matrix", "code"),
    [
        ([[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, -1, 0], [0, 0, 0, 1]], "scan.transform_mirrored"),
        ([[2, 0, 0, 0], [0, 2, 0, 0], [0, 0, 2, 0], [0, 0, 0, 1]], "scan.transform_scaled"),
        ([[1, 0.1, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]], "scan.transform_sheared"),
    ],
)
def test_a_matrix_that_moves_teeth_is_refused(matrix: list[list[float]], code: str) -> None:
    with pytest.raises(FaultError) as caught:
        placements(_case({"frame_from_scan": matrix}), Ledger("contacts"), {Arch.UPPER: 1.0})
    assert code in {f.code for f in caught.value.faults}


def test_a_scan_with_the_other_arch_needs_one_that_is_placed() -> None:
    with pytest.raises(FaultError) as caught:
        placements(_case({"with_other_arch": True}), Ledger("contacts"), {Arch.UPPER: 1.0})
    assert caught.value.faults[0].code == "placement.no_other"


def test_a_landmark_that_does_not_fit_is_named() -> None:
    pairs = []
    for name, at in {**_PLACES, "left canine": (84.0, -40.0, -18.0)}.items():
        off = 3.0 if name == "right canine" else 0.0
        pairs.append(
            {
                "name": name,
                "scan": at,
                "ahead_mm": at[0] + off,
                "above_mm": at[1],
                "right_mm": at[2],
                "u_mm": 0.2,
            }
        )
    ledger = Ledger("contacts")
    placements(_case({"landmarks": pairs}), ledger, {Arch.UPPER: 1.0})
    assert any("right canine" in need.reading for need in ledger.needs)


_ONE = {"name": "a", "scan": (1, 2, 3)}


@pytest.mark.parametrize(
    ("placement", "code"),
    [
        ({}, "placement.missing"),
        ({"landmarks": [{**_ONE, "ahead_mm": 1, "above_mm": 2, "right_mm": 3}]}, "landmarks.too_few"),
        ({"hinge_distances": [{**_ONE, "from_right_hinge_mm": 60, "from_left_hinge_mm": 90}]}, "placement.distances"),
    ],
)  # fmt: skip
def test_a_scan_that_is_not_placed_yet_is_asked_for(placement: dict[str, Any], code: str) -> None:
    with pytest.raises(FaultError) as caught:
        placements(_case(placement), Ledger("contacts"), {Arch.UPPER: 1.0})
    (fault,) = caught.value.faults
    assert fault.code == code
    assert fault.todo
