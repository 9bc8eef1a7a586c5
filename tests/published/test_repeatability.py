"""Repeats against outside data: intraclass correlation, duplicate readings, analysis of variance."""

import math

import numpy as np
import pytest

from mountproof.records.repeats import pooled_sd, sd_factors
from mountproof.records.visits import one_way
from published.agree import agrees

#: P. Shrout and J. Fleiss, Psychol Bull 1979;86:420-8: six targets (rows) by four judges.
SHROUT_FLEISS = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
#: J. Bland and D. Altman, Lancet 1986;1:307-10: peak flow of 17 people, two readings by each of two meters.
LARGE = (
    [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427],
    [490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421],
)
MINI = (
    [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451],
    [525, 415, 508, 444, 500, 625, 460, 390, 642, 432, 420, 605, 227, 467, 268, 370, 443],
)


def test_shrout_and_fleiss_one_way():
    """Mean squares 11.241667 and 6.263889; ICC(1,1) 0.165742 and, of means of four, ICC(1,4) 0.442797 (printed .17, .44)."""
    got = one_way(SHROUT_FLEISS)
    assert got.square_between / got.dof_between == pytest.approx(11.241667, abs=1e-6)
    assert got.within == pytest.approx(6.263889, abs=1e-6)
    assert got.alike == pytest.approx(0.165742, abs=1e-6)
    agrees(".17", got.alike)
    of_four = got.between / (got.between + got.within / 4)
    assert of_four == pytest.approx(0.442797, abs=1e-6)
    agrees(".44", of_four)


@pytest.mark.parametrize(
    ("pairs", "rms", "dahlberg"), [(LARGE, "21.6", 15.306669), (MINI, "28.2", 19.910831)]
)
def test_duplicates_pooled_are_dahlbergs_number(pairs, rms, dahlberg):
    """``D^2 = sum d^2 / 2n``; exact: ``D^2 = (n - 1) / n s_d^2 / 2 + bias^2 / 2``.

    So it takes a bias for spread (C. Springate, Eur J Orthod 2012;34:158-63).
    """
    d = np.subtract(*pairs).astype(float)
    got = pooled_sd(list(zip(*pairs, strict=True)))
    assert got.sd == pytest.approx(dahlberg, abs=1e-6)
    assert got.dof == 17
    agrees(rms, math.sqrt(2.0) * got.sd)
    n = len(d)
    assert got.sd**2 == pytest.approx((n - 1) / n * d.var(ddof=1) / 2 + d.mean() ** 2 / 2, rel=1e-13)


def test_a_made_table_of_nist():
    """SmLs01 of the NIST reference data (from memory): nine groups of 21, sums of squares 1.68 and 1.80, F 21.

    The same on a floor of 1e12 keeps F within what the rounding of such data does (1 %).
    """
    middles = (1.4, 1.3, 1.5, 1.3, 1.5, 1.3, 1.5, 1.3, 1.5)
    groups = [[m] + [m - 0.1, m + 0.1] * 10 for m in middles]
    got = one_way(groups)
    assert got.square_between == pytest.approx(1.68, rel=1e-12)
    assert got.square_within == pytest.approx(1.80, rel=1e-12)
    assert got.ratio == pytest.approx(21.0, rel=1e-12)
    floor = [[1e12 + v for v in g] for g in groups]
    assert one_way(floor).ratio == pytest.approx(21.0, rel=0.01)


def test_three_repeats_measure_no_repeatability():
    """Chi-square factors of an SD: 0.5207 to 6.2847 for three."""
    low, high = sd_factors(3)
    agrees("0.5207", low)
    agrees("6.2847", high)
