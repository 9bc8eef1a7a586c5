"""The declared average placement against the published means it is made from, and against the oldest triangle of all."""

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from mountproof.geometry.average import _RANGE_OF_120_SDS, MEASURED_ANATOMY, average_placement, cast_frame
from mountproof.geometry.poses import inverse, log6, rotation_z, transform, translation
from published.agree import agrees


def test_mean_anatomy_of_120_people():
    """PMID 26734666 (n = 120): arm 103.3, base 99.6, height 34.3 mm make the incisors stand at (83.75, -34.3)."""
    agrees("83.75", MEASURED_ANATOMY.incisal_mm[0])
    agrees("90.503", math.hypot(*MEASURED_ANATOMY.incisal_mm), inputs_half_range=0.002)
    placed = transform(average_placement([0, 0, 0], [-30, 0, 25], [-30, 0, -25]).pose, [0, 0, 0])
    right, left = np.array([0, 0, 49.8]), np.array([0, 0, -49.8])
    agrees("103.3", np.linalg.norm(placed - right))
    agrees("103.3", np.linalg.norm(placed - left))
    # The published mean of Balkwill angles is 20.4 (9.0 to 27.6): a mean of angles is not the angle of the means.
    balkwill = math.degrees(math.atan2(34.3, placed[0]))
    agrees("22.2717", balkwill, inputs_half_range=1e-3)
    assert balkwill == pytest.approx(20.4, abs=2.5)


def test_sds_come_from_the_ranges_of_120():
    """Mean range of n normal draws: the integral of 1 - F^n - (1 - F)^n (L. Tippett 1925)."""
    span, _ = quad(lambda x: 1 - norm.cdf(x) ** 120 - norm.sf(x) ** 120, -12, 12)
    agrees(str(_RANGE_OF_120_SDS), span)
    assert MEASURED_ANATOMY.incisal_sd_mm[1] == pytest.approx(26.2 / span, rel=1e-3)


def test_forward_sd_by_draws():
    rng = np.random.default_rng(120)
    arm, base, height = (
        m + rng.normal(size=100_000) * (hi - lo) / _RANGE_OF_120_SDS
        for m, lo, hi in ((103.3, 90.2, 117.9), (99.6, 85.2, 112.6), (34.3, 21.0, 47.2))
    )
    forward = np.sqrt(arm**2 - base**2 / 4 - height**2)
    assert forward.std() == pytest.approx(MEASURED_ANATOMY.incisal_sd_mm[0], rel=0.02)


@pytest.mark.parametrize(("side", "height"), [(101.6, "87.98818"), (100.0, "86.60254")])
def test_equilateral_triangle(side, height):
    """Bonwill's triangle: 4 inch a side is 87.98818 mm deep. Here: how far the cast's frame puts the far corners back."""
    corners = np.array(
        [[0, 0, 0], [-side * math.sqrt(3) / 2, 0, side / 2], [-side * math.sqrt(3) / 2, 0, -side / 2]]
    )
    anywhere = translation([3, -8, 20]) @ rotation_z(0.7)
    frame = cast_frame(*transform(anywhere, corners))
    back = transform(inverse(frame) @ anywhere, corners)
    agrees("-" + height, back[1, 0])
    np.testing.assert_allclose(back[1:, 2], [side / 2, -side / 2], atol=1e-12)
    np.testing.assert_allclose(log6(frame), log6(anywhere), atol=1e-12)


def test_a_tilted_occlusal_plane_falls_to_the_front():
    """An invented mean skull: incisors (92, 42 below), first molars (60, 37 below, 25 aside) on the axis-orbital plane."""
    skull = MEASURED_ANATOMY._replace(incisal_mm=(92.0, -42.0), pitch_rad=math.atan2(5, 32))
    scan = np.array([[92, -42, 0], [60, -37, 25], [60, -37, -25.0]])
    anywhere = translation([5, 5, 5]) @ rotation_z(-2)
    found = average_placement(*transform(anywhere, scan), anatomy=skull)
    np.testing.assert_allclose(found.pose @ anywhere, np.eye(4), atol=1e-12)
