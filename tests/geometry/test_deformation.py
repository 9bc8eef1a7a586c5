"""Shapes planted in a scan are found with their name, their sign and inside their interval; none where there is none."""

from __future__ import annotations

import numpy as np
import pytest

from mountproof.geometry.deformation import (
    FLEXURE,
    SHAPES,
    Deformed,
    Measure,
    deformation,
    likeliest,
    measure_of,
    shape_motion,
)
from mountproof.geometry.nearest import Mesh, ready
from mountproof.geometry.poses import Array, exp6, inverse, transform
from mountproof.phantom.arch import PhantomArch, build_arch
from mountproof.phantom.truth import SECOND_MOLAR_MM
from mountproof.phantom.variants import NARROWED_MM, narrowed

_AWAY = exp6(np.array([0.004, 0.003, -0.004, 0.2, -0.1, 0.15]))
#: What each shape is planted by: relative, mm, mm, mm.
_PLANTED = {"scale": 0.003, "width": -0.15, "twist": 0.2, "bend": -0.1}


@pytest.fixture(scope="module")
def cast() -> tuple[PhantomArch, Mesh, Measure]:
    made = build_arch("lower", 24_000)
    measure = measure_of(made.vertices_mm)
    middle = np.array([measure.middle_mm[0], measure.middle_mm[1], 0.0])
    return (
        made,
        ready(made.vertices_mm, made.faces),
        Measure(middle, SECOND_MOLAR_MM[2], measure.half_length_mm),
    )


def _scanned(cast: PhantomArch, vertices: Array, seed: int, n: int = 5000, together_mm: float = 0.0) -> Array:
    """Points of a surface with the noise of a scanner, as another scan lies; ``together_mm``: SD that patches share."""
    rng = np.random.default_rng(seed)
    which = rng.integers(0, len(cast.faces), n)
    shares = rng.dirichlet([1.0, 1.0, 1.0], n)
    at = np.einsum("ij,ijk->ik", shares, vertices[cast.faces[which]])
    _, patch = np.unique(np.floor(at / 3.0), axis=0, return_inverse=True)
    patch = patch.ravel()
    at = at + rng.normal(0.0, 0.01, at.shape) + rng.normal(0.0, together_mm, (patch.max() + 1, 3))[patch]
    return transform(inverse(_AWAY), at)


def _held_against(points: Array, cast: tuple[PhantomArch, Mesh, Measure]) -> Deformed:
    return deformation(points, cast[1], np.eye(4), measure=cast[2])


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_each_shape_is_named_alone_with_its_sign_and_amount(
    cast: tuple[PhantomArch, Mesh, Measure], shape: str, sign: float
) -> None:
    made, _, measure = cast
    v = made.vertices_mm + sign * _PLANTED[shape] * shape_motion(shape, made.vertices_mm, measure)
    found = _held_against(_scanned(made, v, 4), cast)
    k = SHAPES.index(shape)
    assert list(np.flatnonzero(found.shows)) == [k]
    assert likeliest(found)[0] == shape
    # The planted amount is that of the mesh, the fit's that of the other scan: they differ by their product.
    assert found.values[k] == pytest.approx(
        sign * _PLANTED[shape],
        abs=3.0 * np.sqrt(found.cov[k, k]) + 0.02 * abs(_PLANTED[shape]),
    )
    assert not found.spots


def test_a_narrow_cast_is_narrow_and_nothing_else(cast: tuple[PhantomArch, Mesh, Measure]) -> None:
    found = _held_against(_scanned(cast[0], narrowed(cast[0]).vertices_mm, 1), cast)
    assert list(np.flatnonzero(found.shows)) == [SHAPES.index("width")]
    assert found.values[1] == pytest.approx(-NARROWED_MM, abs=3.0 * np.sqrt(found.cov[1, 1]) + 0.002)


@pytest.mark.parametrize("amount", [-0.1, -0.4])
def test_a_jaw_that_bends_about_the_front_is_told_from_scale_and_from_a_narrow_cast(
    cast: tuple[PhantomArch, Mesh, Measure], amount: float
) -> None:
    made, _, measure = cast
    v = made.vertices_mm + amount * shape_motion(FLEXURE, made.vertices_mm, measure)
    found = _held_against(_scanned(made, v, 2), cast)
    name, lead = likeliest(found)
    assert name == FLEXURE
    assert lead > 5.0
    assert found.amounts[FLEXURE] == pytest.approx(amount, rel=0.05, abs=0.01)


def test_a_lump_is_found_where_it_lies_and_bends_nothing(cast: tuple[PhantomArch, Mesh, Measure]) -> None:
    made, _, _ = cast
    tip = made.vertices_mm[np.argmax(made.vertices_mm[:, 1])]
    near = np.linalg.norm(made.vertices_mm - tip, axis=1)
    v = made.vertices_mm + 0.2 * np.clip((4.0 - near) / 1.0, 0.0, 1.0)[:, None] * np.array([0.0, 1.0, 0.0])
    found = _held_against(_scanned(made, v, 3, n=12_000), cast)
    assert not found.shows.any()
    assert found.spots
    assert np.linalg.norm(found.spots[0].at_mm - tip) < 4.5
    assert found.spots[0].off_mm == pytest.approx(0.2, abs=3.0 * found.spots[0].u_mm + 0.03)


def test_a_clean_pair_raises_few_false_alarms_and_its_intervals_hold(
    cast: tuple[PhantomArch, Mesh, Measure],
) -> None:
    """Sixty pairs whose noise hangs together in patches: alarms about 5 %, whitened squares no more than shapes."""
    alarms, named, spots, whitened, twists = 0, 0, 0, [], []
    for seed in range(60):
        found = _held_against(_scanned(cast[0], cast[0].vertices_mm, seed, 2500, 0.01), cast)
        alarms += bool(found.shows.any())
        named += likeliest(found)[0] != "none"
        spots += bool(found.spots)
        whitened.append(float(found.values @ np.linalg.solve(found.cov, found.values)))
        twists.append(abs(found.values[2]) < 1.96 * np.sqrt(found.cov[2, 2]))
    # Of 60 at 5 %, more than 8 come by chance in fewer than 1 of 300.
    assert max(alarms, named, spots) <= 8
    # Four, less what a scanner is not trusted with however quiet its points are; its SD over 60 pairs is 0.37.
    assert 0.8 < np.mean(whitened) < 4.0 + 3 * 0.37
    assert np.mean(twists) >= 0.86


def test_what_a_piece_does_not_hold_is_not_told(cast: tuple[PhantomArch, Mesh, Measure]) -> None:
    """A flat strip shows nothing of width: nothing holds it along itself."""
    grid = np.array([[x, 0.0, z] for x in np.linspace(-20, 20, 40) for z in np.linspace(-20, 20, 40)])
    a = np.array([[40 * i + j for j in range(39)] for i in range(39)]).ravel()
    faces = np.concatenate([np.c_[a, a + 1, a + 40], np.c_[a + 1, a + 41, a + 40]])
    rng = np.random.default_rng(5)
    points = np.c_[rng.uniform(-19, 19, 4000), rng.normal(0, 0.01, 4000), rng.uniform(-19, 19, 4000)]
    found = deformation(points, ready(grid, faces), np.eye(4))
    assert list(found.held) == [False, False, True, True]
    assert not found.shows[:2].any()


def test_too_little_surface_is_refused(cast: tuple[PhantomArch, Mesh, Measure]) -> None:
    points = _scanned(cast[0], cast[0].vertices_mm, 6)
    with pytest.raises(ValueError, match=r"too little|look at the start"):
        deformation(points[np.linalg.norm(points - points[0], axis=1) < 6.0], cast[1], np.eye(4))
