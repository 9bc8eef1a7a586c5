"""Records that vary as rigid bodies: false alarms, what is found, axes that are not the patient's, visits."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from mountproof.bench.reach import Point
from mountproof.bench.same_opening import axis_cost_mm, relation_features, repeat_cov6
from mountproof.geometry.hinge import opening_for_gap
from mountproof.geometry.poses import exp6, opened, translation
from mountproof.records.compare import compare_records, groups_apart
from mountproof.records.joint import Spread
from mountproof.records.repeats import noncentral_for, range_factor
from published.agree import agrees
from published.frame import from_sagittal

WIDTH = 110.0
POINTS = (
    Point("right condyle", (0.0, 0.0, 55.0)),
    Point("left condyle", (0.0, 0.0, -55.0)),
    Point("incisors", (92.0, -42.0, 0.0)),
    Point("right second molar", (50.0, -35.0, 28.0)),
    Point("left second molar", (50.0, -35.0, -28.0)),
)
#: A scanner's doubt of one relation, about the middle of the teeth: 0.01 mm and 0.01 mm at a tooth's lever.
SCAN = np.diag(np.square([4e-4] * 3 + [0.01] * 3))
ROOT = np.linalg.cholesky(repeat_cov6(1.0, WIDTH) + np.diag([0, 0, 1e-18, 0, 0, 0]))
READ = np.linalg.cholesky(SCAN)


def drawn(rng, n, s, *, apart_rad=0.0, visits=None, s_visit=0.0, axis=None):
    """Poses of n honest records: open by chance, repeated to ``s``, read by a scanner; about ``axis`` (x, y) of the patient."""
    at = np.eye(4) if axis is None else translation([axis[0], axis[1], 0.0])
    back = np.linalg.inv(at)
    of_visit = {v: s_visit * (ROOT @ rng.normal(size=6)) for v in dict.fromkeys(visits or ())}
    poses = []
    for i in range(n):
        turn = at @ opened(0.03 + apart_rad * rng.uniform(-0.5, 0.5)) @ back
        off = s * (ROOT @ rng.normal(size=6)) + (of_visit[visits[i]] if visits else 0.0)
        poses.append(exp6(READ @ rng.normal(size=6)) @ turn @ exp6(off))
    return poses


def compared(poses, spread, **more):
    names = [str(i) for i in range(len(poses))]
    f = relation_features(names, poses, [SCAN] * len(poses), POINTS, WIDTH)
    return compare_records(names, f.values, f.covs, f.names, spread(f), **more), f


@pytest.mark.parametrize("n", [2, 3, 5])
def test_one_in_twenty_honest_sets_is_suspected(n):
    """Trap 29: right and left condyle are one rigid body; taken as independent numbers the rate would be off by far."""
    rng = np.random.default_rng(29)
    trials = 700
    alarms = sum(
        compared(drawn(rng, n, 0.1, apart_rad=0.02), lambda f: Spread(0.1, f.repeat))[0].agreement != "same"
        for _ in range(trials)
    )
    # three standard errors of 5 % over the trials are 2.5 %
    assert 0.025 < alarms / trials < 0.07


def test_a_pooled_sd_of_few_records_widens_what_honest_records_may_do():
    """Known from six degrees of freedom, and taken as such: 5 % of alarms; taken as exact: far more."""
    rng = np.random.default_rng(6)
    trials, known, exact = 250, 0, 0
    for _ in range(trials):
        poses = drawn(rng, 3, 0.1)
        s = 0.1 * math.sqrt(rng.chisquare(6) / 6)
        known += compared(poses, lambda f, s=s: Spread(s, f.repeat, 6.0))[0].agreement != "same"
        exact += compared(poses, lambda f, s=s: Spread(s, f.repeat))[0].agreement != "same"
    assert known / trials < 0.09  # three standard errors of 5 % are 4 %
    assert exact / trials > 0.12


def test_the_range_of_results_against_an_sd_that_was_found():
    for n, p, dof in ((3, 0.95, 2.0), (4, 0.995, 24.0), (5, 0.99, 10.0), (2, 0.95, 1.0)):
        want = stats.studentized_range.ppf(p, n, dof)
        assert range_factor(n, p, dof) == pytest.approx(want, rel=1e-4)
    assert range_factor(3, 0.95, 1999.0) == pytest.approx(range_factor(3), rel=2e-3)


@given(st.integers(1, 12), st.floats(0.5, 40.0), st.floats(0.1, 0.95))
@settings(max_examples=40, deadline=None)
def test_noncentral_chi_square(dof, threshold, power):
    far = noncentral_for(threshold, dof, power)
    alone = stats.chi2.sf(threshold, dof)
    if alone >= power:
        assert far == 0.0
    else:
        assert stats.ncx2.sf(threshold, dof, far) == pytest.approx(power, abs=1e-5)


def test_noncentral_chi_square_far_out():
    for dof, power in ((1, 0.5), (5, 0.5), (9, 0.9)):
        far = noncentral_for(4000.0, dof, power)
        assert stats.ncx2.sf(4000.0, dof, far) == pytest.approx(power, abs=0.01)


def test_what_is_called_detectable_is_found_in_half_of_the_sets():
    """A condyle that sags by the printed amount, in the direction of all that is seen worst, is found about every second time."""
    rng = np.random.default_rng(39)
    found = trials = 0
    sizes = []
    for _ in range(300):
        poses = drawn(rng, 3, 0.1)
        got, f = compared(poses, lambda f: Spread(0.1, f.repeat))
        sizes.append(got.detectable)
        # the change seen worst among those that move the number by so much: along the covariance's own column
        cov = f.cov + 0.01 * f.repeat
        k = int(np.argmax(np.diag(cov)))
        moved = f.values.copy()
        moved[1] += got.detectable * cov[:, k] / cov[k, k]
        one = compare_records(("a", "b", "c"), moved, f.covs, f.names, Spread(0.1, f.repeat))
        found += one.outlier == "b"
        trials += 1
    assert 0.38 < found / trials < 0.6
    assert np.ptp(sizes) < 0.01


@pytest.mark.parametrize(
    ("first", "second", "printed"), [(3, 3, "0.0000"), (3, 4, "0.0608"), (2, 4, "0.1213"), (3, 6, "0.1835")]
)
def test_g7_honest_records_of_unequal_thickness_on_a_wrong_axis(first, second, printed):
    """Gaps for an axis 5 mm off, at every place alike; zero for equal thickness only (Laing and Wise, J Oral Rehabil 1978)."""
    incisors = from_sagittal(83.75, -34.3)
    angles = [opening_for_gap(t, incisors) for t in (first, second)]
    for x, y in ((5, 0), (0, 5), (-3, 4)):
        at = translation([x, y, 0.0])
        poses = [at @ opened(a) @ np.linalg.inv(at) for a in angles]
        f = relation_features(("a", "b"), poses, [SCAN] * 2, POINTS, WIDTH)
        gaps = np.linalg.norm((f.values[1] - f.values[0]).reshape(-1, 3), axis=1)
        for gap in gaps:
            agrees(printed, gap)
        assert axis_cost_mm(5.0, angles[1] - angles[0]) == pytest.approx(gaps[0], abs=1e-9)


def test_an_axis_in_doubt_is_known_to_the_statistics():
    """Axes drawn by the doubt that is stated: 5 % of alarms with it, many more where the axis is taken as exact."""
    rng = np.random.default_rng(27)
    trials, known, exact = 200, 0, 0
    for _ in range(trials):
        poses = drawn(rng, 3, 0.02, apart_rad=0.06, axis=5.0 * rng.normal(size=2))
        names = ("a", "b", "c")
        f = relation_features(names, poses, [SCAN] * 3, POINTS, WIDTH)
        plain = Spread(0.02, f.repeat)
        wide = plain._replace(axis=f.axis_cov(5.0, WIDTH), closings=tuple(f.openings_rad))
        known += compare_records(names, f.values, f.covs, f.names, wide).agreement != "same"
        exact += compare_records(names, f.values, f.covs, f.names, plain).agreement != "same"
    assert known / trials < 0.09
    assert exact / trials > 0.6


def test_an_axis_does_not_excuse_what_it_cannot_do():
    """A sag at one condyle is no shift of all places alike: found whatever the axis, and so are records of one thickness."""
    rng = np.random.default_rng(7)
    poses = drawn(rng, 4, 0.05, apart_rad=0.04)
    sag = exp6([0.6 / 110.0, 0.0, 0.0, 0.0, -0.3, 0.0])
    poses[2] = sag @ poses[2]
    names = ("a", "b", "c", "d")
    f = relation_features(names, poses, [SCAN] * 4, POINTS, WIDTH)
    wide = Spread(
        0.05, f.repeat, axis=f.axis_cov(8.0, WIDTH), closings=tuple(float(o) for o in f.openings_rad)
    )
    assert compare_records(names, f.values, f.covs, f.names, wide).outlier == "c"


def test_records_of_two_visits_are_held_against_both_spreads():
    rng = np.random.default_rng(31)
    visits = ("1", "1", "2", "2")
    trials, known, forgotten, apart = 150, 0, 0, []
    for _ in range(trials):
        poses = drawn(rng, 4, 0.05, visits=visits, s_visit=0.15)
        f = relation_features(visits, poses, [SCAN] * 4, POINTS, WIDTH)
        plain = Spread(0.05, f.repeat)
        names = ("a", "b", "c", "d")
        wide = plain._replace(visits=visits, s_visit=0.15)
        known += compare_records(names, f.values, f.covs, f.names, wide).agreement != "same"
        forgotten += compare_records(names, f.values, f.covs, f.names, plain).agreement != "same"
        apart.append(groups_apart(f.values, f.covs, visits, plain))
    assert known / trials < 0.1
    assert forgotten / trials > 0.5
    assert np.mean(np.array(apart) < 0.01) > 0.5
    assert groups_apart(f.values, f.covs, ("1",) * 4, plain) == 1.0


def test_shapes_of_a_spread_are_checked():
    values, cov = [[0.0], [0.1]], np.eye(1)[None].repeat(2, axis=0)
    for wrong in (
        Spread(-1.0, np.eye(1)),
        Spread(0.1, np.eye(2)),
        Spread(0.1, np.eye(1), visits=("a",)),
        Spread(0.1, np.eye(1), axis=np.eye(1), closings=(1.0,)),
        Spread(0.1, np.eye(1), dof=0.0),
    ):
        with pytest.raises(ValueError):
            compare_records(("a", "b"), values, cov, ["x"], wrong)
    with pytest.raises(ValueError):
        compare_records(("a", "b"), values, np.zeros((1, 1)), ["x"])
    assert axis_cost_mm(5.0, 0.0) == 0.0


@given(st.integers(0, 4), st.integers(0, 4))
@settings(max_examples=10, deadline=None)
def test_order_of_records_does_not_matter(a, b):
    rng = np.random.default_rng(5)
    poses = drawn(rng, 5, 0.1)
    got, f = compared(poses, lambda f: Spread(0.1, f.repeat))
    order = list(range(5))
    order[a], order[b] = order[b], order[a]
    again = compare_records(
        [str(i) for i in order], f.values[order], f.covs[order], f.names, Spread(0.1, f.repeat)
    )
    assert again.mount_on == got.mount_on
    assert again.agreement == got.agreement
    np.testing.assert_allclose(np.array(again.tails)[np.argsort(order)], got.tails, rtol=1e-9)
