"""What the placement of the scans leaves open reaches the first contact, and landmarks that contradict are told."""

from __future__ import annotations

import math

import numpy as np
import pytest

from mountproof.answers.ledger import Ledger
from mountproof.answers.placement import Placed, placements
from mountproof.answers.placement_doubt import placement_motion
from mountproof.answers.result import Verdict
from mountproof.case.model import Arch, Case
from mountproof.geometry.poses import closed, exp6, inverse, rotation_vector

SDS = np.array([0.01, 0.02, 0.1, 3.0, 4.0, 1.5])
POSE = exp6(np.array([0.01, -0.02, -0.03, -0.5, 0.3, 0.2]))


def test_casts_placed_together_pay_the_cost_of_a_wrong_axis() -> None:
    """Draws of the placement, each closed about the hinge of the frame, against the covariance (JCGM 101)."""
    angle = 0.04
    shared = np.eye(4)
    placed = Placed(shared, np.diag(SDS**2), "", True)
    told = placement_motion(placed, placed._replace(how="with the other"), POSE, angle, together=True).us
    rng = np.random.default_rng(5)
    draws = []
    for _ in range(2000):
        error = exp6(rng.normal(0.0, 1.0, 6) * SDS)
        off = inverse(error) @ closed(angle) @ error @ inverse(closed(angle))
        draws.append([*rotation_vector(off[:3, :3]), *off[:3, 3]])
    spread = np.std(np.array(draws), axis=0)
    # The drawn motion stands behind the closing: the shift is turned by the closing, a part in a thousand.
    assert told[[0, 1, 3, 4]] == pytest.approx(spread[[0, 1, 3, 4]], rel=0.08)
    assert told[2] == 0.0
    assert np.all(spread[[2, 5]] < 0.1 * float(np.max(told[3:])))
    # 2 |e| sin(angle / 2) for an axis that is off by e (exact; see the theory of the pin).
    one = Placed(shared, np.diag([0, 0, 0, 5.0**2, 0, 0]), "", True)
    cost = placement_motion(one, one, POSE, math.radians(2.3), together=True).us[4]
    assert cost == pytest.approx(2 * 5 * math.sin(math.radians(1.15)), rel=1e-3)


def test_casts_placed_each_by_itself_carry_both_doubts() -> None:
    upper, lower = (Placed(np.eye(4), np.diag(SDS**2), "", False) for _ in range(2))
    rng = np.random.default_rng(6)
    draws = []
    for _ in range(4000):
        up, low = (exp6(rng.normal(0.0, 1.0, 6) * 0.1 * SDS) for _ in range(2))
        off = inverse(up) @ POSE @ low @ inverse(POSE)
        draws.append([*rotation_vector(off[:3, :3]), *off[:3, 3]])
    told = placement_motion(upper, lower, POSE, 0.04, together=False).us
    assert told == pytest.approx(10.0 * np.std(np.array(draws), axis=0), rel=0.08)


def test_a_placement_by_a_matrix_adds_no_doubt() -> None:
    placed = Placed(np.eye(4), None, "by a matrix", False)
    assert not np.any(placement_motion(placed, placed, POSE, 0.04, together=True).us)


def landmark(name: str, at: tuple[float, float, float], ahead_off: float = 0.0) -> dict[str, object]:
    return {
        "name": name,
        "scan": list(at),
        "ahead_mm": at[0] + ahead_off,
        "above_mm": at[1],
        "right_mm": at[2],
    }


@pytest.mark.parametrize("off_mm", [0.0, 15.0])
def test_three_landmarks_that_contradict_each_other_are_a_doubt(off_mm: float) -> None:
    points = [
        landmark("front", (92, -42, 0), off_mm),
        landmark("right", (50, -35, 28)),
        landmark("left", (50, -35, -28)),
    ]
    scan = {"arch": "upper", "file": "u.stl", "unit": "mm", "placement": {"landmarks": points}}
    ledger = Ledger("contacts")
    placements(Case(code="X", scans=[scan]), ledger, {Arch.UPPER: 1.0})
    assert (Verdict.DOUBTFUL in ledger.verdicts) is (off_mm > 0.0)
    assert any(need.field == "scans.placement.landmarks" for need in ledger.needs) is (off_mm > 0.0)
