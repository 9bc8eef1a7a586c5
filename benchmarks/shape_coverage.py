"""How often the 95 % intervals of the shapes of a second scan hold the truth, over many draws of a scanner's noise.

``python -m benchmarks.shape_coverage [draws]``. Points of the surface stray along its normals, by themselves and together
over some millimetres; the scanner keeps each shape to a micrometre (1 SD), as the program assumes of the best.
"""

from __future__ import annotations

import sys

import numpy as np
from benchmarks.record_coverage import field

from mountproof.geometry.deformation import SHAPES, deformation, measure_of, shape_motion
from mountproof.geometry.nearest import ready
from mountproof.phantom.arch import build_arch

OWN_MM, TOGETHER_MM, OVER_MM, SHAPE_MM = 0.01, 0.01, 3.0, 0.001
DRAWS, TRIANGLES, POINTS = 500, 30_000, 5_000
NORMAL_95 = 1.959964


def coverage(draws: int) -> tuple[np.ndarray, np.ndarray, float]:
    """Return the share of intervals that hold nothing changed, SD of the shapes over doubt told, and how many named any."""
    made = build_arch("lower", TRIANGLES)
    mesh, measure = ready(made.vertices_mm, made.faces), measure_of(made.vertices_mm)
    corners = made.vertices_mm[made.faces]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(normals, axis=1)
    held, named, values, doubts = np.zeros(len(SHAPES)), 0, [], []
    for draw in range(draws):
        rng = np.random.default_rng([20261126, draw])
        which = rng.choice(len(area), POINTS, p=area / area.sum())
        at = np.einsum("ij,ijk->ik", rng.dirichlet([1.0, 1.0, 1.0], POINTS), corners[which])
        off = field(at, TOGETHER_MM, OVER_MM, rng)[:, 0] + rng.normal(0.0, OWN_MM, POINTS)
        kept = rng.normal(0.0, SHAPE_MM, len(SHAPES)) / [measure.half_width_mm, 1.0, 1.0, 1.0]
        shape = sum(k * shape_motion(s, at, measure) for k, s in zip(kept, SHAPES, strict=True))
        found = deformation(
            at + shape + off[:, None] * normals[which] / area[which, None], mesh, np.eye(4), measure=measure
        )
        doubt = np.sqrt(np.diag(found.cov))
        held += np.abs(found.values) <= NORMAL_95 * doubt
        named += bool(found.shows.any())
        values.append(found.values)
        doubts.append(doubt)
    spread = np.std(values, axis=0) / np.sqrt(np.mean(np.square(doubts), axis=0))
    return held / draws, spread, named / draws


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else DRAWS
    shares, spread, named = coverage(count)
    for name, share, ratio in zip(SHAPES, shares, spread, strict=True):
        print(f"{name}: {100 * share:.1f} % of {count} intervals hold it; SD over doubt {ratio:.2f}")
    print(f"{100 * named:.1f} % of pairs without any change name a shape")
