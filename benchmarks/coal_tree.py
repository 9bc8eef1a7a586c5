"""coal's tree over a mesh, as every comparison with coal builds it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import coal


def tree(vertices: np.ndarray, faces: np.ndarray) -> coal.BVHModelOBBRSS:
    """Tree over ``vertices`` (n, 3) and ``faces`` (m, 3)."""
    import coal

    made = coal.BVHModelOBBRSS()
    made.beginModel(len(faces), len(vertices))
    made.addVertices(vertices)
    made.addTriangles(faces)
    made.endModel()
    return made
