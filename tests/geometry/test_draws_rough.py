"""Many small motions of rough ground with ridges, valleys and overhangs, against every pair of parts closed by itself.

Nothing here is smooth, so no bound is helped by a gentle shape. Small enough that faults can be planted in the bounds
(tests/planted).
"""

from __future__ import annotations

import os

import numpy as np
import pytest

from mountproof.geometry.contact import first_contact
from mountproof.geometry.draws import Near, closings, near
from mountproof.geometry.poses import exp6
from mountproof.geometry.surface import Arch, Surface, moved, prepare

_PLANTED = "PLANTED" in os.environ
_SIDE = 7 if _PLANTED else 12
_MOTIONS = 10 if _PLANTED else 60
_BAND_MM = 0.4


def ground(
    arch: Arch, rng: np.random.Generator, *, rough_mm: float, leaning: float
) -> tuple[Surface, np.ndarray]:
    """A rough square about 45 mm from the hinge, hanging or standing, and two labels; ``leaning``: sideways mm, for overhangs."""
    x, z = np.meshgrid(np.linspace(42.0, 48.0, _SIDE), np.linspace(-3.0, 3.0, _SIDE), indexing="ij")
    up = 1.0 if arch == "upper" else -1.0
    y = up * (0.5 + 0.03 * ((x - 45.0) ** 2 + z**2) + rough_mm * rng.standard_normal(x.shape))
    v = np.stack([x, y, z], axis=-1).reshape(-1, 3)
    v[:, [0, 2]] += leaning * rng.standard_normal((len(v), 2))
    i = np.arange(_SIDE * _SIDE).reshape(_SIDE, _SIDE)
    a, b, c, d = i[:-1, :-1].ravel(), i[1:, :-1].ravel(), i[1:, 1:].ravel(), i[:-1, 1:].ravel()
    faces = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]).astype(np.int32)
    return prepare(v, faces, arch=arch), np.where(v[faces].mean(axis=1)[:, 2] > 0.3 * up, 1, 2)


def made(
    seed: int, *, rough_mm: float, leaning: float = 0.0, turn_rad: float = 0.03, shift_mm: float = 1.0
) -> Near:
    rng = np.random.default_rng(seed)
    upper, upper_labels = ground("upper", rng, rough_mm=rough_mm, leaning=leaning)
    lower, lower_labels = ground("lower", rng, rough_mm=rough_mm, leaning=leaning)
    return near(
        upper,
        lower,
        upper_labels,
        lower_labels,
        band_mm=_BAND_MM,
        turn_rad=turn_rad,
        shift_mm=shift_mm,
    )


def agrees(r: Near, count: int, *, seed: int, deg: float = 0.4, mm: float = 0.25) -> None:
    """Every pair of parts in the band is told as by itself, and no other."""
    drawn = np.random.default_rng(seed).standard_normal((count, 6))
    moves = exp6(drawn * np.repeat([np.radians(deg), mm], 3))
    moves[:, :3, 3] += r.middle_mm - moves[:, :3, :3] @ r.middle_mm
    found = closings(r, moves)
    for k, move in enumerate(moves):
        alone = {}
        for w, lower in r.lower_surfaces.items():
            there = moved(lower, move @ lower.pose)
            for u, upper in r.upper_surfaces.items():
                got = first_contact(upper, there)
                if got is not None:
                    alone[u, w] = (got.closing_rad, float(np.hypot(*got.point_mm[:2])))
        first = min(closing for closing, _ in alone.values())
        assert found.closing_rad[k] == pytest.approx(first, abs=1e-11)
        for pair, (closing, radius) in alone.items():
            behind = (closing - first) * radius
            got_rad = found.pair_closing_rad[k, found.pairs.index(pair)] if pair in found.pairs else np.nan
            if behind <= _BAND_MM - 1e-9:
                assert got_rad == pytest.approx(closing, abs=1e-11)
            elif behind > _BAND_MM + 1e-9:
                assert np.isnan(got_rad)


@pytest.mark.parametrize("seed", range(3 if _PLANTED else 8))
def test_rough_ground_closes_as_it_does_by_itself(seed: int) -> None:
    agrees(made(seed, rough_mm=0.02 + 0.05 * (seed % 4)), _MOTIONS, seed=100 + seed)


@pytest.mark.parametrize("seed", range(4))
def test_overhangs_close_as_they_do_by_themselves(seed: int) -> None:
    agrees(made(20 + seed, rough_mm=0.2, leaning=0.3), 40, seed=200 + seed)


def test_motions_too_large_for_leans_close_as_they_do_by_themselves() -> None:
    agrees(made(31, rough_mm=0.1, turn_rad=0.1, shift_mm=2.0), 40, seed=300, deg=1.5, mm=0.5)


def test_level_ground_meets_level_ground() -> None:
    """Flat on flat: everything touches at once somewhere, and nothing is lost for being alike."""
    agrees(made(41, rough_mm=0.0), 20, seed=400, deg=0.0, mm=0.2)
