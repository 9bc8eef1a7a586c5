"""How often the 95 % intervals of the shapes of a second scan hold the truth, over many draws of a scanner's noise.

``python -m benchmarks.shape_coverage [draws]``. The second scan is the first with noise of each point's own and of patches.
"""

from __future__ import annotations

import sys

import numpy as np
from benchmarks.record_coverage import field

from mountproof.geometry.deformation import SHAPES, deformation
from mountproof.geometry.nearest import ready
from mountproof.phantom.arch import build_arch

OWN_MM, TOGETHER_MM, OVER_MM = 0.01, 0.01, 3.0
DRAWS, TRIANGLES, POINTS = 1000, 60_000, 12_000


def coverage(draws: int) -> tuple[np.ndarray, float]:
    """Return the share of intervals that hold nothing changed, for each shape, and how many pairs named any shape."""
    made = build_arch("lower", TRIANGLES)
    mesh = ready(made.vertices_mm, made.faces)
    held, named = np.zeros(len(SHAPES)), 0
    for draw in range(draws):
        rng = np.random.default_rng([20261126, draw])
        rows = np.sort(rng.choice(len(made.vertices_mm), POINTS, replace=False))
        at = made.vertices_mm[rows]
        noisy = at + field(at, TOGETHER_MM, OVER_MM, rng) + rng.normal(0.0, OWN_MM, at.shape)
        found = deformation(noisy, mesh, np.eye(4))
        held += np.abs(found.values) <= found.half_95
        named += bool(found.shows.any())
    return held / draws, named / draws


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else DRAWS
    shares, named = coverage(count)
    told = ", ".join(f"{name} {100 * share:.1f} %" for name, share in zip(SHAPES, shares, strict=True))
    print(
        f"{count} pairs without any change: {told} of the 95 % intervals hold it; {100 * named:.1f} % name a shape"
    )
