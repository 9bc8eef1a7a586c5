"""One arch made ready for closing about the hinge: its faces sorted and bounded in (r^2, z, phi)."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.faults import Fault, FaultError
from mountproof.geometry import _tree
from mountproof.geometry._descent import Tree
from mountproof.geometry.policy import length_tol_mm, prune_slack_rad
from mountproof.geometry.poses import why_not_rigid

Arch = Literal["upper", "lower"]


class Surface(NamedTuple):
    """One arch in the hinge frame (z along the hinge axis, all of it in front: x > 0) at its present pose.

    ``vertices_mm`` (n, 3) at that pose, ``rest_mm`` (n, 3) as they were given to ``prepare``; ``faces`` (m, 3) as
    given; ``polar`` (n, 3): r^2 (mm2), z (mm), y / x. ``tree_faces`` (m', 3) are the faces this surface
    holds, in the order of its tree, ``face_ids`` (m',) their numbers in ``faces``, ``leaf_starts`` the first of each
    leaf, ``boxes`` the tree (see ``_tree``), ``leaf_row`` its number of leaf places. ``reach_mm``: largest distance
    from the origin; ``near_mm``: least x. Made by ``prepare``, ``moved`` and ``split``; never changed.
    """

    arch: Arch
    vertices_mm: NDArray[np.float64]
    rest_mm: NDArray[np.float64]
    faces: NDArray[np.int32]
    polar: NDArray[np.float64]
    tree_faces: NDArray[np.int32]
    face_ids: NDArray[np.int32]
    leaf_starts: NDArray[np.int32]
    leaves: int
    leaf_row: int
    boxes: NDArray[np.float64]
    reach_mm: float
    near_mm: float

    def tolerances(self, other: Surface) -> tuple[float, float, float]:
        """Length tolerance (mm), reach (mm) and pruning slack (rad) of a pair of surfaces."""
        reach = max(self.reach_mm, other.reach_mm)
        tol = length_tol_mm(reach)
        return tol, reach, prune_slack_rad(tol, max(self.near_mm, other.near_mm))

    @property
    def tree(self) -> Tree:
        """The arrays the search kernels read."""
        return Tree(self.vertices_mm, self.polar, self.tree_faces, self.face_ids, self.leaf_starts,
                    self.boxes, self.leaf_row)  # fmt: skip


def prepare(
    vertices_mm: NDArray[np.floating], faces: NDArray[np.integer], *, arch: Arch, cell_mm: float | None = None
) -> Surface:
    """Sort and bound the faces of one arch for the search of contacts.

    ``vertices_mm`` (n, 3) mm in the hinge frame; ``faces`` (m, 3) corner numbers; ``cell_mm``: width in r and z of the
    cells that group the faces (None: fitted to the faces). The cell changes the time taken, never the answer.
    Nothing is copied that is already C-contiguous float64 and int32. Raises ValueError for wrong shapes,
    non-finite vertices or face numbers out of range, FaultError when part of the arch does not lie in front
    of the hinge axis (x > 0), where closing angles would have no order.
    """
    vertices = np.ascontiguousarray(vertices_mm, dtype=np.float64)
    corners = np.ascontiguousarray(faces, dtype=np.int32)
    if vertices.ndim != 2 or vertices.shape[1] != 3 or corners.ndim != 2 or corners.shape[1] != 3:
        raise ValueError(f"vertices (n, 3) and faces (m, 3) wanted, got {vertices.shape} and {corners.shape}")
    if len(corners) == 0 or len(vertices) == 0:
        raise ValueError(f"the {arch} has no faces")
    if len(corners) >= 2**31 - 1:
        raise ValueError("too many faces")
    polar, reach, near = _checked_polar(vertices, arch)
    q_cell, z_cell, q_from, z_from, bits = _grid(polar, corners, cell_mm)
    order = np.zeros(len(corners), dtype=np.int32)
    tree_faces = np.zeros((len(corners), 3), dtype=np.int32)
    starts = np.zeros(len(corners) + 1, dtype=np.int32)
    leaves = _tree._sorted_faces(
        polar, corners, q_from, z_from, q_cell, z_cell, bits, order, tree_faces, starts
    )
    if leaves < 0:
        raise ValueError(f"a face of the {arch} names a vertex that is not there")
    starts = starts[: leaves + 1].copy()
    row, boxes = _boxed(polar, tree_faces, starts, leaves)
    return Surface(
        arch, vertices, vertices, corners, polar, tree_faces, order, starts, leaves, row, boxes, reach, near
    )


def moved(surface: Surface, upper_from_lower: NDArray[np.floating]) -> Surface:
    """Return the same arch at another pose; only its boxes are made anew.

    ``upper_from_lower``: 4x4 rigid motion, mm, applied to the vertices as they were given to ``prepare`` (not to the
    present ones, so poses do not add up). Raises ValueError for a matrix that is no finite rigid motion and
    FaultError when the arch would no longer lie in front of the hinge axis.
    """
    pose = np.ascontiguousarray(upper_from_lower, dtype=np.float64)
    reasons = why_not_rigid(pose)
    if reasons:
        raise ValueError("no rigid motion: " + "; ".join(reason.text for reason in reasons))
    vertices = np.zeros_like(surface.rest_mm)
    _tree._turned(surface.rest_mm, pose, vertices)
    polar, reach, near = _checked_polar(vertices, surface.arch)
    row, boxes = _boxed(polar, surface.tree_faces, surface.leaf_starts, surface.leaves)
    return surface._replace(
        vertices_mm=vertices, polar=polar, boxes=boxes, leaf_row=row, reach_mm=reach, near_mm=near
    )


def split(surface: Surface, labels: NDArray[np.integer]) -> dict[int, Surface]:
    """Cut a surface into one per label, without moving or renumbering anything.

    ``labels`` (m,) one number per face as given to ``prepare``; 0 is left out. Returns label to surface, labels
    ascending. Raises ValueError when the labels do not match the faces.
    """
    tags = np.asarray(labels)
    if tags.shape != (len(surface.faces),):
        raise ValueError(f"one label per face wanted ({len(surface.faces)}), got {tags.shape}")
    in_order = tags[surface.face_ids]
    by_label = np.argsort(in_order, kind="stable")
    values, firsts = np.unique(in_order[by_label], return_index=True)
    ends = np.append(firsts[1:], len(by_label))
    return {
        int(label): _part(surface, by_label[first:end])
        for label, first, end in zip(values, firsts, ends, strict=True)
        if label != 0
    }


def _part(surface: Surface, chosen: NDArray[np.intp]) -> Surface:
    """Hold only the faces at these places of the tree's order."""
    tree_faces = np.ascontiguousarray(surface.tree_faces[chosen])
    leaves = -(-len(chosen) // _tree.LEAF_FACES)
    starts = np.minimum(np.arange(leaves + 1) * _tree.LEAF_FACES, len(chosen)).astype(np.int32)
    row, boxes = _boxed(surface.polar, tree_faces, starts, leaves)
    return surface._replace(tree_faces=tree_faces, face_ids=np.ascontiguousarray(surface.face_ids[chosen]),
                            leaf_starts=starts, leaves=leaves, leaf_row=row, boxes=boxes)  # fmt: skip


def _checked_polar(vertices: NDArray[np.float64], arch: Arch) -> tuple[NDArray[np.float64], float, float]:
    polar = np.zeros_like(vertices)
    least_x, reach2 = _tree._polar(vertices, polar)
    if math.isnan(least_x):
        raise ValueError(f"the {arch} has vertices that are not finite numbers")
    if least_x <= 0.0:
        raise FaultError([Fault(
            code="placement.behind_hinge",
            what=f"part of the {arch} lies on or behind the hinge axis",
            todo="Check the placement: which scan this is, its units, and that x points forward.",
            got=f"x = {least_x:.2f} mm", allowed="x above 0 everywhere",
        )])  # fmt: skip
    return polar, math.sqrt(reach2), float(least_x)


def _grid(
    polar: NDArray[np.float64], faces: NDArray[np.int32], cell_mm: float | None
) -> tuple[float, float, float, float, int]:
    """Cells in (r^2, z): size, start, and the number of bits of the (square) grid's side."""
    step = 1 if cell_mm is not None else max(len(faces) // 2048, 1)
    if int(faces.min()) < 0 or int(faces.max()) >= len(polar):
        raise ValueError("a face names a vertex that is not there")
    dq, dz, q_from, q_to, z_from, z_to = _tree._mean_extent(polar, faces, step)
    if cell_mm is None:
        q_cell, z_cell = 4.0 * dq, 4.0 * dz
    else:
        if not (math.isfinite(cell_mm) and cell_mm > 0.0):
            raise ValueError(f"a cell has a finite width above 0 mm, got {cell_mm}")
        q_cell, z_cell = (math.sqrt(q_from) + math.sqrt(q_to)) * cell_mm, cell_mm
    q_cell = max(q_cell, (q_to - q_from) / 512.0) or 1.0
    z_cell = max(z_cell, (z_to - z_from) / 512.0) or 1.0
    cells = max((q_to - q_from) / q_cell, (z_to - z_from) / z_cell, 1.0)
    return q_cell, z_cell, q_from, z_from, min(max(math.ceil(math.log2(cells)), 1), 9)


def _boxed(
    polar: NDArray[np.float64], tree_faces: NDArray[np.int32], starts: NDArray[np.int32], leaves: int
) -> tuple[int, NDArray[np.float64]]:
    row = 1 << max(leaves - 1, 0).bit_length()
    boxes = np.zeros((2 * row, 6))
    _tree._boxes(polar, tree_faces, starts, leaves, row, boxes)
    return row, boxes
