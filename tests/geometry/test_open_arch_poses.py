"""The poses beside the open arches: rigid, and their record is an opening about the hinge."""

import json
import math

import numpy as np
import pytest

from mountproof.geometry.average import average_placement
from mountproof.geometry.distances import readings_from_table
from mountproof.geometry.poses import inverse, is_rigid, transform
from mountproof.geometry.screw import screw_of
from mountproof.geometry.trilaterate import trilaterate

pytestmark = pytest.mark.open_arches


@pytest.fixture
def placement(open_arches):
    return json.loads((open_arches / "placement.json").read_text(encoding="utf-8"))


def test_the_poses_are_rigid_and_the_record_turns_about_the_hinge(placement):
    names = ("frame_from_scan", "upper_from_lower_closed", "upper_from_lower_record")
    scan, closed_pose, record = (np.array(placement[n]) for n in names)
    assert all(is_rigid(p) for p in (scan, closed_pose, record))
    screw = screw_of(record @ inverse(closed_pose), toward=(0, 0, 1))
    assert math.degrees(screw.angle_rad) == pytest.approx(-placement["record_opening_deg"], abs=1e-9)
    np.testing.assert_allclose(screw.direction, [0, 0, 1], atol=1e-9)
    # The lower was also shifted before it was opened: the axis is that of one screw, whose slide is the side shift.
    assert screw.slide_mm == pytest.approx(record[2, 3] - closed_pose[2, 3], abs=1e-9)


def test_a_real_upper_arch_is_placed_by_caliper_distances(open_arches, placement):
    """Incisors and the most distal points of both sides of the scan, measured from the hinge points of its frame."""
    with (open_arches / "case0_upper.obj").open(encoding="utf-8") as lines:
        scan = np.array([line.split()[1:4] for line in lines if line.startswith("v ")], dtype=float)
    frame = np.array(placement["frame_from_scan"])
    upper = transform(frame, scan)
    front = int(np.argmax(upper[:, 0]))
    behind = upper[:, 0] < np.quantile(upper[:, 0], 0.1)
    right = int(np.argmax(np.where(behind, upper[:, 2], -np.inf)))
    left = int(np.argmin(np.where(behind, upper[:, 2], np.inf)))
    chosen = [front, right, left]
    points = np.array([[0, 0, 55], [0, 0, -55], [110, 45, 0.0]])
    table = np.linalg.norm(points[:, None] - upper[chosen], axis=2).tolist()
    average = average_placement(*scan[chosen])
    found = trilaterate(readings_from_table(points, scan[chosen], table, 0.05), average.pose, 0.1)
    np.testing.assert_allclose(transform(found.pose, scan), upper, atol=1e-4)
    assert found.reach.pin and not found.findings
