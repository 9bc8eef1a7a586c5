"""The nearest point on a triangle mesh, exactly, for many points."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mountproof.geometry import _nearest as kernels
from mountproof.geometry._halving import _halved
from mountproof.geometry.poses import Array, checked

Ints = NDArray[np.int32]

#: Points that one thread takes at a time; each point has its own slot, so the answer is the same on any number.
_PART = 8192


class Mesh(NamedTuple):
    """A mesh made ready to be asked for nearest points.

    ``corners_mm`` (m, 3, 3) corners of the faces in the order of the search, ``order`` (m,) the face that each was;
    ``normals`` (m, 3) unit normals in the order of the search, zero for a face without area; ``boxes`` and ``row`` as
    in the kernels; ``edge_open`` (m, 3) and ``corner_open`` (m, 3): which edges and corners lie on a border.
    """

    corners_mm: Array
    order: Ints
    normals: Array
    boxes: Array
    row: int
    edge_open: NDArray[np.bool_]
    corner_open: NDArray[np.bool_]


class Nearest(NamedTuple):
    """Nearest points: ``place_mm`` (n, 3); ``row`` (n,) the face in the order of the search, -1 where none is near enough;
    ``distance_mm`` (n,); ``on_border`` (n,): the nearest point lies on a border, so the surface may just end there.
    """

    place_mm: Array
    row: Ints
    distance_mm: Array
    on_border: NDArray[np.bool_]


def ready(vertices_mm: ArrayLike, faces: ArrayLike) -> Mesh:
    """Make a mesh ready: ``vertices_mm`` (n, 3) finite, ``faces`` (m, 3) with m >= 1.

    Raises ValueError for arrays of other shapes, numbers that are not finite, and faces that name no vertex.
    """
    v = np.ascontiguousarray(checked(vertices_mm, (3,), "vertices_mm").reshape(-1, 3))
    f = np.ascontiguousarray(faces, dtype=np.int32)
    if f.ndim != 2 or f.shape[1] != 3 or len(f) == 0:
        raise ValueError("faces: an array (m, 3) of one or more")
    if int(f.min()) < 0 or int(f.max()) >= len(v):
        raise ValueError("faces: a face names a vertex that is not there")
    m = len(f)
    order, row, corners, boxes = boxed(v, f)
    normals = np.zeros((m, 3))
    kernels.normals_of(corners, normals)
    edge_open, corner_open = np.zeros((m, 3), np.bool_), np.zeros((m, 3), np.bool_)
    kernels.borders_of(f, len(v), order, edge_open, corner_open)
    return Mesh(corners, order, normals, boxes, row, edge_open, corner_open)


def boxed(vertices: Array, faces: Ints) -> tuple[Ints, int, Array, Array]:
    """Return faces (m, 3) in the order of a heap of boxes, its last row, their corners (m, 3, 3), and the boxes (2 row, 6)."""
    m = len(faces)
    row = 1 << max(-(-m // kernels.LEAF_FACES) - 1, 0).bit_length()
    order, corners, boxes = np.zeros(m, np.int32), np.zeros((m, 3, 3)), np.zeros((2 * row, 6))
    _halved(vertices, faces, kernels.LEAF_FACES, row, order)
    kernels.boxes_of(vertices, faces, order, row, corners, boxes)
    return order, row, corners, boxes


def along_curve(points_mm: Array) -> NDArray[np.int32]:
    """Return an order of ``points_mm`` (n, 3) in which neighbours in space mostly follow each other."""
    n = len(points_mm)
    codes, order, spare = np.zeros(n, np.uint32), np.zeros(n, np.int32), np.zeros(n, np.int32)
    kernels.point_codes(points_mm, codes)
    kernels.sort_by(codes, order, spare)
    return order


def nearest(points_mm: Array, mesh: Mesh, most_mm: float = np.inf, hint: Ints | None = None) -> Nearest:
    """Return the nearest point of the mesh to each of ``points_mm`` (n, 3), where it is not farther than ``most_mm``.

    ``hint`` (n,): faces in the order of the search to begin with, such as those found a small motion ago; the answer
    does not depend on it. Points in an order along which they stay near each other (``along_curve``) are quicker.
    """
    points = np.ascontiguousarray(points_mm, dtype=np.float64)
    n = len(points)
    place, row, on, d2 = np.zeros((n, 3)), np.zeros(n, np.int32), np.zeros(n, np.int8), np.zeros(n)
    begin = np.full(n, -1, np.int32) if hint is None else hint

    def part(at: slice) -> None:
        kernels.nearest(
            points[at],
            mesh.corners_mm,
            mesh.boxes,
            mesh.order,
            mesh.row,
            most_mm**2,
            begin[at],
            place[at],
            row[at],
            on[at],
            d2[at],
        )

    parts = [slice(k, k + _PART) for k in range(0, n, _PART)]
    if len(parts) > 1:
        with ThreadPoolExecutor() as pool:
            list(pool.map(part, parts))
    else:
        part(slice(0, n))
    border = np.zeros(n, np.bool_)
    kernels.at_border(row, on, mesh.edge_open, mesh.corner_open, border)
    return Nearest(place, row, np.sqrt(d2), border)
