"""Repeats, re-seating and the comparison of records."""

import math

import numpy as np
import pytest
from scipy import stats

from bench.demo_table import PAIRS, RESEAT, SD_MM, STRAIGHT, in_frame, table
from bench.test_marks import demo_arms
from bench.test_pose import CONDYLE_L, CONDYLE_R, EXCURSIONS, INCISOR, demo_marks, made
from mountproof.bench.pose import fit_poses
from mountproof.bench.same_opening import axis_cost_mm, place_features, residual_features
from mountproof.geometry.poses import exp6, opened
from mountproof.records.compare import compare_records
from mountproof.records.joint import Spread
from mountproof.records.repeats import (
    critical_range,
    detectable,
    pooled_sd,
    range_cdf,
    range_factor,
    repeats_needed,
    sd_factors,
    spread_of,
)
from mountproof.records.reseat import reseating, two_seats
from published.agree import agrees


def test_factors_of_an_sd():
    # exact chi-square factors; printed in short form 0.52-6.3, 0.60-2.9, 0.69-1.8
    table_of = {
        2: ("0.45", "31.9"),
        3: ("0.52", "6.3"),
        4: ("0.57", "3.7"),
        5: ("0.60", "2.9"),
        6: ("0.62", "2.5"),
        10: ("0.69", "1.8"),
    }
    for n, (low, high) in table_of.items():
        got = sd_factors(n)
        agrees(low, got[0])
        agrees(high, got[1])
    for n, low, high in ((3, "0.5207", "6.2847"), (5, "0.5991", "2.8736"), (10, "0.6878", "1.8256")):
        agrees(low, sd_factors(n)[0])
        agrees(high, sd_factors(n)[1])


def test_critical_range_factors():
    # ISO 5725-6: 2.8, 3.3, 3.6, 3.9 for 2 to 5 results
    for n, printed in ((2, "2.8"), (3, "3.3"), (4, "3.6"), (5, "3.9")):
        agrees(printed, range_factor(n))
    for n in (2, 3, 5, 10):
        assert range_factor(n) == pytest.approx(stats.studentized_range.ppf(0.95, n, np.inf), rel=1e-5)
        assert range_factor(n, 0.99) == pytest.approx(stats.studentized_range.ppf(0.99, n, np.inf), rel=1e-5)
    assert range_factor(2) == pytest.approx(1.959964 * math.sqrt(2), rel=1e-6)
    assert range_cdf(0.0, 3) == 0.0
    assert critical_range(3, 0.1) == pytest.approx(0.331, abs=0.001)


def test_ranges_of_honest_results():
    rng = np.random.default_rng(3)
    ranges = np.ptp(rng.standard_normal((20_000, 4)), axis=1)
    assert np.mean(ranges <= range_factor(4)) == pytest.approx(0.95, abs=0.005)


def test_pooling():
    got = pooled_sd([[1.0, 3.0], [10.0, 10.0, 13.0], [7.0]])
    assert got.dof == 3
    assert got.sd == pytest.approx(math.sqrt((2.0 + 6.0) / 3))
    assert got.low < got.sd < got.high
    assert spread_of([1.0, 2.0, 3.0]).sd == 1.0
    with pytest.raises(ValueError):
        pooled_sd([[1.0], [2.0]])


def test_how_many_are_needed_against_simulation():
    # D5/24: a power statement that agrees with simulation within 5 %
    assert repeats_needed(0.045, 0.05) == 7
    n = repeats_needed(0.045, 0.05)
    rng = np.random.default_rng(4)
    d = rng.normal(0.0, 0.045, (20_000, 2, n)).mean(axis=2)
    seen = np.mean(np.abs(d[:, 1] - d[:, 0]) > detectable(0.045, n, n))
    assert seen == pytest.approx(0.05, abs=0.005)
    assert detectable(0.045, n, n) <= 0.05
    assert detectable(0.045, 1, 1) == pytest.approx(0.125, abs=0.001)


def test_demo_reseating():
    pairs = {name: [row[i] for row in RESEAT] for i, name in enumerate(("UR-LR", "UA-LA", "UL-LL"))}
    got = reseating(pairs, SD_MM)
    # the demo's SD of one reading comes from this sheet: 0.045 lies in the interval of the pooled SD
    assert got.pooled.sd == pytest.approx(0.057, abs=0.001)
    assert got.pooled.dof == 12
    assert got.pooled.low < SD_MM < got.pooled.high
    assert got.trend.tail > 0.1
    assert got.two_seats is None
    assert got.seat_sd_mm(SD_MM) == pytest.approx(math.sqrt(0.057**2 - 0.045**2), abs=0.002)
    assert got.seat_sd_mm(0.1) == 0.0


def test_a_wandering_record_shows_a_trend():
    rng = np.random.default_rng(5)
    wander = {p: 38.0 + 0.05 * np.arange(5) + 0.02 * rng.standard_normal(5) for p in "abc"}
    got = reseating(wander, 0.02)
    assert got.trend.slope_mm == pytest.approx(0.05, abs=3 * got.trend.u_mm)
    assert got.trend.tail < 0.001
    # against the textbook regression on one pair
    one = reseating({"a": wander["a"]}, 0.02).trend
    book = stats.linregress(np.arange(5), wander["a"])
    assert one.slope_mm == pytest.approx(book.slope)
    assert one.u_mm == pytest.approx(book.stderr)
    assert one.tail == pytest.approx(book.pvalue)


def test_two_seats_are_not_a_wide_scatter():
    # trap 38
    rng = np.random.default_rng(6)
    seats = np.array([0, 1, 0, 1, 1])
    rocking = {
        p: 38.0 + k * 0.3 * seats + 0.02 * rng.standard_normal(5) for p, k in (("a", 1), ("b", -1), ("c", 0))
    }
    got = reseating(rocking, 0.025).two_seats
    assert got is not None
    assert got.second == (1, 3, 4)
    assert got.apart_mm == pytest.approx(0.3, abs=0.05)
    wide = two_seats(38.0 + 0.15 * rng.standard_normal((3, 6)), 0.025)
    assert wide is None
    false = sum(two_seats(38.0 + 0.025 * rng.standard_normal((3, 6)), 0.025) is not None for _ in range(300))
    assert false <= 9


def test_demo_record_three_stands_out_on_straight_pairs():
    got = residual_features(demo_arms(STRAIGHT), table(), "A", "BCDE")
    # straight-pair residuals of record 3: -0.15 right, +0.15 left; the others at most 0.10
    assert got.values[2, 0] == pytest.approx(-0.15, abs=0.01)
    assert got.values[2, 4] == pytest.approx(0.15, abs=0.01)
    assert np.max(np.abs(got.values[[0, 1, 3]])) <= 0.101
    said = compare_records(got.states, got.values, got.cov, got.names)
    assert said.agreement == "one stands out"
    assert said.outlier == "D"
    assert said.mount_on in ("B", "C", "E")
    assert np.linalg.matrix_rank(got.cov, tol=1e-8) == 4


def test_demo_record_three_by_places():
    fit = fit_poses(demo_marks(), table(), "A", slack=EXCURSIONS)
    got = place_features(fit, "BCDE", [CONDYLE_R, CONDYLE_L, INCISOR])
    said = compare_records(got.states, got.values, got.covs, got.names, Spread(0.05, got.repeat))
    assert said.outlier == "D"
    # left condyle vertical, record 3 against the others: 0.29 to 0.43 down
    up = got.names.index("condyle L, up")
    assert -0.5 < said.off[2][up] < -0.29
    # and still so at a repeatability of 0.1 mm at the condyles; at 0.15 it is one of four honest records
    for s, outlier in ((0.1, "D"), (0.15, None)):
        wide = compare_records(got.states, got.values, got.covs, got.names, Spread(s, got.repeat))
        assert wide.outlier == outlier
    # without it the rest agree
    three = place_features(fit, "BCE", [CONDYLE_R, CONDYLE_L, INCISOR])
    assert compare_records(three.states, three.values, three.cov, three.names, 0.05).agreement == "same"


def test_thick_and_thin_records_agree():
    # trap 26: same relation, 2 and 4 mm thick
    marks = demo_marks(u=0.0)
    rng = np.random.default_rng(7)
    relation = exp6([0.003, -0.002, 0.0, -0.4, 0.2, 0.1])
    poses = {
        "A": np.eye(4),
        "B": opened(0.022) @ relation,
        "C": opened(0.043) @ relation,
        "D": opened(0.03) @ relation,
    }
    fit = fit_poses(marks, made(marks, poses, rng), "A")
    got = place_features(fit, "BCD", [CONDYLE_R, CONDYLE_L, INCISOR])
    assert compare_records(got.states, got.values, got.cov, got.names).agreement == "same"
    exactly = fit_poses(marks, made(marks, poses), "A")
    alike = place_features(exactly, "BCD", [CONDYLE_R, CONDYLE_L, INCISOR]).values
    assert np.max(np.ptp(alike, axis=0)) < 2e-3
    # trap 27: 5 mm of axis error and 2 mm of difference at the incisors
    assert axis_cost_mm(5.0, 2.0 / 92.0) == pytest.approx(0.11, abs=0.003)


def test_false_alarms_and_power():
    rng = np.random.default_rng(8)
    cov = np.array([[0.01, 0.004], [0.004, 0.02]])
    root = np.linalg.cholesky(cov)
    names, features = ("a", "b", "c", "d"), ("x", "y")
    honest = [
        compare_records(names, rng.standard_normal((4, 2)) @ root.T, cov, features).agreement
        for _ in range(1500)
    ]
    # two looks of 5 % each, strongly related
    assert 0.03 < 1 - honest.count("same") / 1500 < 0.09
    found = 0
    for _ in range(300):
        values = rng.standard_normal((4, 2)) @ root.T
        values[1] += [0.6, -0.4]
        got = compare_records(names, values, cov, features)
        found += got.outlier == "b"
    assert found / 300 > 0.85


def test_two_and_three_records():
    cov = np.diag([0.01**2])
    differ = compare_records(("a", "b"), [[0.0], [0.3]], cov, ["x"])
    assert differ.agreement == "differ"
    assert differ.outlier is None
    assert compare_records(("a", "b"), [[0.0], [0.01]], cov, ["x"]).agreement == "same"
    one = compare_records(("a", "b", "c"), [[0.0], [0.3], [0.01]], cov, ["x"])
    assert one.outlier == "b"
    assert one.mount_on in ("a", "c")
    all_apart = compare_records(("a", "b", "c"), [[0.0], [0.3], [0.7]], cov, ["x"])
    assert all_apart.agreement == "scattered"
    assert all_apart.mount_on == "b"  # the real record nearest the median, never an average
    # trap 39: no difference found is not the same as none
    assert (
        compare_records(("a", "b"), [[0.0], [0.01]], np.diag([0.2**2]), ["x"], needed=0.2).agreement
        == "cannot tell"
    )


def test_the_median_record_is_not_pulled_by_the_outlier():
    # mean of records 1 to 3 at the left condyle, vertical, is pulled to -0.07; the median is 0.06
    up = np.array([[0.07], [0.06], [-0.34]])
    assert np.mean(up) == pytest.approx(-0.07, abs=0.005)
    got = compare_records(("1", "2", "3"), up, np.diag([0.05**2]), ["condyle L, up"])
    assert got.outlier == "3"
    assert got.mount_on in ("1", "2")
    assert got.features[0].beyond


def test_shapes_are_checked():
    with pytest.raises(ValueError):
        compare_records(("a",), [[0.0]], [[1.0]], ["x"])
    with pytest.raises(ValueError):
        compare_records(("a", "b"), [[0.0], [math.nan]], [[1.0]], ["x"])
    with pytest.raises(ValueError):
        reseating({"a": [1.0]}, 0.05)
    with pytest.raises(ValueError):
        reseating({"a": [1.0, 2.0], "b": [1.0, 2.0, 3.0]}, 0.05)
    with pytest.raises(ValueError):
        sd_factors(1)
    with pytest.raises(ValueError):
        residual_features(demo_arms(("UA-LA",)), table(), "A", "BC")
    assert in_frame((1, 2, 3)).tolist() == [1, 3, -2]
    assert len(PAIRS) == 13


@pytest.mark.parametrize(("seat_mm", "reading_mm"), [(0.05, 0.001), (0.05, 0.045), (0.0, 0.045)])
def test_reseating_interval_knows_that_pairs_of_one_seat_move_together(
    seat_mm: float, reading_mm: float
) -> None:
    """A seat that is off moves all pairs at once (trap 29): taken as independent, the interval covered 73 %."""
    rng = np.random.default_rng(29)
    truth = np.hypot(seat_mm, reading_mm)
    trials, hits = 600, 0
    for _ in range(trials):
        table = seat_mm * rng.standard_normal((1, 5)) + reading_mm * rng.standard_normal((3, 5))
        found = reseating({f"p{i}": list(row) for i, row in enumerate(table)}, reading_mm).pooled
        hits += found.low <= truth <= found.high
    # Binomial: three standard errors of 0.95 over the trials are 0.027.
    assert 0.95 - 0.03 <= hits / trials <= 0.99
