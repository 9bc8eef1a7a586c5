"""The change told by foils: planted changes, coverage of what is promised, laws, and a slow twin."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mountproof.doubt.foil_fit import (
    PRIOR_SD_MM,
    FoilFit,
    Site,
    as_reading,
    best_reading,
    fit_foils,
    fitted_gaps,
)
from mountproof.doubt.foil_readings import (
    OWN_CAST_SD_MM,
    OWN_GIVE_SD_MM,
    Interval,
    Read,
    State,
    give_values,
    interval_of,
)
from mountproof.doubt.foil_tables import CONTACT_PART, CONTACT_SD_MM, GAP_SD_MM, Known
from mountproof.doubt.motions import MIDDLE_MM
from mountproof.doubt.steps import covariance, free_step
from naive import foil_fit as naive

#: Second molars to central incisors (ahead, right; mm), the patient's right first; an invented arch of usual size.
_RIGHT = ((52.0, 28.0), (60.0, 26.0), (66.0, 23.5), (74.0, 21.0), (80.0, 17.0), (87.0, 12.0), (92.0, 4.5))
PLACES = (*_RIGHT, *((a, -r) for a, r in reversed(_RIGHT)))
GIVE_MM = 0.030
GIVES = give_values(GIVE_MM, 0.015)
FOILS = (0.008, 0.020, 0.040, 0.060, 0.100, 0.200)


def site(
    place: tuple[float, float],
    mouth: list[Read],
    casts: list[Read],
    gives: bool = True,
    known: Known | None = None,
) -> Site:
    in_mouth = interval_of(mouth, OWN_GIVE_SD_MM if gives else 0.0, -math.inf)
    on_casts = interval_of(casts, OWN_CAST_SD_MM, 0.0)
    assert in_mouth is not None and on_casts is not None
    return Site(*place, in_mouth, on_casts, gives, known)


def lists(change: tuple[float, float, float], gaps: np.ndarray, foils=FOILS, off=0.0) -> list[Site]:
    """Sites of a mouth with these gaps (mm), and of casts changed by down (mm), pitch, roll (deg), each place off by so much."""
    down, pitch, roll = change[0], math.radians(change[1]), math.radians(change[2])
    out = []
    for (ahead, right), gap, err in zip(PLACES, gaps, off + np.zeros(len(PLACES)), strict=True):
        on_casts = gap + err + down + pitch * (ahead - MIDDLE_MM[0]) + roll * right
        out.append(
            site(
                (ahead, right),
                [Read(t, "holds" if gap < t + GIVE_MM else "free") for t in foils],
                [Read(t, "holds" if on_casts < t else "free") for t in foils],
            )
        )
    return out


def told(fit: FoilFit) -> dict[str, float]:
    down, pitch, roll = fit.mean
    return {"down": down, "pitch": math.degrees(pitch), "roll": math.degrees(roll)}


@pytest.mark.parametrize("change", [(0.1, 0.0, 0.0), (0.1, 0.1, 0.0), (0.15, 0.0, 0.1), (0.1, -0.1, -0.1)])
def test_a_tenth_of_a_millimetre_and_of_a_degree_are_found(change: tuple[float, float, float]) -> None:
    off = []
    for k in range(8):
        rng = np.random.default_rng(k)
        gaps = np.abs(rng.normal(0.0, 0.08, len(PLACES)))
        gaps[[1, 3, 10, 12]] = 0.0
        fit = fit_foils(lists(change, gaps, off=rng.normal(0.0, OWN_CAST_SD_MM, len(PLACES))), GIVES)
        off.append([told(fit)[key] - c for key, c in zip(("down", "pitch", "roll"), change, strict=True)])
        for i, c in enumerate((change[0], math.radians(change[1]), math.radians(change[2]))):
            e = fit.along(np.eye(3)[i])
            assert abs(e.mean - c) < 4.0 * e.u
        assert fit.along([1.0, 0.0, 0.0]).low > 0.0
        assert fit.effective > 500
    mean = np.abs(np.mean(off, axis=0))
    assert mean[0] < 0.02 and mean[1] < 0.04 and mean[2] < 0.04


def simulated(
    rng: np.random.Generator, count: int, foils: tuple[float, ...], drags: bool
) -> list[tuple[np.ndarray, list[Site]]]:
    """Draw mouths, changes and readings as the model says they come; casts that would sink into each other are none."""
    places = np.array(PLACES[::2])
    prior = covariance(free_step("foils", PRIOR_SD_MM))[:3, :3]
    design = np.column_stack([np.ones(len(places)), places[:, 0] - MIDDLE_MM[0], places[:, 1]])
    first = [Read(foils[0], "free")]
    soft = site(PLACES[0], first, first)
    assert soft.mouth is not None
    out: list[tuple[np.ndarray, list[Site]]] = []
    while len(out) < count:
        n = 20 * count
        change = rng.multivariate_normal(np.zeros(3), prior, n)
        touch = rng.random((n, len(places))) < CONTACT_PART
        gap = np.abs(rng.normal(0.0, np.where(touch, CONTACT_SD_MM, GAP_SD_MM)))
        mouth = gap - rng.choice(GIVES, n)[:, None] + rng.normal(0.0, soft.mouth.sd_mm, gap.shape)
        casts = gap + change @ design.T + rng.normal(0.0, soft.casts.sd_mm, gap.shape)
        for i in np.flatnonzero(np.all(casts >= 0.0, axis=1)):
            sites = [
                site(tuple(p), reads(m, foils, drags), reads(c, foils, drags))
                for p, m, c in zip(places, mouth[i], casts[i], strict=True)
            ]
            out.append((change[i], sites))
    return out[:count]


def reads(gap: float, foils: tuple[float, ...], drags: bool) -> list[Read]:
    half = 0.5 if drags else 0.0

    def state(t: float) -> State:
        return "holds" if gap < t * (1.0 - half) else "free" if gap > t * (1.0 + half) else "drags"

    return [Read(t, state(t), drags) for t in foils]


@pytest.mark.slow
def test_intervals_of_95_percent_cover_95_percent() -> None:
    rows = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 22.0, 0.0], [1.0, -18.0, 28.0]])
    rng = np.random.default_rng(20170417)
    drawn = simulated(rng, 800, (0.008, 0.040, 0.100), drags=False)
    drawn += simulated(rng, 600, (0.008,), drags=False)
    drawn += simulated(rng, 600, (0.012,), drags=True)
    hits = np.zeros(len(rows))
    for change, sites in drawn:
        fit = fit_foils(sites, GIVES, draws=512)
        hits += [e.low <= row @ change <= e.high for row in rows for e in (fit.along(row),)]
    share = hits / len(drawn)
    assert np.all((share > 0.93) & (share < 0.97)), share


_STATES = st.sampled_from(("holds", "free"))
_LISTS = st.lists(st.tuples(_STATES, _STATES), min_size=len(PLACES), max_size=len(PLACES))


def one_foil(states: list[tuple[State, State]], places=PLACES, t: float = 0.012) -> list[Site]:
    return [site(p, [Read(t, m)], [Read(t, c)]) for p, (m, c) in zip(places, states, strict=True)]


@settings(max_examples=15, deadline=None)
@given(_LISTS)
def test_the_mirror_image_turns_the_roll_round(states: list[tuple[State, State]]) -> None:
    fit = fit_foils(one_foil(states), GIVES)
    other = fit_foils(one_foil(states, tuple((a, -r) for a, r in PLACES)), GIVES)
    sd = np.sqrt(np.diag(fit.cov))
    assert np.allclose(other.mean * (1.0, 1.0, -1.0), fit.mean, atol=0.06 * sd)
    assert np.allclose(np.sqrt(np.diag(other.cov)), sd, rtol=0.06)


@settings(max_examples=15, deadline=None)
@given(_LISTS, st.randoms(use_true_random=False))
def test_the_order_of_teeth_does_not_matter(states: list[tuple[State, State]], rng) -> None:
    sites = one_foil(states)
    fit = fit_foils(sites, GIVES)
    order = list(range(len(sites)))
    rng.shuffle(order)
    other = fit_foils([sites[i] for i in order], GIVES)
    assert np.allclose(other.mean, fit.mean, rtol=1e-6, atol=1e-9)
    gaps, moved = fitted_gaps(fit), fitted_gaps(other)
    assert [gaps[i].mean for i in order] == pytest.approx([g.mean for g in moved], rel=1e-6)


@settings(max_examples=15, deadline=None)
@given(_LISTS, st.integers(0, len(PLACES) - 1))
def test_a_foil_that_comes_free_on_the_casts_speaks_for_more_room_there(
    states: list[tuple[State, State]], at: int
) -> None:
    held, free = list(states), list(states)
    held[at], free[at] = (states[at][0], "holds"), (states[at][0], "free")
    less, more = (fit_foils(one_foil(s), GIVES).at(*PLACES[at]) for s in (held, free))
    assert more.mean > less.mean - 0.02 * less.u


@pytest.mark.parametrize(
    "states",
    [
        [("holds", "holds"), ("holds", "free"), ("free", "holds"), ("free", "free"), ("holds", "holds")],
        [("free", "free"), ("holds", "free"), ("holds", "holds"), ("free", "free"), ("free", "free")],
    ],
)
def test_the_slow_twin_finds_the_same(states: list[tuple[State, State]]) -> None:
    gives = give_values(GIVE_MM, 0.015, count=2)
    places = (PLACES[0], PLACES[2], PLACES[6], PLACES[11], PLACES[13])
    sites = one_foil(states, places, 0.020)
    sites[1] = sites[1]._replace(gives=False)
    fit = fit_foils(sites, gives)
    sds = np.sqrt(np.diag(covariance(free_step("foils", PRIOR_SD_MM))[:3, :3]))
    mean, cov = naive.posterior(sites, gives, sds)
    sd = np.sqrt(np.diag(cov))
    assert np.allclose(fit.mean, mean, atol=0.03 * sd)
    assert np.allclose(np.sqrt(np.diag(fit.cov)), sd, rtol=0.03)


def test_gaps_known_from_scans_narrow_the_change() -> None:
    gaps = np.array([0.0, 0.05, 0.03, 0.12, 0.2, 0.3, 0.3, 0.3, 0.3, 0.2, 0.12, 0.03, 0.05, 0.0])
    plain = lists((0.07, 0.0, 0.0), gaps, foils=(0.040, 0.100, 0.200))
    known = [s._replace(known=Known(float(g), 0.02)) for s, g in zip(plain, gaps, strict=True)]
    without, with_scans = fit_foils(plain, GIVES), fit_foils(known, GIVES)
    assert np.linalg.det(with_scans.cov) < 0.9 * np.linalg.det(without.cov)
    e = with_scans.along([1.0, 0.0, 0.0])
    assert e.low < 0.07 < e.high and e.u < 0.02
    alone = fit_foils([s._replace(mouth=None) for s in known], GIVES)
    assert abs(alone.mean[0] - 0.07) < 4.0 * math.sqrt(alone.cov[0, 0])


def test_all_teeth_holding_bounds_the_change_and_makes_no_change_likely() -> None:
    fit = fit_foils(one_foil([("holds", "holds")] * len(PLACES), t=0.008), GIVES)
    e = fit.along([1.0, 0.0, 0.0])
    assert e.low < 0.0 < e.high and max(-e.low, e.high) < 0.05
    assert fit.at_zero < 1.0 and not fit.odd()


def test_lists_that_tell_nothing_leave_what_was_assumed() -> None:
    fit = fit_foils(one_foil([("free", "free")] * len(PLACES), t=0.008), GIVES)
    assert len(fit.not_held()) >= 2
    values, cov = as_reading(fit)
    assert 0.5 * values @ np.linalg.solve(cov, values) <= fit.at_zero + 1e-9
    one = fit_foils(one_foil([("holds", "free")], PLACES[:1]), GIVES)
    assert [left > 0.9 for left, _ in one.not_held()][:2] == [True, True]
    # as a reading the two directions that one tooth leaves open are wide
    assert np.sum(np.linalg.eigvalsh(np.linalg.solve(one.prior_cov, as_reading(one)[1])) > 1.5) == 2


def test_taking_the_prior_out_gives_back_what_was_read() -> None:
    gaps = np.full(len(PLACES), 0.02)
    narrow, wide = (
        as_reading(fit_foils(lists((0.1, 0.05, 0.0), gaps), GIVES, prior_sd_mm=sd)) for sd in (0.3, 0.5)
    )
    sd = np.sqrt(np.diag(wide[1]))
    assert np.allclose(narrow[0], wide[0], atol=0.3 * sd)
    assert np.allclose(np.sqrt(np.diag(narrow[1])), sd, rtol=0.15)


def test_one_tooth_against_all_others_is_named() -> None:
    states: list[tuple[State, State]] = [("holds", "holds")] * len(PLACES)
    states[4] = ("holds", "free")
    sites = one_foil(states, t=0.008)
    sites[4] = site(PLACES[4], [Read(0.008, "holds")], [Read(0.2, "free")])
    assert fit_foils(sites, GIVES).odd() == (4,)


def test_the_next_foil_narrows_what_it_promises() -> None:
    states: list[tuple[State, State]] = [("holds", "free")] * len(PLACES)
    sites = one_foil(states, t=0.008)
    fit = fit_foils(sites, GIVES)
    scale = (0.1, math.radians(0.1), math.radians(0.1))
    gain = best_reading(fit, FOILS, scale)
    assert gain is not None and not gain.in_mouth
    # both outcomes of that foil, weighed by their chance, leave on average what was promised
    was = sites[gain.site]
    below = was._replace(casts=was.casts._replace(high_mm=gain.thickness_mm))
    above = was._replace(casts=was.casts._replace(low_mm=gain.thickness_mm))
    left = []
    for other in (below, above):
        changed = [*sites]
        changed[gain.site] = other
        left.append(fit_foils(changed, GIVES))
    whole = fit.mean[0]
    share = (whole - left[1].mean[0]) / (left[0].mean[0] - left[1].mean[0])
    expected = share * np.diag(left[0].cov) + (1.0 - share) * np.diag(left[1].cov)
    assert 0.0 < share < 1.0
    assert np.allclose(np.sqrt(expected), gain.us, rtol=0.05)
    assert np.all(gain.us <= np.sqrt(np.diag(fit.cov)) * (1.0 + 1e-9))
    tight = [
        s._replace(casts=Interval(0.0, 0.008, 0.02), mouth=Interval(-math.inf, 0.008, 0.01)) for s in sites
    ]
    assert best_reading(fit_foils(tight, GIVES), (0.040, 0.1), scale) is None


def test_foils_of_several_thicknesses_make_one_interval() -> None:
    both = [Read(0.040, "free"), Read(0.100, "holds")]
    found = interval_of(both, 0.0, 0.0)
    assert found is not None and (found.low_mm, found.high_mm) == (0.040, 0.100)
    assert interval_of([Read(0.008, "holds"), Read(0.040, "free")], 0.0, 0.0) is None
    drags = interval_of([Read(0.040, "drags")], 0.0, 0.0)
    assert drags is not None and drags.low_mm < 0.040 < drags.high_mm
    # where dragging was looked for, held and free begin beyond it, and the three leave no gap between them
    held, free = (interval_of([Read(0.040, s, True)], 0.0, 0.0) for s in ("holds", "free"))  # type: ignore[arg-type]
    assert held is not None and free is not None
    assert (held.high_mm, free.low_mm) == (drags.low_mm, drags.high_mm)
    assert interval_of([Read(0.008, "holds")], 0.0, -math.inf).low_mm == -math.inf  # type: ignore[union-attr]


@given(st.floats(0.0, 0.2), st.floats(0.001, 0.1))
def test_values_of_give_are_none_below_zero_and_keep_their_middle(mean: float, sd: float) -> None:
    values = give_values(mean, sd, 40)
    assert min(values) >= 0.0 and list(values) == sorted(values)
    if mean > 4.0 * sd:
        assert np.mean(values) == pytest.approx(mean, abs=1e-3 * sd + 1e-9)
        assert np.std(values) == pytest.approx(sd, rel=0.05)
    assert give_values(mean, 0.0) == (mean,)


def test_bad_input_is_told() -> None:
    sites = one_foil([("holds", "holds")] * len(PLACES))
    for bad in (
        lambda: fit_foils([], GIVES),
        lambda: fit_foils(sites, ()),
        lambda: fit_foils(sites, GIVES, prior_sd_mm=0.0),
    ):
        with pytest.raises(ValueError, match="a fit needs"):
            bad()
    with pytest.raises(ValueError, match="place"):
        fit_foils([sites[0]._replace(ahead_mm=math.nan)], GIVES)
    for known in (Known(2.0, 0.02), Known(-0.1, 0.02), Known(0.1, 0.0)):
        with pytest.raises(ValueError, match="known gap"):
            fit_foils([sites[0]._replace(known=known)], GIVES)
    with pytest.raises(ValueError, match="at least one foil"):
        interval_of([], 0.0, 0.0)
    with pytest.raises(ValueError, match="thickness"):
        interval_of([Read(0.0, "holds")], 0.0, 0.0)
    with pytest.raises(ValueError, match="give"):
        give_values(-0.01, 0.01)
