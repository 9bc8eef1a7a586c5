"""The hinge axis from records: coverage, how its doubt grows, and that one hinge is told from none."""

import math

import numpy as np
import pytest

from mountproof.bench.same_opening import repeat_cov6
from mountproof.geometry.poses import adjoint, closed, exp6, inverse, opened, pose, transform, translation
from mountproof.geometry.screw import turn_centre_sd_mm
from mountproof.records.axis_cost import cost_at
from mountproof.records.hinge_axis import (
    expected_sd_mm,
    facebow_cov,
    hinge_axis,
    slip_at,
    turn_is_seen,
    widest_turn,
)
from published.frame import from_sagittal

WIDTH = 110.0
#: A scan's doubt, and records that repeat to 0.05 mm at the condyles.
COV = repeat_cov6(0.05, WIDTH) + np.diag(np.square([4e-4] * 3 + [0.01] * 3))
ROOT = np.linalg.cholesky(COV)


def about(angles, ends=(3.0, -2.0, 1.0, -4.0)):
    """Poses that open by ``angles`` about the axis through ``ends`` (x, y right, x, y left)."""
    right, left = np.array([*ends[:2], 55.0]), np.array([*ends[2:], -55.0])
    w = (right - left) / np.linalg.norm(right - left)
    at = translation(left)
    return [at @ exp6(np.concatenate([-t * w, np.zeros(3)])) @ inverse(at) for t in angles]


@pytest.mark.parametrize("angles", [(0.0, 0.06), (0.0, 0.03, 0.07)])
def test_intervals_cover_in_two_thousand_cases(angles):
    rng = np.random.default_rng(2000)
    truth = np.array([3.0, -2.0, 1.0, -4.0])
    poses = about(angles)
    cases = 2000
    hits, middles, tails = np.zeros(4), 0, 0
    for _ in range(cases):
        found = hinge_axis([exp6(ROOT @ rng.normal(size=6)) @ p for p in poses], [COV] * len(poses), WIDTH)
        hits += np.abs(found.ends_mm - truth) <= 1.959964 * np.sqrt(np.diag(found.cov_mm2))
        off = found.middle_mm - 0.5 * (truth[:2] + truth[2:])
        middles += float(off @ np.linalg.solve(found.middle_cov, off)) <= 5.9915
        tails += found.tail < 0.05
    assert np.all((hits / cases >= 0.93) & (hits / cases <= 0.97))
    assert 0.93 <= middles / cases <= 0.97
    assert tails / cases == pytest.approx(0.05, abs=0.02)


def test_without_noise_the_axis_is_exact():
    found = hinge_axis(about((0.01, 0.05)), [COV] * 2, WIDTH)
    np.testing.assert_allclose(found.ends_mm, [3, -2, 1, -4], atol=1e-6)
    lean, sd = found.lean(WIDTH)
    np.testing.assert_allclose(lean, [2 / 110, 2 / 110], atol=1e-8)
    assert np.all(sd > 0.0)
    assert found.slide_mm == pytest.approx(0.0, abs=1e-9)
    assert found.out_rad == pytest.approx(math.hypot(2 / 110, 2 / 110), rel=1e-3)
    assert found.turn_rad == pytest.approx(0.04, rel=1e-3)
    assert widest_turn(about((0.05, 0.01)))[:2] == (1, 0)


@pytest.mark.parametrize(("degrees", "formula"), [(2, "4.73"), (5, "1.892"), (10, "0.947"), (20, "0.475")])
def test_g11_three_markers_on_teeth(degrees, formula):
    """0.05 mm a coordinate at three tooth markers, both positions: the printed SD of the centre, 5 percent."""
    markers = np.array([from_sagittal(*m) for m in ((50, -40), (100, -35), (75, -60))])
    middle = markers.mean(axis=0)
    spread = math.sqrt(((markers - middle) ** 2).sum(axis=1).mean())
    theta = math.radians(degrees)
    # of one position, in the plane: the shift of the markers' middle, and the turn about it
    local = np.diag([1e-8, 1e-8, 0.05**2 / (3 * spread**2), 0.05**2 / 3, 0.05**2 / 3, 1e-8])
    carry = adjoint(translation(middle))
    cov = carry @ local @ carry.T
    thick = adjoint(opened(theta)) @ cov @ adjoint(opened(theta)).T
    found = hinge_axis([np.eye(4), opened(theta)], [cov, thick], WIDTH)
    total = math.sqrt(float(np.trace(found.middle_cov)))
    assert total == pytest.approx(float(formula), rel=0.05)
    assert total == pytest.approx(
        turn_centre_sd_mm(0.05, 3, theta, float(np.linalg.norm(middle)), spread)[1], rel=0.05
    )


def test_doubt_grows_as_one_over_the_turn_and_is_foretold():
    sds = [hinge_axis(about((0.0, t)), [COV] * 2, WIDTH).sd_mm for t in (0.03, 0.06, 0.12)]
    assert sds[0] / sds[1] == pytest.approx(2, rel=0.02)
    assert sds[1] / sds[2] == pytest.approx(2, rel=0.02)
    assert expected_sd_mm(COV, COV, 0.06) == pytest.approx(sds[1], rel=0.03)
    assert expected_sd_mm(COV, COV, 0.0) == math.inf
    assert turn_is_seen(COV, COV, 0.01) and not turn_is_seen(COV, COV, 0.001)


def test_reuleaux_as_records():
    """Ten degrees closed about (2, -3): found again from two records, printed places of two markers on the way."""
    at = translation(from_sagittal(2, -3))
    moved = at @ closed(math.radians(-10)) @ inverse(at)
    np.testing.assert_allclose(
        transform(moved, from_sagittal(50, -40))[:2], [42.84579, -47.772999], atol=1e-5
    )
    found = hinge_axis([np.eye(4), moved], [COV] * 2, WIDTH)
    np.testing.assert_allclose(found.middle_mm, [2, -3], atol=1e-7)


def test_records_that_slid_are_not_of_one_hinge():
    first, second = about((0.0, 0.06))
    found = hinge_axis([first, pose(np.eye(3), [0, 0, 0.6]) @ second], [COV] * 2, WIDTH)
    assert found.tail < 1e-6
    assert found.slide_mm == pytest.approx(0.6, abs=0.01)


def test_the_facebow_and_the_records_together_are_better_than_either():
    alone = hinge_axis(about((0.0, 0.05)), [COV] * 2, WIDTH)
    both = hinge_axis(about((0.0, 0.05)), [COV] * 2, WIDTH, 2.0)
    assert both.sd_mm < min(alone.sd_mm, 2.0)
    place = (50.0, -35.0, 0.0)
    before = slip_at(0.04, facebow_cov(2.0), WIDTH, place)
    assert slip_at(0.04, both.cov_mm2, WIDTH, place) < before
    # by drawn axes: the first order is good to a few percent at so small an opening
    alike = 4.0 * np.kron(np.ones((2, 2)), np.eye(2))
    drawn = cost_at(0.04, 2.0, place, (92.0, -42.0, 0.0), 0.1).rms_mm
    assert slip_at(0.04, alike, WIDTH, place) == pytest.approx(drawn, rel=0.05)


def test_one_record_has_no_axis():
    with pytest.raises(ValueError):
        hinge_axis([np.eye(4)], [COV], WIDTH)
