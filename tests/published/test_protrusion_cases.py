"""Protrusion: the gap that opens behind, and the condylar angle that a record gives. Exact values; frame of frame.py."""

import math

import numpy as np
import pytest

from mountproof.geometry.poses import log6, rotation_y, rotation_z, translation
from mountproof.geometry.protrusion import (
    inclination,
    level_protrusion,
    path_of,
    side_shift_angle,
    with_axis_error,
)
from published.agree import agrees
from published.frame import from_forward_left_up, from_sagittal

GB_I, GB_M2 = from_sagittal(83.75, -34.3), from_sagittal(44, -34.3)
GA_I, GA_M2 = from_sagittal(101.6, 0), from_sagittal(50.8, 0)


def gap_behind(path, degrees, incisor, molar):
    gone = level_protrusion(path, math.radians(degrees), incisor)
    return gone, -path_of(gone.motion, molar)[1], path_of(gone.motion, incisor)


@pytest.mark.parametrize(
    ("path", "degrees", "drop", "gap"),
    [
        (6, 30, "3.000", "1.5000"),
        (6, 33, "3.2678", "1.6339"),
        (6, 40, "3.8567", "1.9284"),
        (5, 30, "2.5", "1.25"),
    ],
)
def test_g8_collinear(path, degrees, drop, gap):
    """Half the descent of the condyles at the second molars (published as such, and exact here)."""
    gone, behind, incisor = gap_behind(path, degrees, GA_I, GA_M2)
    agrees(drop, gone.drop_mm)
    agrees(gap, behind)
    assert behind == pytest.approx(gone.drop_mm / 2, rel=1e-12)
    assert incisor[1] == pytest.approx(0, abs=1e-12)
    if (path, degrees) == (6, 30):
        agrees("1.69205", math.degrees(gone.turn_rad))


@pytest.mark.parametrize(
    ("degrees", "turn", "gap", "advance"),
    [
        (30, "2.0380", "1.4136", "6.3629"),
        (33, "2.2186", "1.5388", "6.2971"),
        (40, "2.6150", "1.8136", "6.0740"),
    ],
)
def test_g8_mean_anatomy(degrees, turn, gap, advance):
    gone, behind, incisor = gap_behind(6, degrees, GB_I, GB_M2)
    agrees(turn, math.degrees(gone.turn_rad))
    agrees(gap, behind)
    agrees(advance, incisor[0])


def test_g9_inclination_of_a_rigid_motion():
    path = from_sagittal(5.032023, -3.267834)
    motion = translation(path) @ rotation_z(0.02)
    read = inclination(path_of(motion, [0, 0, 0]))
    agrees("33.0000", math.degrees(read.angle_rad))
    assert log6(motion)[2] == pytest.approx(0.02)


@pytest.mark.parametrize(("path", "printed"), [(3, "1.909"), (4, "1.432"), (5, "1.146"), (6, "0.955")])
def test_g9_sensitivity(path, printed):
    read = inclination([path * math.cos(0.5), -path * math.sin(0.5), 0], sd_mm=0.1)
    agrees(printed, math.degrees(read.sd_rad))
    twice = inclination([path * math.cos(0.5), -path * math.sin(0.5), 0], sd_mm=0.2)
    assert twice.sd_rad == pytest.approx(2 * read.sd_rad, rel=0.01)


@pytest.mark.parametrize(
    ("turn", "anterior", "superior"),
    [(1, "32.300", "33.466"), (2, "31.596", "33.955"), (3, "30.889", "34.468")],
)
def test_g9_axis_error_of_five_mm(turn, anterior, superior):
    path = from_sagittal(6 * math.cos(math.radians(33)), -6 * math.sin(math.radians(33)))
    for off, printed in (((5, 0), anterior), ((0, 5), superior)):
        read = inclination(with_axis_error(path, math.radians(turn), from_sagittal(*off)))
        agrees(printed, math.degrees(read.angle_rad))


def test_g9_side_shift_looks_like_an_angle():
    progressive = 6 * math.tan(math.radians(7.5))
    agrees("0.789915", progressive)
    for sign in (1, -1):
        agrees("7.5", math.degrees(side_shift_angle([6, -3, sign * progressive], sign).angle_rad))
        shifted = side_shift_angle([6, -3, sign * (progressive + 0.75)], sign)
        agrees("1.539915", progressive + 0.75)
        agrees("14.394417", math.degrees(shifted.angle_rad))


def test_medial_of_the_left_condyle_is_towards_the_right():
    assert from_forward_left_up(0, -1, 0)[2] > 0
    assert side_shift_angle([6, -3, 1], 1).angle_rad > 0


def test_an_angle_of_a_short_or_backward_path_is_not_told():
    for path in ([0.5, -0.3, 0], [-2, -1, 0], [0, 0, 0]):
        read = inclination(path)
        assert not read.told and math.isnan(read.angle_rad) and read.why


def test_the_same_path_on_two_planes_differs_by_their_tilt_and_moves_no_tooth():
    path = [5, -3, 0.1]
    axis_orbital, other = inclination(path), inclination(path, plane_rad=math.radians(10))
    assert axis_orbital.angle_rad - other.angle_rad == pytest.approx(math.radians(10), abs=1e-15)
    # Told in a frame tilted by ten degrees, the path reads the same against the same plane.
    tilted = rotation_z(math.radians(10))[:3, :3] @ path
    agrees("0.000", math.degrees(inclination(tilted).angle_rad - other.angle_rad))


@pytest.mark.parametrize(("width", "printed"), [(96, "4.8"), (124, "3.7")])
def test_intercondylar_width_changes_side_paths(width, printed):
    """A nonworking advance of 5 mm turns the jaw by 5/width: incisors 92 mm in front go 4.8 or 3.7 mm sideways.

    The printed figures are of first order; exactly, the midline also swings by half the width.
    """
    working = np.array([0, 0, width / 2])

    def sideways(advance):
        # The left condyle goes forward about the right one (the working one).
        motion = translation(working) @ rotation_y(-math.asin(advance / width)) @ translation(-working)
        assert path_of(motion, [0, 0, -width / 2])[0] == pytest.approx(advance, abs=1e-12)
        return path_of(motion, [92, -42, 0])[2]

    assert sideways(5) > 0, "to the working side"
    agrees(printed, 5 * sideways(1e-6) / 1e-6)
    swing = width / 2 * (1 - math.sqrt(1 - (5 / width) ** 2))
    assert sideways(5) == pytest.approx(92 * 5 / width + swing, abs=1e-12)
