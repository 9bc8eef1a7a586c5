"""Trilateration: what the readings reach, the mirrored solution, the doubt, and every way the readings can be wrong."""

import math

import numpy as np
import pytest
from scipy.optimize import least_squares

from mountproof.faults import FaultError
from mountproof.geometry.average import average_placement
from mountproof.geometry.distances import readings_from_table
from mountproof.geometry.poses import exp6, inverse, log6, rotation_z, transform
from mountproof.geometry.trilaterate import Reach, trilaterate

HINGE = [[0.0, 0, 55], [0, 0, -55]]
THIRD = [110.0, 45, 0]
FLAT = np.array([[83, -36, 1.0], [50, -33, 25], [49, -34, -26]])
SOLID = np.vstack([FLAT, [75, -20, 18], [70, -22, -20]])
SCAN = exp6([0.4, -1.2, 0.8, 10, 20, 30])
SD = 0.05


def distances(points, landmarks):
    return [[float(np.linalg.norm(np.subtract(p, q))) for q in landmarks] for p in points]


def placed(points, landmarks, change=None, rng=None, **doubt):
    """Trilaterate landmarks of the upper, told in scan coordinates, from their distances (changed or noisy)."""
    table = distances(points, landmarks)
    if rng is not None:
        table = [[d + rng.normal() * SD for d in row] for row in table]
    if change is not None:
        change(table)
    scan = transform(SCAN, landmarks)
    average = average_placement(*scan[:3])
    return trilaterate(readings_from_table(points, scan, table, SD, **doubt), average.pose, 0.1), average


def test_hinge_points_alone_hold_closing_and_nothing_else():
    found, average = placed(HINGE, FLAT)
    assert found.reach == Reach(closing=True, plane_angles=False, pin=False)
    assert found.turn_assumed and found.dof == 1
    # The turn is that of the average placement: landmarks lie as near to it as turning about the hinge allows.
    want = transform(average.pose, transform(SCAN, FLAT))
    here = transform(found.pose, transform(SCAN, FLAT))
    for more in (-1e-3, 1e-3):
        assert ((transform(rotation_z(more), here) - want) ** 2).sum() > ((here - want) ** 2).sum()


@pytest.mark.parametrize("which", [0, 1, 2])
def test_one_distance_from_a_third_point_holds_the_rest(which):
    def only(table):
        table[2] = [d if k == which else None for k, d in enumerate(table[2])]

    found, _ = placed([*HINGE, THIRD], FLAT, only)
    assert found.reach == Reach(True, True, True)
    assert not found.turn_assumed and found.dof == 1
    np.testing.assert_allclose(found.pose @ SCAN, np.eye(4), atol=1e-6)


def test_a_third_point_that_looks_along_its_own_arc_holds_nothing():
    """A third point in one plane with the hinge and the landmark sees no turn, to first order: it must not be counted."""
    along = FLAT[0] * [2.0, 2.0, 1.0]

    def only(table):
        table[2] = [table[2][0], None, None]

    found, _ = placed([*HINGE, along], FLAT, only)
    assert found.turn_assumed and not found.reach.pin


def test_the_mirrored_solution_is_there_and_anatomy_refuses_it():
    found, average = placed(HINGE, FLAT)
    assert len(found.rivals) == 1 and not found.ambiguous
    rival = found.rivals[0]
    assert np.linalg.det(rival.pose[:3, :3]) == pytest.approx(1), "a mirrored place, not a mirrored cast"
    here, there = (transform(p, transform(SCAN, FLAT)) for p in (found.pose, rival.pose))
    np.testing.assert_allclose(distances(HINGE, here), distances(HINGE, there), atol=1e-4)
    assert rival.turn_from_expected_rad > math.radians(30)
    # With the anatomy of the rival the rival is chosen: nothing but the expected side decides between them.
    scan = transform(SCAN, FLAT)
    other = trilaterate(readings_from_table(HINGE, scan, distances(HINGE, FLAT), SD), rival.pose, 0.1)
    np.testing.assert_allclose(other.pose, rival.pose, atol=1e-6)
    vague = trilaterate(readings_from_table(HINGE, scan, distances(HINGE, FLAT), SD), average.pose, 0.5)
    assert vague.ambiguous


def test_landmarks_off_one_plane_leave_no_mirrored_solution():
    found, _ = placed(HINGE, SOLID)
    assert found.rivals == () and found.dof == 5


def test_the_pose_against_a_library():
    """The same weighted least squares by a general-purpose solver, rotation told by another chart."""
    rng = np.random.default_rng(8)
    points, scan = np.array([*HINGE, THIRD]), transform(SCAN, SOLID)
    table = [[d + rng.normal() * SD for d in row] for row in distances(points, SOLID)]
    average = average_placement(*scan[:3])
    found = trilaterate(readings_from_table(points, scan, table, SD), average.pose, 0.1)

    def residuals(xi):
        here = transform(average.pose @ exp6(xi), scan)
        return ((np.linalg.norm(points[:, None] - here, axis=2) - table) / SD).ravel()

    theirs = least_squares(residuals, np.zeros(6), xtol=1e-15, ftol=1e-15, gtol=1e-15, x_scale="jac")
    assert found.chi2 == pytest.approx(2 * theirs.cost, rel=1e-8)
    np.testing.assert_allclose(
        transform(found.pose, scan), transform(average.pose @ exp6(theirs.x), scan), atol=1e-5
    )


@pytest.mark.parametrize(
    ("landmarks", "doubt"), [(FLAT, {}), (SOLID, {}), (SOLID, {"point_sd_mm": 0.1, "landmark_sd_mm": 0.08})]
)
def test_doubt_by_draws(landmarks, doubt):
    """Errors of 120 noisy trilaterations, in their own covariance, are chi-square with six degrees of freedom.

    With shared doubts of points and landmarks the draws move those as well: readings of one landmark err together.
    """
    rng = np.random.default_rng(9)
    points, scan = np.array([*HINGE, THIRD]), transform(SCAN, landmarks)
    squares, fits = [], []
    for _ in range(120):
        true_points = points + rng.normal(size=points.shape) * doubt.get("point_sd_mm", 0.0)
        clicked = scan + rng.normal(size=scan.shape) * doubt.get("landmark_sd_mm", 0.0)
        table = [[d + rng.normal() * SD for d in row] for row in distances(true_points, landmarks)]
        found = trilaterate(
            readings_from_table(points, clicked, table, SD, **doubt), average_placement(*scan[:3]).pose, 0.1
        )
        off = log6(found.pose @ SCAN)
        squares.append(off @ np.linalg.solve(found.cov6, off))
        fits.append(found.chi2)
    assert np.mean(squares) == pytest.approx(6, abs=3 * math.sqrt(12 / 120))
    dof = found.dof
    assert np.mean(fits) == pytest.approx(dof, abs=3 * math.sqrt(2 * dof / 120))


def test_right_and_left_hinge_points_exchanged():
    def swap(table):
        table[0], table[1] = table[1], table[0]

    found, _ = placed([*HINGE, THIRD], SOLID, swap)
    assert "sides_swapped" in found.findings
    flat, _ = placed(HINGE, FLAT, swap)
    # Three landmarks in one plane fit either way, upside down: only anatomy shows it.
    assert flat.findings == ("far_from_expected", "sides_swapped")


@pytest.mark.parametrize("more", [[], [[60.0, 50, 40]]])
def test_a_mirrored_scan_shows_once_landmarks_leave_one_plane(more):
    """From three points of the instrument it fits, upside down: only the expected side shows it; from four it misfits."""
    points, mirrored = [*HINGE, THIRD, *more], transform(SCAN, SOLID * [1, 1, -1])
    average = average_placement(*mirrored[:3])
    found = trilaterate(
        readings_from_table(points, mirrored, distances(points, SOLID), SD), average.pose, 0.1
    )
    assert "mirrored_scan" in found.findings
    assert ("misfit" if more else "far_from_expected") in found.findings
    assert "sides_swapped" not in found.findings


def test_three_landmarks_cannot_show_a_mirrored_scan():
    mirrored = transform(SCAN, FLAT * [1, 1, -1])
    average = average_placement(*mirrored[:3])
    found = trilaterate(readings_from_table(HINGE, mirrored, distances(HINGE, FLAT), SD), average.pose, 0.1)
    assert found.findings == ()


def test_one_misread_distance_is_named():
    def misread(table):
        table[1][3] += 3.0

    found, _ = placed([*HINGE, THIRD], SOLID, misread)
    assert found.doubtful == 1 * len(SOLID) + 3
    assert "misfit" in found.findings
    assert abs(found.scores[found.doubtful]) == max(abs(found.scores))
    assert found.scores[found.doubtful] > 0, "the reading is too long"


def test_a_misreading_that_nothing_checks_is_not_blamed_on_anyone():
    def misread(table):
        table[0][0] += 3.0

    found, _ = placed(HINGE, FLAT, misread)
    assert found.dof == 1 and found.doubtful is None
    assert "misfit" in found.findings


def test_impossible_distances_are_all_named():
    def impossible(table):
        table[0][1], table[1][1] = 20.0, 60.0
        table[0][2], table[1][2] = 200.0, 50.0

    with pytest.raises(FaultError) as error:
        placed(HINGE, FLAT, impossible)
    assert [f.code for f in error.value.faults] == ["trilateration.impossible"] * 2
    assert "landmark 2" in str(error.value) and "landmark 3" in str(error.value)


@pytest.mark.parametrize(
    ("landmarks", "drop", "code"),
    [
        (FLAT[:2], (), "trilateration.landmarks"),
        (np.array([[83, -36, 0], [73, -36, 0], [63, -36.0, 0]]), (), "trilateration.landmarks"),
        (FLAT, ((0, 0), (1, 0)), "trilateration.not_held"),
        (FLAT, ((0, 0), (0, 1)), "trilateration.not_held"),
    ],
)
def test_what_the_readings_do_not_hold_is_refused(landmarks, drop, code):
    table = distances(HINGE, landmarks)
    for i, k in drop:
        table[i][k] = None
    scan = transform(SCAN, landmarks)
    with pytest.raises(FaultError) as error:
        trilaterate(readings_from_table(HINGE, scan, table, SD), inverse(SCAN), 0.1)
    assert [f.code for f in error.value.faults] == [code]
    assert error.value.faults[0].todo


@pytest.mark.parametrize(
    "change", [{"sds_mm": np.full(6, -1.0)}, {"pairs": np.full((6, 2), 7)}, {"point_sd_mm": -1.0}]
)
def test_nonsense_is_refused(change):
    good = readings_from_table(HINGE, transform(SCAN, FLAT), distances(HINGE, FLAT), SD)
    with pytest.raises(ValueError, match=":"):
        trilaterate(good._replace(**change), inverse(SCAN), 0.1)
