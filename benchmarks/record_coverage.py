"""How often the 95 % interval of a relation by a scanned record holds the truth, over many draws of a scanner's noise.

The noise of each draw hangs together over some millimetres, as that of wax, stone and scanners does, and a part of it is
each corner's own. Each draw lays the same points of the record on both casts anew.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from mountproof.geometry.poses import Array, inverse, log6, moved_cov, point_cov, point_jacobian
from mountproof.phantom.arch import PhantomArch, build_arch
from mountproof.phantom.record_scan import record_surface
from mountproof.phantom.truth import record_pose
from mountproof.records.held import doubt_of
from mountproof.records.imprint import ArchName, Cast, Laid, cast_of, part_of, record_of
from mountproof.records.on_cast import ARCHES, relate

OWN_MM, TOGETHER_MM, OVER_MM = 0.01, 0.02, 2.0
PLACES = np.array([[90.0, -40.0, 0.0], [55.0, -38.0, 25.0], [55.0, -38.0, -25.0], [0.0, 0.0, 55.0]])
DRAWS = 2000


class Covered(NamedTuple):
    """Share of intervals that hold the truth, and the mean of their half widths (mm), for all places and axes."""

    share: float
    half_mm: float


def field(at: Array, sd: float, over_mm: float, rng: np.random.Generator) -> Array:
    """Return (n, 3) noise of one SD that hangs together over about ``over_mm``: a lattice of draws, interpolated."""
    low = at.min(axis=0)
    shape = np.ceil((at.max(axis=0) - low) / over_mm).astype(int) + 3
    lattice = rng.standard_normal((*shape, 3))
    t = (at - low) / over_mm + rng.random(3)
    i = np.floor(t).astype(int)
    f = t - i
    out, power = np.zeros(at.shape), np.zeros(len(at))
    for a, b, c in np.ndindex(2, 2, 2):
        w = np.prod(np.where([a, b, c], f, 1.0 - f), axis=1)
        out += w[:, None] * lattice[i[:, 0] + a, i[:, 1] + b, i[:, 2] + c]
        power += w * w
    return sd * out / np.sqrt(power)[:, None]


def coverage(draws: int, triangles: int = 60_000, edge_mm: float = 0.5) -> Covered:
    """Return how often intervals hold, over ``draws``."""
    casts: dict[ArchName, tuple[Cast, PhantomArch]] = {}
    for name in ARCHES:
        made = build_arch(name, triangles)
        casts[name] = (cast_of(name, made.vertices_mm, made.faces, made.teeth), made)
    true = record_pose(1)
    scan = record_surface(casts["upper"][1], casts["lower"][1], true, edge_mm=edge_mm, noise_mm=0.01)
    record = record_of(scan.vertices_mm, scan.faces, False)
    first = relate(record, {n: c[0] for n, c in casts.items()}, {"upper": np.eye(4), "lower": inverse(true)})
    assert not isinstance(first, str)
    clean = record_surface(casts["upper"][1], casts["lower"][1], true, edge_mm=edge_mm).vertices_mm
    held, half = 0, 0.0
    for seed in range(draws):
        rng = np.random.default_rng(seed)
        v = clean + rng.normal(0.0, OWN_MM, clean.shape) + field(clean, TOGETHER_MM, OVER_MM, rng)
        drawn = record._replace(vertices_mm=v)
        laid: dict[ArchName, Laid] = {}
        for name, one in first.laid.items():
            found = part_of(one, drawn, casts[name][0], np.ones(len(one.rows), np.bool_))
            assert found is not None
            laid[name] = found
        relation = laid["upper"].pose @ inverse(laid["lower"].pose)
        cov = doubt_of(laid["upper"], drawn, casts["upper"][0]) + moved_cov(
            doubt_of(laid["lower"], drawn, casts["lower"][0]), relation
        )
        off = point_jacobian(PLACES) @ log6(relation @ inverse(true))
        u = np.sqrt(np.einsum("nii->ni", point_cov(cov, PLACES)))
        held += int(np.count_nonzero(np.abs(off) <= 1.96 * u))
        half += float(np.mean(1.96 * u))
    return Covered(held / (draws * PLACES.size), half / draws)


if __name__ == "__main__":
    made = coverage(DRAWS)
    print(
        f"{DRAWS} draws: {100 * made.share:.1f} % of 95 % intervals hold; they reach {1e3 * made.half_mm:.0f} um"
    )
