"""The doubt of a hinge axis, as the answers use it, against the studies it was taken from.

The exact motions and tables are held in test_axis_error.py; here the arrays and bands that the answers rest on: the
shares of Morneburg and Proeschel (Int J Prosthodont 2002;15:358-364, n = 57; and their second paper, 57 volunteers), the
axis scatter of five studies quoted second-hand, the direction of no cost (Adrien and Schouver, J Oral Rehabil
1997;24:929-935), and the stylus (hinge axis located on the articulator, 2.4 mm across).
"""

import math

import numpy as np
import pytest

from mountproof.geometry.average import MEASURED_ANATOMY
from mountproof.geometry.hinge import axis_error_length_mm, opening_for_gap
from mountproof.records.axis_cost import cost_at, errors_at, unit_draws
from mountproof.records.facebow import EARS, LOCATED, POINTS, sd_of_mean_distance, sd_of_share
from published.agree import agrees
from published.frame import from_sagittal

INC, M1, M2 = from_sagittal(83.75, -34.3), from_sagittal(54, -34.3), from_sagittal(44, -34.3)


@pytest.mark.parametrize(("record", "percent"), [(2, 86.6), (4, 54.0)])
def test_g4b_share_within_0_3_mm(record, percent):
    """Axis SD 3.4 mm a coordinate, record measured at the second molar, which meets: 87 % published for 2 mm."""
    theta = opening_for_gap(record, M2)
    found = cost_at(theta, 3.4, M2, INC, 0.3, unit_draws(200_000, 20020358))
    assert 100 * (1 - found.beyond) == pytest.approx(percent, abs=0.5)


def test_g4b_tenth_of_the_second_paper():
    """One in ten is off by 0.34 mm or more with an arbitrary axis, by 0.44 or more with average lengths (2 mm)."""
    theta = opening_for_gap(2, M2)
    tenth = {}
    for sd in (3.4, 3.4 * 440 / 340):
        d = sd * unit_draws(200_000)
        own = np.linalg.norm(errors_at(theta, d, d, 100.0, M2, M2)[:, 0], axis=1)
        tenth[sd] = float(np.quantile(own, 0.9))
    arbitrary, average = tenth.values()
    assert arbitrary == pytest.approx(0.34, rel=0.05)
    assert average == pytest.approx(0.44, rel=0.05)
    # Our band for average lengths lies above that for ear rods by about as much as theirs did.
    people = math.sqrt(np.mean(np.square(MEASURED_ANATOMY.incisal_sd_mm)))
    assert 1.1 < people / EARS.sd_mm < 1.8


def test_g4b_errors_fall_from_the_back_to_the_front():
    theta = opening_for_gap(2, M2)
    costs = [cost_at(theta, 3.4, p, INC, 0.3).rms_mm for p in (M2, M1, INC)]
    assert costs == sorted(costs, reverse=True)


def test_g4d_zero_direction_turns_with_the_plane_of_occlusion():
    for tilt in (0, 5, 12):
        c, s = math.cos(math.radians(tilt)), math.sin(math.radians(tilt))
        place = from_sagittal(44 * c + 34.3 * s, -34.3 * c + 44 * s)
        free = cost_at(0.03, 1.0, place, INC, 0.3, unit_draws(100)).free_rad
        agrees(f"{math.degrees(math.atan2(-34.3, 44)) + tilt:.2f}", math.degrees(free))


def test_g4a_band():
    """5 mm anterior, 3 mm: inside the exact band around the figure that is remembered (0.2 mm)."""
    for at in (INC, M2):
        error = errors_at(opening_for_gap(3, at), [[5, 0]], [[5, 0]], 100.0, M2, M2)[0, 0]
        assert 0.10 <= np.linalg.norm(error) <= 0.35


def test_g5_bands_hold_the_studies():
    points = (("2.04", 0.95, 5), ("5.59", 0.33, 5), ("3.22", 0.70, 5), ("6.70", 0.33, 6), ("7.48", 0.20, 5))
    for printed, share, within in (*points, ("3.80", 0.58, 5), ("2.66", 0.83, 5), ("8.19", 0.17, 5)):
        sd = sd_of_share(share, within)
        agrees(printed, sd)
        assert POINTS.low_mm <= sd <= POINTS.high_mm
    ear = sd_of_share(0.56, 6)
    agrees("4.68", ear)
    for sd in (ear, sd_of_mean_distance(4.08), sd_of_mean_distance(4.38)):
        assert EARS.low_mm <= sd <= EARS.high_mm


def test_g6_a_stylus_finds_the_axis_to_what_shows():
    """0.25 mm of stray at 10 mm of incisal opening shows an error of 2.26 mm, at 15 mm one of 1.51 mm."""
    for opening, printed in ((10, "2.26"), (15, "1.51")):
        theta = 2 * math.asin(opening / (2 * math.hypot(*INC[:2])))
        shown = 0.25 / axis_error_length_mm(theta, 1.0)
        agrees(printed, shown)
        assert LOCATED.low_mm <= sd_of_share(0.95, shown) <= LOCATED.high_mm + 0.005
    assert LOCATED.low_mm == pytest.approx(sd_of_share(0.95, 2.4 / 2))
