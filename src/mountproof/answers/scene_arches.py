"""The two surfaces of the picture in space, with the gap at every vertex."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from mountproof.answers.contact_evidence import ContactEvidence
from mountproof.answers.scans import ArchScan
from mountproof.answers.scene_parts import KNOWN, NOTHING, UNKNOWN, SceneArch
from mountproof.geometry.closing import ClosingMap
from mountproof.geometry.opposite import hidden_vertices
from mountproof.geometry.poses import Array, transform
from mountproof.geometry.relief import relief_mm, vertex_normals
from mountproof.geometry.surface import Surface
from mountproof.teeth import Arch

I32 = NDArray[np.int32]


def arches_with_gap(evidence: ContactEvidence) -> tuple[SceneArch, SceneArch]:
    """Return upper and lower with the gap at every vertex, exact along closure."""
    sited, gaps = evidence.sited, evidence.vertex_gaps
    return (
        _arch(sited.upper, evidence.upper_teeth, gaps.upper_mm, sited.closing),
        _arch(sited.lower, evidence.lower_teeth, gaps.lower_mm, sited.closing),
    )


def arch_without_gap(arch: Arch, scan: ArchScan, pose: Array | None = None) -> SceneArch:
    """Return one placed arch of which no gap is known; ``pose`` (4, 4) moves it within the frame."""
    vertices = scan.vertices_mm if pose is None else transform(pose, scan.vertices_mm)
    n = len(vertices)
    nothing = np.zeros(n)
    return _drawn(arch, vertices, scan.faces, scan.teeth, nothing, np.full(n, NOTHING, dtype=np.uint8))


def _arch(surface: Surface, teeth: I32, gap_mm: Array, chart: ClosingMap) -> SceneArch:
    hidden = hidden_vertices(surface)
    radius = np.sqrt(surface.polar[:, 0])
    known = np.isfinite(gap_mm) & ~hidden
    state = np.where(known, KNOWN, NOTHING).astype(np.uint8)
    state[_in_unknown(surface, radius, chart) & ~hidden] = UNKNOWN
    turn = np.divide(gap_mm, radius, out=np.zeros_like(radius), where=state == KNOWN)
    return _drawn(surface.arch, surface.vertices_mm, surface.faces, teeth, turn, state)


def _in_unknown(surface: Surface, radius: Array, chart: ClosingMap) -> NDArray[np.bool_]:
    if not chart.unknown.size:
        return np.zeros(len(radius), dtype=np.bool_)
    i = np.floor((radius - chart.r0_mm) / chart.cell_mm).astype(np.int64)
    j = np.floor((surface.polar[:, 1] - chart.z0_mm) / chart.cell_mm).astype(np.int64)
    inside = (i >= 0) & (j >= 0) & (i < chart.unknown.shape[0]) & (j < chart.unknown.shape[1])
    found = np.zeros(len(radius), dtype=np.bool_)
    found[inside] = chart.unknown[i[inside], j[inside]]
    return found


def _drawn(
    arch: Arch, vertices: Array, faces: I32, teeth: I32, turn: Array, state: NDArray[np.uint8]
) -> SceneArch:
    normals = vertex_normals(vertices, faces)
    tooth = np.zeros(len(vertices), dtype=np.int32)
    # Where two teeth share a vertex the higher number stands: one of the two, the same every time.
    for corner in faces.T:
        np.maximum.at(tooth, corner, teeth)
    radius = np.hypot(vertices[:, 0], vertices[:, 1])
    return SceneArch(
        arch, vertices, faces, normals, relief_mm(vertices, faces, normals), turn, radius, tooth, state
    )
