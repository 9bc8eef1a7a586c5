"""Stops and luted places: barycentric weights, least-squares planes, areas, lines."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from mountproof.geometry.support import amplification, outline_area, support, weights
from published.agree import agrees

coordinate = st.floats(-60.0, 110.0)
places = st.lists(st.tuples(coordinate, coordinate), min_size=3, max_size=8)


def spread(points):
    return support(np.array(points)).across_mm


@given(places, st.tuples(coordinate, coordinate))
def test_weights_reproduce_every_plane(points, at):
    assume(spread(points) > 1.0)
    w = weights(points, [at])
    p = np.array(points)
    assert np.sum(w) == pytest.approx(1.0, abs=1e-8)
    for plane in ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.3, -0.2, 0.7)):
        heights = plane[0] + p @ np.array(plane[1:])
        want = plane[0] + np.dot(at, plane[1:])
        assert float(w[0] @ heights) == pytest.approx(want, abs=1e-7)


@given(st.lists(st.tuples(coordinate, coordinate), min_size=3, max_size=3), st.tuples(coordinate, coordinate))
def test_three_places_are_barycentric(points, at):
    assume(spread(points) > 1.0)
    a, b, c = (np.array(p) for p in points)

    def area(p, q, r):
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    at = np.array(at)
    whole = area(a, b, c)
    want = [area(at, b, c) / whole, area(a, at, c) / whole, area(a, b, at) / whole]
    assert weights(points, [at])[0] == pytest.approx(want, rel=1e-6, abs=1e-7)


def test_an_independent_error_grows_as_drawn():
    rng = np.random.default_rng(1)
    points = np.array([[92.0, 0.0], [50.0, 28.0], [50.0, -28.0], [60.0, 25.0]])
    heights = rng.standard_normal((50_000, 4))
    design = np.column_stack([np.ones(4), points])
    planes = np.linalg.lstsq(design, heights.T, rcond=None)[0]
    at = np.array([84.0, -17.5])
    drawn = np.std(np.array([1.0, *at]) @ planes)
    assert amplification(points, [at])[0] == pytest.approx(drawn, rel=0.01)


def test_lines_are_seen_and_refused():
    line = [(90.0, 0.0), (70.0, 10.0), (50.0, 20.0)]
    assert support(line).slenderness == pytest.approx(0.0, abs=1e-12)
    assert np.abs(support(line).loose_about) == pytest.approx(
        np.array([20.0, 10.0]) / np.hypot(20, 10), abs=1e-9
    )
    with pytest.raises(ValueError, match="one line"):
        weights(line, [(60.0, 0.0)])
    with pytest.raises(ValueError, match="one line"):
        weights([(1.0, 2.0), (1.0, 2.0), (1.0, 2.0)], [(0.0, 0.0)])
    with pytest.raises(ValueError):
        support(np.zeros((0, 2)))


def test_areas():
    square = [(0, 0), (2, 0), (2, 2), (0, 2), (1, 1)]
    assert outline_area(square) == 4.0
    assert outline_area(square[:2]) == 0.0
    assert outline_area([(0, 0), (1, 1), (2, 2)]) == 0.0
    assert support([(0, 0), (2, 0), (2, 2), (0, 2)]).slenderness == pytest.approx(1.0)


# Stops of a record, the multiplier of a stop's error at the left second and first molar, as printed by an independent
# program of our own. Given there: incisor (92, 0), canines X 84, molars (60, +-25) and (50, +-28). The other places were
# not printed and are plausible ones of ours.
INC, C, L, M, P1, P2 = (92, 0), (84, 17.5), (90, 8), (92, 4), (75, 22), (68, 23)
M1, M2 = (60, 25), (50, 28)


def both(*teeth):
    return [(x, s * z) for x, z in teeth for s in (1, -1)]


def right(*teeth):
    return [(x, -z) for x, z in teeth]


@pytest.mark.parametrize(
    ("stops", "second", "first"),
    [
        ([*both(C), INC], "5.8", "4.2"),
        (both(M, L, C), "4.8", "3.6"),
        (both(M, L, C, P1), "2.0", "1.5"),
        ([INC, *both(M2)], "1.0", "0.9"),
        (both(C, M1), "1.2", "0.9"),
        ([INC, *right(C, P2, M1, M2)], "6.0", "5.1"),
        (both(M, L, C, P1, P2, M1, M2), "0.65", "0.5"),
    ],
    ids=[
        "canines and incisor",
        "six front",
        "with premolars",
        "incisor and second molars",
        "canines and molars",
        "one side",
        "full",
    ],
)
def test_multipliers_of_record_stops(stops, second, first):
    got = amplification(stops, [M2, M1])
    # a millimetre in the places of ours moves the least-squares plane of a full arch by a hundredth
    room = 0.01 if len(stops) > 10 else 0.0
    agrees(second, got[0], inputs_half_range=room)
    agrees(first, got[1], inputs_half_range=room)
