"""Contour lines: closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from mountproof.occlusion.contours import contour_lines, line_length


def test_a_circle_is_one_ring_of_its_length() -> None:
    r, c = np.mgrid[0:101, 0:121].astype(float)
    (ring,) = contour_lines(np.hypot(r - 50.2, c - 60.1), 31.7)
    assert (ring[0] == ring[-1]).all()
    assert np.hypot(ring[:, 0] - 60.1, ring[:, 1] - 50.2) == pytest.approx(31.7, abs=0.01)
    assert line_length(ring) == pytest.approx(2 * np.pi * 31.7, rel=2e-3)


@given(a=st.floats(-2, 2), b=st.floats(-2, 2), level=st.floats(-10, 10))
def test_a_plane_has_one_straight_line(a: float, b: float, level: float) -> None:
    r, c = np.mgrid[0:15, 0:19].astype(float)
    lines = contour_lines(a * c + b * r, level)
    assert len(lines) <= 1
    for line in lines:
        assert a * line[:, 0] + b * line[:, 1] == pytest.approx(level, abs=1e-9)


@given(arrays(np.float64, (9, 11), elements=st.floats(0, 1)), st.floats(0.05, 0.95))
def test_every_crossed_edge_is_on_exactly_one_line(z: np.ndarray, level: float) -> None:
    assume((z != level).all())
    lines = contour_lines(z, level)
    above = z > level
    crossed = int((above[:, 1:] != above[:, :-1]).sum() + (above[1:] != above[:-1]).sum())
    on_lines = sum(len(x) - (1 if len(x) > 1 and (x[0] == x[-1]).all() else 0) for x in lines)
    assert on_lines == crossed
    for line in lines:
        for p in (line[0], line[-1]):  # a line that is no ring ends at the rim
            if not (line[0] == line[-1]).all():
                assert p[0] in (0, 10) or p[1] in (0, 8)


def test_no_line_through_what_is_not_known() -> None:
    r, c = np.mgrid[0:21, 0:21].astype(float)
    z = c.copy()
    z[10, 8:13] = np.nan
    lines = contour_lines(z, 10.5)
    assert len(lines) == 2
    assert all(((line[:, 1] <= 9) | (line[:, 1] >= 11)).all() for line in lines)
    assert contour_lines(np.full((4, 4), np.nan), 0.0) == ()
    assert len(r) == 21
