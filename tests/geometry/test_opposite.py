"""What stands opposite one place: against the kernel that asks for all vertices at once, and against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mountproof.geometry.closing import vertex_gaps
from mountproof.geometry.opposite import hidden_vertices, opposite_at
from mountproof.geometry.relief import relief_mm, vertex_normals
from mountproof.geometry.surface import prepare


def sheet(y_mm: float, slope: float, cells: int = 6) -> tuple[np.ndarray, np.ndarray]:
    """A square piece of the plane y = y_mm + slope (x - 60), from 50 to 70 mm ahead."""
    x, z = np.meshgrid(np.linspace(50.0, 70.0, cells + 1), np.linspace(-10.0, 10.0, cells + 1), indexing="ij")
    v = np.stack([x, y_mm + slope * (x - 60.0), z], axis=2).reshape(-1, 3)
    at = np.arange((cells + 1) ** 2).reshape(cells + 1, cells + 1)
    a, b, c, d = (at[:-1, :-1].ravel(), at[1:, :-1].ravel(), at[1:, 1:].ravel(), at[:-1, 1:].ravel())
    faces = np.concatenate([np.stack([a, c, b], 1), np.stack([a, d, c], 1)]).astype(np.int32)
    return v, faces


@settings(max_examples=40, deadline=None)
@given(high=st.floats(-38, -20), low=st.floats(-60, -42), up=st.floats(-0.4, 0.4), down=st.floats(-0.4, 0.4))
def test_every_vertex_has_the_same_opponent_by_both_routes(
    high: float, low: float, up: float, down: float
) -> None:
    upper = prepare(*sheet(high, up), arch="upper")
    lower = prepare(*sheet(low, down), arch="lower")
    gaps = vertex_gaps(upper, lower)
    for own, other, mm in ((upper, lower, gaps.upper_mm), (lower, upper, gaps.lower_mm)):
        for i in range(0, len(own.vertices_mm), 7):
            found = opposite_at(own.vertices_mm[i], other)
            if found is None:
                assert math.isnan(mm[i])
                continue
            radius = math.hypot(*own.vertices_mm[i, :2])
            assert found.turn_rad * radius == pytest.approx(mm[i], abs=1e-9)
            assert math.hypot(*found.point_mm[:2]) == pytest.approx(radius, abs=1e-9)


@given(level=st.floats(-40, -20), gap=st.floats(0.1, 8.0), x=st.floats(56, 64), z=st.floats(-9, 9))
def test_over_a_level_sheet_the_turn_is_the_closed_form(level: float, gap: float, x: float, z: float) -> None:
    upper = prepare(*sheet(level, 0.0), arch="upper")
    place = np.array([x, level - gap, z])
    found = opposite_at(place, upper)
    assert found is not None
    r = math.hypot(x, level - gap)
    assert found.turn_rad == pytest.approx(math.asin(level / r) - math.asin((level - gap) / r), abs=1e-12)
    assert abs(found.normal[1]) == pytest.approx(1.0)


def test_a_shelf_hides_what_lies_behind_it_and_not_itself() -> None:
    (near, faces), (far, more) = sheet(-45.0, 0.0), sheet(-50.0, 0.0)
    lower = prepare(np.vstack([near, far]), np.vstack([faces, more + len(near)]), arch="lower")
    hidden = hidden_vertices(lower)
    assert not hidden[: len(near)].any()
    inner = (np.abs(far[:, 2]) < 9.9) & (np.abs(far[:, 0] - 60.0) < 6.0)
    assert hidden[len(near) :][inner].all()


def test_a_place_behind_the_hinge_or_not_finite_is_refused() -> None:
    upper = prepare(*sheet(-30.0, 0.0), arch="upper")
    for place in ((-1.0, 0.0, 0.0), (60.0, math.nan, 0.0)):
        with pytest.raises(ValueError, match="in front of the hinge"):
            opposite_at(np.array(place), upper)


def test_normals_and_relief_of_a_sheet_with_a_pit() -> None:
    v, faces = sheet(-30.0, 0.0, cells=80)  # sides of a quarter of a millimetre, as the heights are told
    v = v.copy()
    pit = int(np.argmin(np.linalg.norm(v - np.array([60.0, -30.0, 0.0]), axis=1)))
    normals = vertex_normals(v, faces)
    assert np.allclose(normals, [0.0, normals[0, 1], 0.0])
    assert abs(normals[0, 1]) == pytest.approx(1.0)
    v[pit, 1] -= 0.5 * normals[0, 1]
    relief = relief_mm(v, faces, vertex_normals(v, faces))
    assert relief[pit] < -0.05
    inner = (np.abs(v[:, 0] - 60.0) < 6.0) & (np.abs(v[:, 2]) < 6.0)
    assert np.argmin(np.where(inner, relief, 0.0)) == pit


def test_relief_of_a_round_ridge_hardly_depends_on_how_fine_the_scan_is() -> None:
    means = []
    for cells in (30, 60):
        v, faces = sheet(-30.0, 0.0, cells=cells)
        towards = vertex_normals(v, faces)[0, 1]
        v[:, 1] += towards * (np.sqrt(100.0 - v[:, 2] ** 2 * 0.9) - 10.0)
        relief = relief_mm(v, faces, vertex_normals(v, faces))
        top = (np.abs(v[:, 2]) < 0.2) & (np.abs(v[:, 0] - 60.0) < 3.0)
        means.append(float(relief[top].mean()))
    assert means[0] > 0.0
    assert means[1] == pytest.approx(means[0], rel=0.1)
