"""What one better measurement buys: against brute covariances, simulation, and counting up one by one."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mountproof.doubt.better import Added, Repeated, Sharper, better, covariance_after, how_many, u_of
from mountproof.doubt.blocks import join, normal_block, sample

ROWS = np.array([[1.0, 0.5, -1.0, 2.0], [0.0, 1.0, 0.3, 0.0]])


def free():
    return join(
        [
            normal_block("record", [0.0, 0.0], [0.15, 0.10]),
            normal_block("seat", [0.0], [0.2]),
            normal_block("set", [0.0], [0.04]),
        ]
    )


def linked():
    return join(free().blocks, {("record", "seat"): [[0.012], [-0.006]]})


def test_a_sharper_step_by_hand():
    got = better(
        ROWS[:1], free(), [Sharper("finer record", "record", 0.5), Sharper("better seat", "seat", 0.5)]
    )
    parts = {"record": 0.15**2 + 0.05**2, "seat": 0.04, "set": 0.0064}
    assert [b.candidate.key for b in got] == ["better seat", "finer record"]
    assert got[0].before[0] ** 2 == pytest.approx(sum(parts.values()))
    assert got[0].after[0] ** 2 == pytest.approx(sum(parts.values()) - 0.75 * parts["seat"])
    assert got[1].after[0] ** 2 == pytest.approx(sum(parts.values()) - 0.75 * parts["record"])
    assert got[0].remains == pytest.approx(got[0].after[0] / got[0].before[0])


def test_a_sharper_linked_step_keeps_its_correlation():
    after = covariance_after(linked(), Sharper("x", "record", 0.25))
    old, new = linked().cov, after
    r_old = old / np.sqrt(np.outer(np.diag(old), np.diag(old)))
    r_new = new / np.sqrt(np.outer(np.diag(new), np.diag(new)))
    assert r_new == pytest.approx(r_old)
    assert np.sqrt(new[0, 0]) == pytest.approx(0.25 * 0.15)


def test_repeats_against_averaged_draws():
    """Simulated: what repeats share (with other steps, or named as what stays) is drawn once, the rest each time."""
    rng = np.random.default_rng(1)
    joined, times = linked(), 4
    other = joined.cov[2:3, 2:3]
    cross = joined.cov[:2, 2:3]
    told = cross @ np.linalg.inv(other) @ cross.T
    stays = told + np.diag([0.002, 0.001])
    for one, common in (
        (Repeated("r", "record", times), told),
        (Repeated("r", "record", times, stays), stays),
    ):
        x = sample(joined, 200_000, rng)
        seat = x[:, 2:3]
        shared = seat @ (cross @ np.linalg.inv(other)).T
        shared = shared + rng.multivariate_normal(
            np.zeros(2), common - told, size=len(x), check_valid="ignore"
        )
        own = rng.multivariate_normal(np.zeros(2), joined.cov[:2, :2] - common, size=(times, len(x))).mean(
            axis=0
        )
        y = np.column_stack([shared + own, x[:, 2:]]) @ ROWS.T
        assert u_of(ROWS, covariance_after(joined, one)) == pytest.approx(y.std(axis=0), rel=0.01)


def test_a_look_against_drawn_regression():
    """Simulated: what is left of the wanted numbers once the reading's best linear guess is taken off."""
    rng = np.random.default_rng(2)
    h, r = np.array([[1.0, 0.0, 1.0, 0.0], [0.0, 1.0, 0.0, 1.0]]), np.diag([0.01, 0.02]) ** 2
    x = sample(linked(), 200_000, rng)
    y = x @ h.T + rng.multivariate_normal(np.zeros(2), r, size=len(x))
    wanted = x @ ROWS.T
    left = wanted - y @ np.linalg.lstsq(y, wanted, rcond=None)[0]
    got = better(ROWS, linked(), [Added("check", h, r)])[0]
    assert got.after == pytest.approx(left.std(axis=0), rel=0.01)
    # a check read twice and averaged is two checks
    double = covariance_after(linked(), Added("check", h, r, times=2))
    stacked = covariance_after(linked(), Added("both", np.vstack([h, h]), np.kron(np.eye(2), r)))
    assert double == pytest.approx(stacked, abs=1e-12)


def count_up(rows, joined, candidate, wanted, most=100):
    for n in range(1, most + 1):
        if u_of(rows, covariance_after(joined, candidate._replace(times=n))).max() <= wanted:
            return n
    return None


@given(st.integers(0, 10_000), st.floats(0.2, 1.1))
@settings(max_examples=15)
def test_how_many_is_what_counting_finds(seed, part):
    g = np.random.default_rng(seed)
    half = g.standard_normal((4, 4))
    cov = half @ half.T
    blocks = [normal_block("a", [0.0, 0.0], cov[:2, :2]), normal_block("b", [0.0, 0.0], cov[2:, 2:])]
    joined = join(blocks, {("a", "b"): cov[:2, 2:]} if seed % 2 else None)
    rows = g.standard_normal((2, 4))
    wanted = part * float(u_of(rows, joined.cov).max())
    for one in (Repeated("r", "a", 1), Added("l", g.standard_normal((1, 4)), np.array([[0.5]]))):
        got = how_many(rows, joined, one, wanted)
        counted = count_up(rows, joined, one, wanted)
        if got.times is not None and got.times <= 100:
            assert got.times == counted
            assert got.u <= wanted
            assert got.floor <= got.u * (1 + 1e-9)
        else:
            assert counted is None
        if got.times is None:
            assert got.floor > wanted * (1 - 1e-6)


def test_the_floor_remains():
    got = how_many(ROWS[:1], free(), Repeated("r", "record", 1), 0.1)
    rest = math.sqrt(0.04 + 0.0064)
    assert got.times is None
    assert got.floor == pytest.approx(rest)
    assert got.u == pytest.approx(rest, rel=1e-4)
    # closed form where it does: n = c / (wanted^2 - floor^2)
    c = 0.15**2 + 0.05**2
    want = math.ceil(c / (0.22**2 - rest**2))
    assert how_many(ROWS[:1], free(), Repeated("r", "record", 1), 0.22).times == want
    # a part that stays lifts the floor
    stays = np.diag([0.1, 0.0]) ** 2
    lifted = how_many(ROWS[:1], free(), Repeated("r", "record", 1, stays), 0.22)
    assert lifted.times is None
    assert lifted.floor == pytest.approx(math.hypot(rest, 0.1))
    # a look without end knows what it sees, and no more
    seen = how_many(ROWS[:1], free(), Added("l", np.array([[0.0, 0.0, 1.0, 0.0]]), np.array([[0.01]])), 0.18)
    assert seen.floor == pytest.approx(math.sqrt(c + 0.0064))
    assert seen.times is not None
    assert how_many(ROWS[:1], free(), Repeated("r", "record", 9), 1.0).times == 1


@given(st.integers(0, 10_000))
@settings(max_examples=25)
def test_no_measurement_makes_it_worse(seed):
    g = np.random.default_rng(seed)
    looks = [Added("l", g.standard_normal((2, 4)), np.eye(2) * g.uniform(0.001, 1.0))]
    steps = [Sharper("s", "seat", g.uniform(0, 1)), Repeated("r", "record", int(g.integers(1, 9)))]
    for joined in (free(), linked()):
        for b in better(ROWS, joined, [*looks, Repeated("r", "seat", 3)]):
            assert np.all(b.after <= b.before * (1 + 1e-9))
        for b in better(ROWS, free(), steps):
            assert np.all(b.after <= b.before * (1 + 1e-9))
        ranked = better(ROWS, joined, [*looks, *steps])
        assert [b.remains for b in ranked] == sorted(b.remains for b in ranked)


def test_what_cannot_be_bought_is_refused():
    for call in (
        lambda: covariance_after(free(), Sharper("s", "axis", 0.5)),
        lambda: covariance_after(free(), Sharper("s", "seat", -0.5)),
        lambda: covariance_after(free(), Repeated("r", "axis", 2)),
        lambda: covariance_after(free(), Repeated("r", "seat", 0)),
        lambda: covariance_after(free(), Repeated("r", "seat", 2, np.array([[0.05]]))),
        lambda: covariance_after(linked(), Repeated("r", "seat", 2, np.array([[0.0]]))),
        lambda: covariance_after(free(), Added("l", np.ones((1, 4)), np.eye(1), times=0)),
        lambda: how_many(ROWS, free(), Repeated("r", "seat", 1), 0.0),
        lambda: how_many(ROWS, free(), Repeated("r", "axis", 1), 0.1),
    ):
        with pytest.raises(ValueError):
            call()
