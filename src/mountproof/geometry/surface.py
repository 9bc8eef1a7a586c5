"""One arch made ready for closing about the hinge: its faces sorted and bounded in (r^2, z, phi)."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from mountproof.faults import Fault, FaultError
from mountproof.geometry import _near_blocks, _tree
from mountproof.geometry._descent import Carried, Tree
from mountproof.geometry._near_blocks import Blocks
from mountproof.geometry.nearest import boxed
from mountproof.geometry.policy import length_tol_mm, prune_slack_rad
from mountproof.geometry.poses import RIGID_ENTRY_TOLERANCE, why_not_rigid
from mountproof.said import say, term

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Arch = Literal["upper", "lower"]

_STILL = np.eye(4)
_STILL.flags.writeable = False


@dataclass(frozen=True, eq=False)
class Surface:
    """One arch in the hinge frame (z along the hinge axis, all of it in front: x > 0) at its present pose.

    ``rest_mm`` (n, 3): vertices as they were given to ``prepare``; ``pose``: 4x4 that carries them; ``faces`` (m, 3) as given.
    ``tree_faces`` (m', 3): the faces this surface holds, in the order of its tree; ``face_ids`` (m',) their numbers in
    ``faces``; ``leaf_starts`` the first of each leaf; ``leaf_row``: number of leaf places of the tree (see ``_tree``).
    ``reach_mm``, ``near_mm``: no vertex is farther from the origin, or nearer to the plane x = 0. Made by ``prepare``,
    ``moved`` and ``split``; never changed. What a pose changes is worked out when it is first asked for.
    """

    arch: Arch
    rest_mm: Floats
    pose: Floats
    faces: Ints
    tree_faces: Ints
    face_ids: Ints
    leaf_starts: Ints
    leaf_row: int
    reach_mm: float
    near_mm: float

    @property
    def leaves(self) -> int:
        """Number of leaves of the tree."""
        return len(self.leaf_starts) - 1

    @cached_property
    def vertices_mm(self) -> Floats:
        """Vertices at the present pose, (n, 3)."""
        if np.array_equal(self.pose, _STILL):
            return self.rest_mm
        vertices = np.zeros_like(self.rest_mm)
        _tree._turned(self.rest_mm, self.pose, vertices)
        return vertices

    @cached_property
    def polar(self) -> Floats:
        """(r^2 in mm2, z in mm, y / x) of each vertex at the present pose, (n, 3)."""
        polar = np.zeros_like(self.rest_mm)
        _tree._polar(self.vertices_mm, polar)
        return polar

    @cached_property
    def boxes(self) -> Floats:
        """Boxes of (r^2, z, phi) of the tree at the present pose, (2 leaf_row, 6)."""
        boxes = np.zeros((2 * self.leaf_row, 6))
        _tree._boxes(self.polar, self.tree_faces, self.leaf_starts, self.leaves, self.leaf_row, boxes)
        return boxes

    @cached_property
    def floor(self) -> Floats:
        """Pyramid of the lowest phi over cells of (r^2, z) at the present pose (see ``_tree``)."""
        side = self.floor_side
        floor = np.full(side * side * 4 // 3 + 1, np.inf)
        _tree._floor(self.boxes, self.leaf_row, self.leaves, side, floor)
        return floor

    @property
    def floor_side(self) -> int:
        """Cells along a side of the pyramid: about the width of a leaf, the side a power of two."""
        return 1 << min(max(math.ceil(math.log2(math.sqrt(2 * self.leaves))), 1), 9)

    @cached_property
    def limits(self) -> Floats:
        """Boxes of (x, y, z) of the tree at rest, (2 leaf_row, 6): centre, half size."""
        limits = np.zeros((2 * self.leaf_row, 6))
        _tree._limits(self.rest_mm, self.tree_faces, self.leaf_starts, self.leaves, self.leaf_row, limits)
        return limits

    @cached_property
    def blocks(self) -> Blocks:
        """Faces at rest in an order that keeps neighbours in space together, with boxes of (x, y, z)."""
        return _blocks(self.rest_mm, self.tree_faces, self.face_ids)

    @property
    def standing_blocks(self) -> Blocks:
        """The same at the present pose."""
        if np.array_equal(self.pose, _STILL):
            return self.blocks
        return _blocks(self.vertices_mm, self.tree_faces, self.face_ids)

    def tolerances(self, other: Surface) -> tuple[float, float, float]:
        """Length tolerance (mm), reach (mm) and pruning slack (rad) of a pair of surfaces."""
        reach = max(self.reach_mm, other.reach_mm)
        tol = length_tol_mm(reach)
        return tol, reach, prune_slack_rad(tol, max(self.near_mm, other.near_mm))

    @property
    def tree(self) -> Tree:
        """The arrays the search kernels read of an arch that stands."""
        return Tree(self.vertices_mm, self.polar, self.tree_faces, self.face_ids, self.leaf_starts,
                    self.boxes, self.leaf_row, self.floor, self.floor_side)  # fmt: skip

    @property
    def carried(self) -> Carried:
        """The arrays the search kernels read of an arch that is carried by its pose."""
        return Carried(self.rest_mm, self.tree_faces, self.face_ids, self.leaf_starts, self.limits,
                       self.leaf_row, self.pose)  # fmt: skip


def prepare(
    vertices_mm: NDArray[np.floating], faces: NDArray[np.integer], *, arch: Arch, cell_mm: float | None = None
) -> Surface:
    """Sort and bound the faces of one arch for the search of contacts.

    ``vertices_mm`` (n, 3) mm in the hinge frame; ``faces`` (m, 3) corner numbers; ``cell_mm``: width in r and z of the
    cells that group the faces (None: fitted to the faces). The cell changes the time taken, never the answer.
    Nothing is copied that is already C-contiguous, writeable float64 and int32. Raises ValueError for wrong shapes,
    non-finite vertices or face numbers out of range, FaultError when part of the arch does not lie in front
    of the hinge axis (x > 0), where closing angles would have no order.
    """
    # writeable too: the kernels are compiled for that, and a frozen array would have them compiled once more
    vertices = np.require(vertices_mm, np.float64, ["C", "W", "A"])
    corners = np.require(faces, np.int32, ["C", "W", "A"])
    if vertices.ndim != 2 or vertices.shape[1] != 3 or corners.ndim != 2 or corners.shape[1] != 3:
        raise ValueError(f"vertices (n, 3) and faces (m, 3) wanted, got {vertices.shape} and {corners.shape}")
    given = np.asarray(faces)
    if not np.issubdtype(given.dtype, np.integer):
        raise ValueError(f"faces are whole numbers, got {given.dtype}")
    if given.size and (int(given.min()) < 0 or int(given.max()) >= len(vertices)):
        raise ValueError(f"a face of the {arch} names a vertex that is not there")
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
    surface = Surface(arch, vertices, _STILL.copy(), corners, tree_faces, order, starts[: leaves + 1].copy(),
                      _row(leaves), reach, near)  # fmt: skip
    return _knowing(surface, polar=polar)


def moved(surface: Surface, upper_from_lower: NDArray[np.floating]) -> Surface:
    """Return the same arch at another pose; nothing is worked out anew before it is asked for.

    ``upper_from_lower``: 4x4 rigid motion, mm, applied to the vertices as they were given to ``prepare`` (not to the
    present ones, so poses do not add up). Raises ValueError for a matrix that is no finite rigid motion and
    FaultError when the arch would no longer lie in front of the hinge axis.
    """
    pose = np.array(upper_from_lower, dtype=np.float64, order="C")
    linear = pose[:3, :3] if pose.shape == (4, 4) else np.zeros((3, 3))
    off = np.abs(linear.T @ linear - np.eye(3)).max()
    if not (off <= RIGID_ENTRY_TOLERANCE and np.array_equal(pose[3], _STILL[3]) and np.isfinite(pose).all()):
        reasons = why_not_rigid(pose)
        if reasons:
            raise ValueError("no rigid motion: " + "; ".join(reason.text for reason in reasons))
    if np.linalg.det(linear) < 0.0:
        raise ValueError("no rigid motion: the matrix mirrors")
    whole = surface.limits[1]
    middle = linear @ whole[:3] + pose[:3, 3]
    half = np.abs(linear) @ whole[3:]
    here = replace(surface, pose=pose, near_mm=float(middle[0] - half[0]),
                   reach_mm=float(np.linalg.norm(np.abs(middle) + half)))  # fmt: skip
    if here.near_mm > 0.0:
        known = {k: v for k, v in vars(surface).items() if k == "blocks"}
        return _knowing(here, limits=surface.limits, **known)
    polar, reach, near = _checked_polar(here.vertices_mm, surface.arch)
    return _knowing(replace(here, reach_mm=reach, near_mm=near), limits=surface.limits, polar=polar,
                    vertices_mm=here.vertices_mm)  # fmt: skip


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
    part = replace(surface, tree_faces=tree_faces, face_ids=np.ascontiguousarray(surface.face_ids[chosen]),
                   leaf_starts=starts, leaf_row=_row(leaves))  # fmt: skip
    known = {k: v for k, v in vars(surface).items() if k in ("polar", "vertices_mm")}
    return _knowing(part, **known)


def _row(leaves: int) -> int:
    """Places in the tree's last row: the power of two that holds the leaves."""
    return 1 << max(leaves - 1, 0).bit_length()


def _blocks(vertices: Floats, faces: Ints, ids: Ints) -> Blocks:
    n = len(faces)
    order, row, corners, boxes = boxed(vertices, faces)
    bricks = np.zeros((2 * row, 15))
    _near_blocks._bricks(corners, boxes, row, bricks)
    first, seen, after, owned = (np.zeros(k, np.int32) for k in (len(vertices), len(vertices), 3 * n, n))
    _near_blocks._owned(faces[order], first, after, seen, owned)
    return Blocks(corners, ids[order], boxes, bricks, owned, row)


def _knowing(surface: Surface, **known: Floats | Blocks) -> Surface:
    """Hand over what is already worked out, in the place where ``cached_property`` looks for it."""
    vars(surface).update(known)
    return surface


def _checked_polar(vertices: NDArray[np.float64], arch: Arch) -> tuple[NDArray[np.float64], float, float]:
    polar = np.zeros_like(vertices)
    least_x, reach2 = _tree._polar(vertices, polar)
    if math.isnan(least_x):
        raise ValueError(f"the {arch} has vertices that are not finite numbers")
    if least_x <= 0.0:
        raise FaultError([Fault(
            code="placement.behind_hinge",
            what=say("part of the {arch} lies on or behind the hinge axis", arch=term(arch)),
            todo=say("Check the placement: which scan this is, its units, and that x points forward"),
            got=say("x = {least_x:.2f} mm", least_x=least_x), allowed=say("x above 0 everywhere"),
        )])  # fmt: skip
    return polar, math.sqrt(reach2), float(least_x)


def _grid(
    polar: NDArray[np.float64], faces: NDArray[np.int32], cell_mm: float | None
) -> tuple[float, float, float, float, int]:
    """Cells in (r^2, z): size, start, and the number of bits of the (square) grid's side."""
    step = 1 if cell_mm is not None else max(len(faces) // 2048, 1)
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
