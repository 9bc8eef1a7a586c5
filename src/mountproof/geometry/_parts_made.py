"""Parts of an arch from its surface: what ``_parts`` bounds, put together."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry import _leans, _parts
from mountproof.geometry._parts import Part
from mountproof.geometry.surface import Surface

Floats = NDArray[np.float64]


def made(surface: Surface, middle_mm: Floats | None, leaning: bool) -> Part:
    """Cut the faces that a surface holds into patches.

    ``middle_mm`` (3,): for the lower, the place whose phi gives the part's own frame; None for the upper.
    ``leaning``: whether motions are small enough that how things lean tells anything.
    """
    given, ids = surface.tree_faces, surface.face_ids
    m = len(given)
    mark = np.full(len(surface.rest_mm), -1, dtype=np.int32)
    corners = surface.vertices_mm[given].mean(axis=1)
    r = np.hypot(corners[:, 0], corners[:, 1])
    centres = np.stack([r, np.arctan2(corners[:, 1], corners[:, 0]) * r, corners[:, 2]])
    order = np.arange(m, dtype=np.int32)
    ranges = np.zeros((2 * m, 2), dtype=np.int32)
    nodes = np.zeros((2 * m, 2), dtype=np.int32)
    count, leaves = _parts._halves(centres, order, ranges, nodes)
    ranges, nodes = ranges[:count].copy(), nodes[:count].copy()
    face_starts = np.append(np.sort(ranges[nodes[:, 0] == 0, 0]), m).astype(np.int32)
    given, ids = np.ascontiguousarray(given[order]), np.ascontiguousarray(ids[order])
    faces = np.zeros_like(given)
    used = np.zeros(3 * m, dtype=np.int32)
    vertex_face = np.zeros(3 * m, dtype=np.int32)
    v = _parts._numbered(given, ids, mark, faces, used, vertex_face)
    used, vertex_face = used[:v].copy(), vertex_face[:v].copy()
    edges = np.zeros((3 * m, 2), dtype=np.int32)
    edge_face = np.zeros(3 * m, dtype=np.int32)
    edge_starts = np.zeros(leaves + 1, dtype=np.int32)
    vertex_starts = np.zeros(leaves + 1, dtype=np.int32)
    sides = np.zeros((3 * m, 3), dtype=np.int32)
    e = _parts._all_edges(faces, ids, used, face_starts, edges, edge_face, sides, edge_starts, vertex_starts)
    edges, edge_face = edges[:e].copy(), edge_face[:e].copy()
    here = np.ascontiguousarray(surface.vertices_mm[used])
    polar = np.stack(
        [np.hypot(here[:, 0], here[:, 1]), here[:, 2], np.arctan2(here[:, 1], here[:, 0])], axis=1
    )
    turned, points = here, here
    if middle_mm is not None:
        r_middle = math.hypot(middle_mm[0], middle_mm[1])
        c, s = middle_mm[0] / r_middle, middle_mm[1] / r_middle
        turned = np.stack(
            [c * here[:, 0] + s * here[:, 1], c * here[:, 1] - s * here[:, 0], here[:, 2]], axis=1
        )
        points = np.ascontiguousarray(surface.rest_mm[used])
    slopes, bulges, spans = np.zeros((m, 3)), np.zeros(m), np.zeros((e, 6))
    if middle_mm is None:
        _parts._face_slopes(here, polar, faces, slopes, bulges)
        _parts._edge_spans(here, polar, edges, spans)
    sign = 1.0 if middle_mm is None else -1.0
    face_leans, edge_leans, vertex_leans = np.zeros((m, 5)), np.zeros((e, 5)), np.zeros((v, 5))
    known = np.full(v, leaning)
    if leaning:
        _leans._face_leans(here, faces, face_leans)
        _leans._edge_leans(here, faces, face_leans, edges, sides, sign, edge_leans, known)
        _leans._vertex_leans(here, faces, face_leans, edges, known, sign, vertex_leans)
    else:
        for leans in (face_leans, edge_leans, vertex_leans):
            leans[:, [0, 2]], leans[:, [1, 3]] = -np.inf, np.inf
    part = Part(
        points,
        turned,
        polar,
        faces,
        ids,
        edges,
        vertex_face,
        edge_face,
        face_starts,
        vertex_starts,
        edge_starts,
        nodes,
        np.zeros((count, 8)),
        np.zeros((count, 7)),
        slopes,
        bulges,
        spans,
        face_leans,
        vertex_leans,
        edge_leans,
        np.zeros((count, 5)),
    )
    _parts._lids(part, ranges, sign)
    _leans._node_leans(part)
    return part
