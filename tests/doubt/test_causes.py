"""Causes by their exact chances: against the textbook normal, by simulation, and against themselves in the long run."""

from __future__ import annotations

import math
import sys
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from mountproof.doubt.attempts import best_of, false_comfort
from mountproof.doubt.causes import Direct, Look, Target, left_over, log_evidence, prepare
from mountproof.doubt.faults import (
    MOLAR_MM,
    cast_faults,
    instrument_faults,
    record_faults,
    seat_faults,
    set_faults,
)
from mountproof.doubt.hypotheses import Hypotheses, enumerate_hypotheses, likeliest
from mountproof.doubt.motions import (
    as_twist,
    at_place,
    condyles_of,
    from_condyles,
    hinge_opening,
    plane_of_stops,
)
from mountproof.doubt.network import JUDGED, OF_MOUNTING, Network, build
from mountproof.doubt.normal import below, between
from mountproof.doubt.outcomes import Choice, Condition, rows
from mountproof.doubt.rates import draw, verdict_rates
from mountproof.doubt.steps import axis_motion, axis_step, free_step, play_step, record_step, seat_step
from mountproof.doubt.verdicts import VERDICTS, mixture_interval, mixture_verdicts
from mountproof.doubt.weighing import Checks, join_targets, weigh
from mountproof.geometry.poses import exp6

_HALF = 55.0
_LIMITS = (0.2, 0.4)


class World(NamedTuple):
    """A bench with two records, its hypotheses, and numbers wanted of it."""

    network: Network
    hypotheses: Hypotheses
    target: Target


@pytest.fixture(scope="module")
def world() -> World:
    steps = [
        *((f"record/{k}", record_step(0.15, _HALF)) for k in range(2)),
        *((f"seat/{k}", seat_step(0.05)) for k in range(2)),
        ("set", free_step("set", 0.04)),
        ("play", play_step(0.05, _HALF)),
        ("cast", free_step("cast", 0.05)),
        ("mouth", free_step("mouth", 0.03)),
        ("axis", axis_step(4.0, 0.03)),
    ]
    faults = [
        *record_faults(2, _HALF),
        *seat_faults(None),
        *set_faults(),
        *cast_faults(),
        *instrument_faults(_HALF, axis_motion(0.03), None),
    ]
    network = build(("record 1", "record 2"), steps, faults)
    x, y, z = MOLAR_MM
    j = np.concatenate([at_place((x, y, z)), at_place((x, y, -z)), at_place((92.0, -42.0, 0.0))])
    target = Target(
        j @ network.pick(*OF_MOUNTING) @ network.honest, j @ network.pick(*JUDGED) @ network.faults
    )
    return World(network, enumerate_hypotheses(network.modes, least=2e-5), target)


def look(network: Network, key: str, motion: np.ndarray, us: tuple[float, ...]) -> Look:
    """A check of down, pitch and roll of some motion, found zero."""
    honest, faults = network.rows(motion[:3])
    return Look(key, key, honest, faults, np.zeros(3), np.diag(np.square(us)))


def checks_of(network: Network) -> Checks:
    return Checks(
        looks=(
            look(network, "set", network.pick("set"), (0.03, 0.001, 0.0008)),
            look(network, "second", network.against(1), (0.05, 0.002, 0.001)),
            look(network, "first", network.against(0), (0.03, 0.001, 0.0008)),
        )
    )


def together(world: World, acting: tuple[int, ...], checks: Checks) -> tuple[np.ndarray, ...]:
    """Mean and covariance of checks and wanted numbers under one hypothesis, the textbook way."""
    n, slices = world.network, world.hypotheses.columns()
    mean, cov = np.zeros(n.faults.shape[1]), np.zeros((n.faults.shape[1],) * 2)
    for i in acting:
        mean[slices[i]] = world.hypotheses.modes[i].mean
        cov[slices[i], slices[i]] = world.hypotheses.modes[i].cov
    h = np.concatenate([k.honest for k in checks.looks])
    x = np.concatenate([k.faults for k in checks.looks])
    noise = np.zeros((len(h), len(h)))
    at = 0
    for k in checks.looks:
        m = len(k.values)
        noise[at : at + m, at : at + m] = k.cov
        at += m
    t, f = world.target
    every_h, every_x = np.concatenate([h, t]), np.concatenate([x, f])
    whole = every_h @ n.honest_cov @ every_h.T + every_x @ cov @ every_x.T
    whole[: len(h), : len(h)] += noise
    return every_x @ mean, whole, np.array(len(h))


def test_probabilities_of_normals_are_those_of_the_error_function() -> None:
    z = np.linspace(-12.0, 12.0, 4001)
    exact = np.array([0.5 * math.erfc(-v / math.sqrt(2.0)) for v in z])
    assert np.max(np.abs(below(z) / exact - 1.0)) < 3e-7


@given(mean=st.floats(-3, 3), sd=st.floats(0.1, 3), low=st.floats(-2, 1), width=st.floats(0.2, 4))
def test_a_normal_kept_between_two_ends_has_the_textbook_moments(
    mean: float, sd: float, low: float, width: float
) -> None:
    for ends in ((low, low + width), (low, math.inf), (-math.inf, low)):
        p, centre, var = between(np.array(mean), np.array(sd), *ends)
        kept = stats.truncnorm((ends[0] - mean) / sd, (ends[1] - mean) / sd, mean, sd)
        exact = stats.norm.cdf(ends[1], mean, sd) - stats.norm.cdf(ends[0], mean, sd)
        if exact < 1e-9:
            continue
        assert float(p) == pytest.approx(exact, rel=1e-4, abs=1e-9)
        if exact > 1e-4:
            assert float(centre) == pytest.approx(kept.mean(), abs=2e-3 * sd)
            assert float(var) == pytest.approx(kept.var(), abs=1e-2 * sd**2)


@given(parts=st.lists(st.floats(-1, 1), min_size=6, max_size=6), place=st.integers(0, 3))
def test_a_motion_moves_places_as_its_twist_does(parts: list[float], place: int) -> None:
    at = np.array([(50.0, -36.0, 28.0), (92.0, -42.0, 0.0), (0.0, 0.0, 55.0), (70.0, -40.0, 0.0)][place])
    small = np.array(parts) * np.array([1e-4, 1e-6, 1e-6, 1e-4, 1e-4, 1e-6])
    moved = exp6(as_twist() @ small) @ np.append(at, 1.0)
    d = moved[:3] - at
    down, ahead, right = at_place(at) @ small
    assert np.allclose(d, (ahead, -down, right), atol=1e-8)


def test_condyles_and_motion_are_each_others_inverse_but_for_the_opening() -> None:
    assert np.allclose(condyles_of(_HALF) @ from_condyles(_HALF), np.eye(5), atol=1e-12)
    assert np.allclose(condyles_of(_HALF) @ hinge_opening(), 0.0, atol=1e-12)


def test_stops_amplify_as_their_triangle_does() -> None:
    # checks: front teeth only make 0.1 mm at each stop about 0.5 mm at a second molar; front and both molars 0.1
    front = [(84.0, 18.0), (89.0, 12.0), (92.0, 5.0), (92.0, -5.0), (89.0, -12.0), (84.0, -18.0)]
    spread = [(50.0, 28.0), (50.0, -28.0), (92.0, 0.0)]
    molar = at_place(MOLAR_MM)[0, :3]
    few, wide = plane_of_stops(front), plane_of_stops(spread)
    assert few is not None
    assert wide is not None
    assert np.linalg.norm(molar @ few) > 3.0
    assert np.linalg.norm(molar @ wide) == pytest.approx(1.0, abs=1e-9)
    assert plane_of_stops([(50.0, 0.0), (60.0, 0.0), (90.0, 0.0)]) is None


def test_evidence_and_what_is_left_are_those_of_the_whole_normal(world: World) -> None:
    checks = checks_of(world.network)
    prepared = prepare(world.network.honest_cov, world.hypotheses, checks.looks)
    y = np.random.default_rng(3).standard_normal(9) * 0.05 * np.array([1, 0.03, 0.03] * 3)
    logs = log_evidence(prepared, y)[0]
    left = left_over(prepared, y, world.target)
    mean0, whole0, m = together(world, (), checks)
    base = stats.multivariate_normal(mean0[:m], whole0[:m, :m]).logpdf(y)
    for h in (0, 1, 7, 60, 200, 500, len(logs) - 1):
        mean, whole, m = together(world, world.hypotheses.acting[h], checks)
        seen, across = whole[:m, :m], whole[m:, :m]
        assert logs[h] == pytest.approx(stats.multivariate_normal(mean[:m], seen).logpdf(y) - base, abs=1e-6)
        gain = np.linalg.solve(seen, across.T).T
        assert np.allclose(left.mean[0, h], mean[m:] + gain @ (y - mean[:m]), atol=1e-9)
        assert np.allclose(left.cov[h], whole[m:, m:] - gain @ across.T, atol=1e-9)


def test_two_faults_that_cancel_are_weighed(world: World) -> None:
    """Record sagged and cast lifted by as much: the second check sees nothing, movement during set and the pair do."""
    n = world.network
    keys = [m.key for m in world.hypotheses.modes]
    lift = n.faults[:, world.hypotheses.columns()[keys.index("set_evenly")]][:, 0] * -0.30
    sink = n.faults[:, world.hypotheses.columns()[keys.index("seat")]][:, 0] * 0.30
    set_look, _, first = checks_of(n).looks
    found = Checks(
        looks=(
            set_look._replace(values=(n.pick("set") @ (lift + sink))[:3]),
            first._replace(values=(n.against(0) @ (lift + sink))[:3]),
        )
    )
    weighed = weigh(n.honest_cov, world.hypotheses, found, world.target)
    first_pair = weighed.pairs(0.02)[0]
    assert set(first_pair[:2]) == {"set_evenly", "record_seat"}
    assert weighed.chances()["record_seat"] > 0.5
    assert weighed.chances()["nothing"] < 0.05


def test_a_way_of_seating_weighs_as_its_simulation_does(world: World) -> None:
    n = world.network
    honest, faults = n.rows((at_place(MOLAR_MM)[0] - at_place((50.0, -36.0, -28.0))[0])[None] @ n.against(1))

    def one(low: float, high: float) -> Condition:
        return Condition(honest[0], faults[0], 0.06, low, high)

    choice = Choice("seat", "seat", ((one(0.15, math.inf),), (one(-math.inf, -0.15),), ()), 0)
    few = likeliest(world.hypotheses, 40)
    checks = Checks(choices=(choice,))
    weighed = weigh(n.honest_cov, few, checks, world.target)
    rng = np.random.default_rng(5)
    which = rng.choice(len(few.acting), size=200_000, p=np.exp(few.log_prior))
    drawn = draw(n.honest_cov, few, checks, world.target, which, rng)
    seen = drawn.outcomes[0] == 0
    shares = np.bincount(which[seen], minlength=len(few.acting)) / seen.sum()
    assert np.max(np.abs(shares - weighed.weights)) < 0.01
    by_mean = weighed.weights @ weighed.mean
    assert np.allclose(drawn.truth[seen].mean(axis=0), by_mean, atol=0.01)


def test_the_interval_covers_and_the_chances_are_kept(world: World) -> None:
    """Over 2 000 mountings the 95 % interval holds 93 to 97 %, and of causes said at 70 % some 70 % are right."""
    n, few = world.network, likeliest(world.hypotheses, 400)
    checks = checks_of(n)
    rng = np.random.default_rng(11)
    which = rng.choice(len(few.acting), size=2000, p=np.exp(few.log_prior))
    drawn = draw(n.honest_cov, few, checks, world.target, which, rng)
    prepared = prepare(n.honest_cov, few, checks.looks)
    log = few.log_prior + log_evidence(prepared, drawn.found)
    w = np.exp(log - log.max(axis=1, keepdims=True))
    w /= w.sum(axis=1, keepdims=True)
    left = left_over(prepared, drawn.found, world.target)
    sd = np.sqrt(np.diagonal(left.cov, axis1=1, axis2=2))
    # a truth lies in the central interval where the mixture's own chance below it is between the two tails
    under = np.zeros_like(drawn.truth)
    for part in np.array_split(np.arange(2000), 8):
        z = (drawn.truth[part][:, None] - left.mean[part]) / sd
        under[part] = np.sum(w[part][..., None] * below(z), axis=1)
    covered = np.mean((under > 0.025) & (under < 0.975), axis=0)
    sys.stdout.write(f"coverage of the 95 % intervals: {np.round(covered, 3)}\n")
    assert np.all((covered > 0.93) & (covered < 0.97))
    few_cases = slice(0, 5)
    low, high = mixture_interval(
        w[few_cases], left.mean[few_cases], np.broadcast_to(sd, left.mean[few_cases].shape)
    )
    inside = (drawn.truth[few_cases] > low) & (drawn.truth[few_cases] < high)
    assert np.array_equal(inside, (under[few_cases] > 0.025) & (under[few_cases] < 0.975))
    named = few.named()
    said = w @ named.T
    true = named[:, which].T
    for low_end, high_end in ((0.1, 0.3), (0.3, 0.5), (0.5, 0.7), (0.7, 0.9)):
        there = (said >= low_end) & (said < high_end)
        count = int(there.sum())
        if count < 60:
            continue
        gap = float(true[there].mean() - said[there].mean())
        sys.stdout.write(f"said {low_end} to {high_end}: {count} causes, {gap:+.3f}\n")
        assert abs(gap) < 4.0 * math.sqrt(0.25 / count)


def test_the_rates_are_as_claimed(world: World) -> None:
    """2 000 mountings drawn and judged by textbook formulas find the stated rates within their standard errors."""
    n, few = world.network, likeliest(world.hypotheses, 120)
    small = world._replace(hypotheses=few)
    checks = checks_of(n)
    stated = verdict_rates(n.honest_cov, few, checks, world.target, _LIMITS, np.random.default_rng(1))
    sys.stdout.write(f"stated: {stated}\n")
    rng = np.random.default_rng(2)
    prior = np.exp(few.log_prior)
    laws = [together(small, acting, checks) for acting in few.acting]
    m = int(laws[0][2])
    which = rng.choice(len(prior), size=2000, p=prior)
    both = np.stack([rng.multivariate_normal(laws[h][0], laws[h][1], method="eigh") for h in which])
    y, truth = both[:, :m], both[:, m:]
    log, centre, spread = [], [], []
    for (mean, whole, _), p in zip(laws, prior, strict=True):
        seen, across = whole[:m, :m], whole[m:, :m]
        log.append(math.log(p) + stats.multivariate_normal(mean[:m], seen).logpdf(y))
        gain = np.linalg.solve(seen, across.T).T
        centre.append(mean[m:] + (y - mean[:m]) @ gain.T)
        spread.append(np.sqrt(np.diag(whole[m:, m:] - gain @ across.T)))
    w = np.exp(np.array(log) - np.max(log, axis=0))
    w = (w / w.sum(axis=0)).T
    mid, sd = np.swapaxes(np.array(centre), 0, 1), np.array(spread)
    called = np.full(2000, 3)

    def chance(limit: float) -> np.ndarray:
        return np.einsum("sh,shr->sr", w, stats.norm.cdf((limit - mid) / sd))

    sure = stats.norm.cdf(2.0)
    in_both = (chance(0.4) >= sure) & (chance(-0.4) <= 1 - sure)
    zero = chance(0.0)
    called[np.any((zero >= sure) | (zero <= 1 - sure), axis=1) & np.all(in_both, axis=1)] = 1
    called[np.all((chance(0.2) >= sure) & (chance(-0.2) <= 1 - sure), axis=1)] = 0
    called[np.any((chance(0.4) <= 1 - sure) | (chance(-0.4) >= sure), axis=1)] = 2
    sound = few.orderly()[which]
    off = np.max(np.abs(truth), axis=1) > 0.4
    for rate, hit in (
        (stated.false_alarm, (called == 2)[sound]),
        (stated.open, (called == 3)[sound]),
        (stated.miss, (called == 0)[off]),
        (stated.found, (called == 2)[off]),
    ):
        p = float(hit.mean())
        se = math.sqrt(max(p * (1 - p), 1.0 / len(hit)) / len(hit))
        assert abs(p - rate.share) < 3.5 * math.hypot(se, rate.se), (rate, p, len(hit))


def test_one_normal_is_judged_as_the_guard_band_does() -> None:
    one = np.ones((1, 1))

    def called(value: float, u: float) -> str:
        return VERDICTS[
            int(mixture_verdicts(one, np.full((1, 1, 1), value), np.full((1, 1, 1), u), 0.2, 0.4)[0])
        ]

    assert called(0.1, 0.049) == "agrees"
    assert called(0.1, 0.051) == "doubtful" if 0.1 / 0.051 > 2 else called(0.1, 0.051) == "cannot tell"
    assert called(0.3, 0.049) == "doubtful"
    assert called(0.6, 0.09) == "does not agree"
    assert called(0.45, 0.09) == "cannot tell"


def test_a_finding_that_shows_the_fault_itself_counts_by_its_chances(world: World) -> None:
    n = world.network
    nothing = Target(np.zeros((0, n.honest.shape[1])), np.zeros((0, n.faults.shape[1])))
    prior = np.exp(world.hypotheses.log_prior)
    named = world.hypotheses.named()[world.hypotheses.causes().index("cast_misfit")]
    rock = Direct("rock", "rock", {"misfit": 0.6}, 0.0 + 1e-6)
    after = weigh(n.honest_cov, world.hypotheses, Checks(directs=(rock,)), nothing)
    assert after.chances()["cast_misfit"] == pytest.approx(1.0, abs=1e-3)
    calm = weigh(n.honest_cov, world.hypotheses, Checks(directs=(rock._replace(seen=False),)), nothing)
    before = prior[named].sum()
    assert calm.chances()["cast_misfit"] == pytest.approx(0.4 * before / (1 - 0.6 * before), rel=1e-3)


@settings(max_examples=20)
@given(k=st.integers(1, 6))
def test_the_best_of_several_is_small_by_chance(k: int) -> None:
    draws = np.abs(np.random.default_rng(k).standard_normal((40_000, k))).min(axis=1)
    assert best_of(k) == pytest.approx(draws.mean() / math.sqrt(2.0 / math.pi), rel=0.03)
    assert false_comfort(0.1, k) == pytest.approx(1.0 - 0.9**k)


def test_rows_of_no_choice_are_none(world: World) -> None:
    conditions, about = rows(())
    assert conditions == ()
    assert join_targets(world.target, about) is world.target
