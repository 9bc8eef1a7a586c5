"""One-line faults in the rigid-motion geometry, each of which some law must notice."""

import pytest

from planted.harness import Planted, goes_red, stays_green

POSES = ("tests/laws/test_pose_laws.py",)
HINGE = ("tests/laws/test_hinge_laws.py",)
PLACING = ("tests/laws/test_placement_laws.py",)

FAULTS = [
    Planted(
        "a stack of points is turned by the transposed rotation",
        "geometry/poses.py",
        line='np.einsum("...ij,nj->...ni", turn',
        instead='np.einsum("...ji,nj->...ni", turn',
        laws=POSES,
    ),
    Planted(
        "opening closes",
        "geometry/poses.py",
        line="return rotation_z(-theta_rad)",
        instead="return rotation_z(theta_rad)",
        laws=POSES,
    ),
    Planted(
        "a covariance is carried the other way",
        "geometry/poses.py",
        line="carry = adjoint(motion)",
        instead="carry = adjoint(inverse(motion))",
        laws=POSES,
    ),
    Planted(
        "the adjoint's block is on the wrong side",
        "geometry/poses.py",
        line="out[..., 3:, :3] = hat(",
        instead="out[..., :3, 3:] = hat(",
        laws=POSES,
    ),
    Planted(
        "the adjoint knows translation before rotation",
        "geometry/poses.py",
        line="out[..., 3:, :3] = hat(given[..., :3, 3]) @ turn",
        instead="out[..., 3:, :3] = turn @ hat(given[..., :3, 3])",
        laws=POSES,
    ),
    Planted(
        "a point's lever has the wrong sign",
        "geometry/poses.py",
        line="out[..., :3] = -hat(where)",
        instead="out[..., :3] = hat(where)",
        laws=POSES,
    ),
    Planted(
        "the mean of rotations is stepped from behind",
        "geometry/poses.py",
        line="rotation_vector(given @ mean.T)",
        instead="rotation_vector(mean.T @ given)",
        laws=POSES,
    ),
    Planted(
        "registration may mirror",
        "geometry/landmarks.py",
        line="sign = np.sign(np.linalg.det(u) * np.linalg.det(vt)) * (-1.0 if mirror else 1.0)",
        instead="sign = 1.0",
        laws=PLACING,
    ),
    Planted(
        "weights are by SD, not by variance",
        "geometry/landmarks.py",
        line="    found = match(targets, sources, 1 / sds**2)\n    # Both",
        instead="    found = match(targets, sources, 1 / sds)\n    # Both",
        laws=PLACING,
    ),
    Planted(
        "the mirrored solution is taken when it fits a hair better",
        "geometry/trilaterate.py",
        line="    equal.sort(key=lambda e: _turn_between(e[0].state, towards))",
        instead="    equal.sort(key=lambda e: -_turn_between(e[0].state, towards))",
        laws=PLACING,
    ),
    Planted(
        "molars exchange sides",
        "geometry/average.py",
        line="    z = right - left",
        instead="    z = left - right",
        laws=PLACING,
    ),
    Planted(
        "the axis error points the other way",
        "geometry/hinge.py",
        line="(np.eye(3) - rotation_z(closing_rad)[:3, :3]) @ d",
        instead="(rotation_z(closing_rad)[:3, :3] - np.eye(3)) @ d",
        laws=HINGE,
    ),
    Planted(
        "half the angle is forgotten",
        "geometry/hinge.py",
        line="abs(wrong_by_mm) * math.sin(abs(closing_rad) / 2)",
        instead="abs(wrong_by_mm) * math.sin(abs(closing_rad))",
        laws=HINGE,
    ),
    Planted(
        "records add up in the split gap",
        "geometry/hinge.py",
        line="axis_error_shift(first_rad - second_rad, wrong_by_mm)",
        instead="axis_error_shift(first_rad + second_rad, wrong_by_mm)",
        laws=HINGE,
    ),
    Planted(
        "right and left of the axis exchanged in its doubt",
        "geometry/hinge.py",
        line="lever[1, 0], lever[1, 2] = 1 / width_mm, -1 / width_mm",
        instead="lever[1, 0], lever[1, 2] = -1 / width_mm, 1 / width_mm",
        laws=HINGE,
    ),
    Planted(
        "the point of a screw lies on the other side",
        "geometry/screw.py",
        line="np.cross(direction, across) / math.tan(angle / 2)",
        instead="np.cross(across, direction) / math.tan(angle / 2)",
        laws=HINGE,
    ),
    Planted(
        "the doubt of a screw forgets how its slide moves",
        "geometry/screw.py",
        line="d_across = d_shift - np.outer(w, d_slide) - screw.slide_mm * d_w",
        instead="d_across = d_shift - np.outer(w, d_slide)",
        laws=HINGE,
    ),
    Planted(
        "a record's turn is taken about the nominal axis",
        "geometry/hinge_fit.py",
        line="turned = exp6(about @ np.swapaxes(adjoint(axis), -1, -2))",
        instead="turned = exp6(about @ adjoint(np.eye(4)).T)",
        laws=HINGE,
    ),
]


def test_the_laws_hold_without_a_fault():
    stays_green(POSES + HINGE + PLACING)


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f.name)
def test_a_fault_in_the_poses_is_caught(fault):
    goes_red(fault)
