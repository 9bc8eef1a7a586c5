"""Registration by landmarks: refusals, the pair at fault, exchanged names, mirrored sets."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from mountproof.faults import FaultError
from mountproof.geometry.landmarks import leave_one_out, match, register
from mountproof.geometry.poses import exp6, transform

POINTS = np.array([[84, -35, 1], [50, -36, 25], [48, -33, -26], [75, -20, 15], [60, -50, -10.0]])
MOTION = exp6([0.2, -1.0, 0.4, 12, 5, -60])


def test_weighted_match_against_a_library():
    rng = np.random.default_rng(1)
    targets = transform(MOTION, POINTS) + rng.normal(size=POINTS.shape)
    weights = rng.uniform(0.1, 3, len(POINTS))
    found = match(targets, POINTS, weights)
    share = weights / weights.sum()
    theirs, rssd = Rotation.align_vectors(targets - share @ targets, POINTS - share @ POINTS, weights=weights)
    np.testing.assert_allclose(found.pose[:3, :3], theirs.as_matrix(), atol=1e-12)
    assert found.rms_mm == pytest.approx(rssd / np.sqrt(weights.sum()), rel=1e-9)


def test_two_pairs_are_too_few():
    with pytest.raises(FaultError) as error:
        register(POINTS[:2], POINTS[:2], 0.1)
    assert error.value.faults[0].code == "landmarks.too_few"
    assert error.value.faults[0].got == "2"


def test_a_line_is_refused_by_direction_whichever_side_it_is_on():
    line = POINTS[0] + np.outer([0, 1, 2, 3.0], [0, 0, 10])
    spread = np.vstack([line[:3], [84, -30, 10]])
    for targets, sources in ((line, line), (spread, line), (line, spread)):
        with pytest.raises(FaultError) as error:
            register(targets, sources, 0.05)
        assert error.value.faults[0].code == "landmarks.in_line"
    with pytest.raises(FaultError, match=r"\+1\.00"):
        register(line, line, 0.05)


def test_near_a_line_is_a_matter_of_how_well_they_are_known():
    """Three landmarks 2 mm off a line: known to 0.05 mm they hold the turn, known to 0.5 mm they do not."""
    bent = np.array([[50, -35, 25], [50, -35, -25], [52, -35, 0.0]])
    found = register(bent, bent, 0.05)
    np.testing.assert_allclose(np.abs(found.turn_axes[0]), [0, 0, 1], atol=1e-12)
    assert found.turn_sds_rad[0] == pytest.approx(0.05 / np.sqrt(8 / 3), rel=1e-9)
    assert (np.diff(found.turn_sds_rad) <= 0).all()
    with pytest.raises(FaultError, match="degrees"):
        register(bent, bent, 0.5)


def test_three_pairs_can_show_a_fault_but_not_whose():
    targets = POINTS[:3] + np.array([[0, 0, 0], [0, 0, 3.0], [0, 0, 0]])
    found = register(targets, POINTS[:3], 0.05)
    assert found.p_value < 1e-6 and found.dof == 3
    assert found.guilty is None
    assert leave_one_out(targets, POINTS[:3], np.full(3, 0.05)) == ()


@pytest.mark.parametrize("bad", range(5))
def test_the_bad_pair_of_five(bad):
    targets = transform(MOTION, POINTS)
    targets[bad] += [1.5, -1.0, 0.5]
    found = register(targets, POINTS, 0.05)
    assert found.guilty is not None and found.guilty.pair == bad
    assert found.guilty.miss_mm == pytest.approx(np.linalg.norm([1.5, -1.0, 0.5]), abs=1e-9)
    assert found.guilty.chi2_without == pytest.approx(0, abs=1e-12)
    gains = [b.gain for b in leave_one_out(targets, POINTS, np.full(5, 0.05))]
    assert gains == sorted(gains, reverse=True)


def test_two_bad_pairs_are_not_blamed_on_one():
    targets = transform(MOTION, POINTS)
    targets[0] += [2, 0, 0]
    targets[3] -= [0, 0, 2.5]
    found = register(targets, POINTS, 0.05)
    assert found.p_value < 1e-6
    assert found.guilty is None


def test_exchanged_names_and_mirrored_sets_are_told_apart():
    targets = transform(MOTION, POINTS)
    exchanged = targets[[0, 2, 1, 3, 4]]
    found = register(exchanged, POINTS, 0.05)
    assert found.swapped == (1, 2)
    mirrored = register(transform(MOTION, POINTS * [1, 1, -1]), POINTS, 0.05)
    assert mirrored.swapped is None
    assert mirrored.mirror_rms_mm < 1e-9 < 1 < mirrored.rms_mm
    plain = register(targets, POINTS, 0.05)
    assert plain.rms_mm < 1e-9 < 1 < plain.mirror_rms_mm


def test_three_landmarks_alone_cannot_tell_a_mirror():
    """Trap: any three points are their own mirror image; a mirrored mesh with three landmarks fits as well."""
    found = register(transform(MOTION, POINTS[:3] * [1, 1, -1]), POINTS[:3], 0.05)
    assert found.rms_mm == pytest.approx(found.mirror_rms_mm, abs=1e-9)


@pytest.mark.parametrize(
    ("targets", "sources", "sds"),
    [
        (POINTS, POINTS[:4], 0.1),
        (POINTS, POINTS, 0.0),
        (POINTS, POINTS, [0.1, 0.1, 0.1, 0.1, np.nan]),
        (POINTS * np.nan, POINTS, 0.1),
    ],
)
def test_nonsense_is_refused(targets, sources, sds):
    with pytest.raises(ValueError, match=":"):
        register(targets, sources, sds)
