"""The plane of a split cast: exact through three places, its doubt by draws, and a line refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.bench.split_cast import Gap, InLine, SplitFit, expected_sd_mm, gap_between, split_plane

CONDYLE = (0.0, 55.0)
RIM = [(90.0, 0.0), (60.0, 25.0), (60.0, -25.0), (40.0, 15.0), (40.0, -18.0)]
small = st.floats(-0.01, 0.01)


def gaps_of(plane: tuple[float, float, float], places=RIM, u: float = 0.02) -> list[Gap]:
    h, a, b = plane
    return [Gap(x, z, h + a * (x - 65.0) + b * z, u) for x, z in places]


def fitted(gaps: list[Gap]) -> SplitFit:
    found = split_plane(gaps)
    assert isinstance(found, SplitFit)
    return found


def test_a_tenth_at_the_rim_of_a_50_mm_base_is_a_tenth_of_a_degree_and_as_much_at_55_mm() -> None:
    """Trade arithmetic: atan(0.1 / 50) = 0.115 deg, and 55 mm beside the edge where it is closed 0.11 mm."""
    found = fitted([Gap(60.0, 25.0, 0.10, 0.02), Gap(60.0, -25.0, 0.0, 0.02), Gap(85.0, -25.0, 0.0, 0.02)])
    assert math.degrees(found.plane.values[2]) == pytest.approx(0.1146, abs=1e-4)
    assert found.at([(60.0, -25.0 + 55.0)]).value == pytest.approx(0.11, abs=1e-9)


@given(st.floats(0.0, 0.5), small, small)
def test_three_places_give_the_plane_exactly_and_more_of_them_no_other(h: float, a: float, b: float) -> None:
    places = [(5.0, 55.0), (5.0, -55.0), (92.0, 0.0), (50.0, 28.0)]
    want = [h + a * (x - 65.0) + b * z for x, z in places]
    for some in (RIM[:3], RIM):
        found = fitted(gaps_of((h, a, b), some))
        assert found.at(places).values == pytest.approx(want, abs=1e-9)
        assert np.abs(found.residuals_mm).max() < 1e-9
    assert fitted(gaps_of((h, a, b), RIM[:3])).tail == 1.0


def test_the_doubt_at_a_condyle_is_that_of_the_draws() -> None:
    rng = np.random.default_rng(4)
    us = np.array([0.02, 0.05, 0.03, 0.02, 0.04])
    clean = gaps_of((0.1, 0.001, -0.002))
    gaps = [g._replace(u_mm=float(u)) for g, u in zip(clean, us, strict=True)]
    found = fitted(gaps)
    rows = np.array([g.gap_mm for g in gaps]) + rng.normal(size=(2000, 5)) * us
    drawn = [
        fitted([g._replace(gap_mm=float(v)) for g, v in zip(gaps, row, strict=True)]).at([CONDYLE]).value
        for row in rows
    ]
    assert np.std(drawn) == pytest.approx(found.at([CONDYLE]).u, rel=0.05)
    assert np.mean(drawn) == pytest.approx(found.at([CONDYLE]).value, abs=4 * np.std(drawn) / 44)


def test_a_gap_that_lies_off_the_plane_shows() -> None:
    gaps = gaps_of((0.1, 0.0, 0.002))
    assert fitted(gaps).tail > 0.9
    gaps[3] = gaps[3]._replace(gap_mm=gaps[3].gap_mm + 0.2)
    assert fitted(gaps).tail < 1e-4


@pytest.mark.parametrize(
    "places",
    [
        [(60.0, 20.0)],
        [(60.0, 20.0), (60.0, -20.0)],
        [(60.0, 25.0), (60.0, 0.0), (60.5, -25.0)],
        [(90.0, 0.0), (60.0, 0.5), (40.0, 0.0)],
    ],
)
def test_places_in_a_line_are_refused_and_the_place_to_add_makes_a_plane(places) -> None:
    refused = split_plane(gaps_of((0.1, 0.0, 0.0), places))
    assert isinstance(refused, InLine)
    assert refused.places == len(places)
    assert 20.0 <= refused.ahead_mm <= 120.0
    more = [*places, (refused.ahead_mm, refused.right_mm)]
    if len(more) >= 3:
        assert isinstance(split_plane(gaps_of((0.1, 0.0, 0.0), more)), SplitFit)


def test_strips_tell_a_gap_between_them() -> None:
    """A rectangle: middle and width / sqrt(12); drawn gaps lie in it with that spread."""
    value, u = gap_between(0.04, 0.10, 0.0)
    drawn = np.random.default_rng(0).uniform(0.04, 0.10, 100_000)
    assert value == pytest.approx(drawn.mean(), abs=2e-4)
    assert u == pytest.approx(drawn.std(), rel=0.01)
    assert gap_between(None, 0.01, 0.003) == pytest.approx((0.005, math.hypot(0.01 / math.sqrt(12.0), 0.003)))
    with pytest.raises(ValueError, match="thicker"):
        gap_between(0.10, 0.10, 0.0)


def test_two_honest_records_at_a_condyle() -> None:
    """0.15 mm each differ by 0.21 (1 SD): the 0.15 to 0.4 mm that honest records are said to differ by lie within 2 SDs."""
    assert expected_sd_mm(0.15, 0.0, 0.0) == pytest.approx(0.2121, abs=1e-4)
    rng = np.random.default_rng(1)
    one, two = rng.normal(size=(2, 200_000)) * math.hypot(0.1, 0.05)
    read = rng.normal(size=200_000) * 0.02
    assert expected_sd_mm(0.1, 0.05, 0.02) == pytest.approx(np.std(one - two + read), rel=0.01)
