"""Gum and plinth of one cast: a closed shell that the crowns are set into."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from mountproof.phantom.crown import Faces, _spline_basis
from mountproof.phantom.placement import (
    LOWER_ENDS,
    UPPER_ENDS,
    arch_curve,
    even_curve,
    level,
    seat_of,
    shape_of,
)

Array = NDArray[np.float64]

#: The facial wall of each base runs through its marks (x, z), mm; the plinth ends where the cast is cut behind.
_WALL = {
    "upper": ((92.0, 0.0), (78.0, 24.0), (52.0, 34.0), (41.0, 36.2)),
    "lower": ((90.0, 0.0), (76.0, 22.0), (50.0, 33.0), (39.0, 35.6)),
}
#: Foot of the plinth, edge of the land, and (upper) crown of the vault or (lower) floor beside the tongue: y, mm.
_LEVELS = {"upper": (-9.0, -25.5, -20.0), "lower": (-71.0, -53.0, -54.0)}
#: How far the papillae rise above the necks at the midline, behind the canine and behind the second molar, mm.
_PAPILLA_MM = {"upper": (5.2, 3.4, 2.3), "lower": (5.6, 3.2, 2.2)}
_BACK_MM = 5.5
#: Rings of triangles on the cut behind.
_CUT_RINGS = 8


def _by_tooth(arch: str, s: Array) -> tuple[Array, Array, Array, Array, Array]:
    """Crown height, facial and lingual half depth at the neck, lean (sine) and nearness to a papilla at s."""
    ends = UPPER_ENDS if arch == "upper" else LOWER_ENDS
    mid = np.array([0.5 * (ends[k - 1] + ends[k]) for k in range(1, 8)])
    crowns = np.array([shape_of(arch, k).crown_mm for k in range(1, 8)])
    neck = [shape_of(arch, k).profile[-3] for k in range(1, 8)]
    bb, bl = np.array([n[1] for n in neck]), np.array([n[2] for n in neck])
    lean = np.sin(np.radians([seat_of(arch, k).lean_deg for k in range(1, 8)]))
    k = np.clip(np.searchsorted(ends, s, side="right") - 1, 0, 6)
    lo, hi = np.array(ends)[k], np.array(ends)[k + 1]
    sig = np.clip((s - lo) / (hi - lo), 0.0, 1.0)
    pap = np.abs(2.0 * sig - 1.0) ** 1.9
    # Behind the last tooth the gum runs out without a papilla.
    pap = pap * np.where((k == 6) & (sig > 0.5), 0.25, 1.0)
    pap = np.where(s > ends[7], 0.25 * np.clip(1.0 - (s - ends[7]) / 2.5, 0.0, 1.0) ** 2, pap)
    return (
        np.interp(s, mid, crowns),
        np.interp(s, mid, bb),
        np.interp(s, mid, bl),
        np.interp(s, mid, lean),
        pap,
    )


def _controls(arch: str, n_half: int) -> Array:
    """Control points (stations of the right half from the midline back, rows, 3) of the skin of the base."""
    up = 1.0 if arch == "upper" else -1.0  # from the biting surface towards the root
    ends = UPPER_ENDS if arch == "upper" else LOWER_ENDS
    mid = [0.5 * (ends[k - 1] + ends[k]) for k in range(1, 8)]
    foot, land, inner = _LEVELS[arch]
    s_end = ends[7] + _BACK_MM
    s = np.linspace(0.0, s_end, n_half)
    p, t = arch_curve().at(s)
    n = np.stack([t[:, 1], -t[:, 0]], axis=1)
    c = p + np.interp(s, mid, [seat_of(arch, k).buccal_mm for k in range(1, 8)])[:, None] * n
    y0 = level(p[:, 0]) + np.interp(s, mid, [seat_of(arch, k).height_mm for k in range(1, 8)])
    crown_mm, bb, bl, lean, pap = _by_tooth(arch, s)
    behind = np.clip((s - ends[7] + 3.0) / (_BACK_MM + 1.0), 0.0, 1.0)
    behind = behind * behind * (3.0 - 2.0 * behind)
    # Depth of the gum's edge below the biting surface: the neck in the middle of a tooth, higher at a papilla.
    rise_pap = np.interp(s, [0.0, ends[3], ends[7]], _PAPILLA_MM[arch])
    g = crown_mm * 0.985 - rise_pap * pap + 1.0 * behind
    calm = crown_mm * 0.985 - 0.33 * rise_pap + 1.0 * behind
    fat = 0.75 - 0.30 * pap
    cut_x = float(c[-1, 0])
    front_x = float(c[0, 0]) - (15.0 if arch == "upper" else 11.0)
    spine_x = 0.5 * (front_x + cut_x) + 0.5 * (front_x - cut_x) * np.cos(np.pi * (s / s_end) ** 0.9)
    spine = np.stack([spine_x, np.zeros_like(s)], axis=1)
    inward = spine - c
    inward = inward / np.hypot(inward[:, 0], inward[:, 1])[:, None]
    # The wall runs through the marks; it is taken from the midline to where the cast is cut behind.
    wall = even_curve(_WALL[arch], 37.5)
    wall_x = wall.x0 - wall.z**2 * (wall.a + wall.z**2 * (wall.b + wall.z**2 * wall.c))
    w, _ = wall.at(s / s_end * np.interp(-cut_x, -wall_x, wall.s))

    def facial(off: Array, depth: Array) -> Array:
        q = c + (off - lean * depth)[:, None] * n
        q[:, 1] = np.maximum(q[:, 1], 0.0)
        return np.stack([q[:, 0], y0 + up * depth, q[:, 1]], axis=1)

    def tongue_side(off: Array, depth: Array) -> Array:
        q = c + (off + lean * depth)[:, None] * inward
        return np.stack([q[:, 0], y0 + up * depth, q[:, 1]], axis=1)

    def flat(xz: Array, y: Array | float) -> Array:
        return np.stack(
            [xz[:, 0], np.broadcast_to(np.asarray(y, dtype=np.float64), s.shape), xz[:, 1]], axis=1
        )

    emin = 0.50 * (1.0 - 2.0 * pap)
    face = bb * (1.0 - 0.20 * pap) * (1 - behind) + 2.9 * behind
    tongue = bl * (1.0 - 0.18 * pap) * (1 - behind) + 2.9 * behind
    deep_face, deep_tongue = bb * (1 - behind) + 2.9 * behind, bl * (1 - behind) + 2.9 * behind
    brim = facial(deep_face + 2.3 - 1.6 * behind, calm + 6.0)[:, [0, 2]]
    # The land is as wide as the gum needs or as the wall, whichever lies further out.
    out = np.einsum("ij,ij->i", brim - w, n)
    out = 0.5 * (out + np.hypot(out, 1.2))
    rim = w + out[:, None] * n
    rim[:, 1] = np.maximum(rim[:, 1], 0.0)
    step = up * 0.5
    rows = [flat(spine, foot), flat(spine * 0.5 + w * 0.5, foot), flat(w, foot), flat(w, foot), flat(w, foot)]
    rows += [flat(w, foot + (land - up * -2.6 - foot) * f) for f in (0.3, 0.65, 1.0)]
    rows += [
        flat(w * 0.3 + rim * 0.7, land + up * 1.2),
        flat(rim, land + step * 0.6),
        flat(rim, land - step * 0.3),
    ]
    rows += [flat(rim * 0.55 + brim * 0.45, land - step * 0.6)]
    rows += [facial(deep_face + 1.6 + emin, calm + 4.6), facial(face + 1.15 + emin, calm + 2.8)]
    rows += [
        facial(face + fat + 0.10, g + 1.1),
        facial(face + fat * 0.55, g + 0.15),
        facial(face * 0.72, g - 0.05),
    ]
    rows += [facial(face * 0.1, g + 0.15), tongue_side(tongue * 0.72, g - 0.05)]
    rows += [tongue_side(tongue + fat * 0.55, g + 0.15), tongue_side(tongue + fat + 0.10, g + 1.1)]
    if arch == "upper":
        away = np.clip((c[:, 1] - 4.0) / 18.0, 0.0, 1.0)
        rows += [tongue_side(deep_tongue + 1.3, calm + 2.8)]
        rows += [tongue_side(deep_tongue + 2.2 + 1.4 * away, calm + 5.0)]
        last = rows[-1]
        vault = inner - 8.5 * np.exp(-((s / 17.0) ** 2)) - 1.0 * (s / s_end) ** 4
        blend: tuple[tuple[float, float], ...] = ((0.30, 0.62), (0.62, 0.93), (1.0, 1.0))
    else:
        rows += [tongue_side(deep_tongue + 1.0, calm + 2.8), tongue_side(deep_tongue + 1.2, calm + 5.4)]
        last = rows[-1]
        vault = np.full_like(s, inner)
        blend = ((0.10, 0.75), (0.22, 1.0), (0.6, 1.0), (1.0, 1.0))
    for f, yy in blend:
        xz = last[:, [0, 2]] * (1 - f) + spine * f
        rows += [flat(xz, last[:, 1] * (1 - yy) + vault * yy)]
    ctrl = np.stack(rows, axis=1)
    # Cut straight behind: the last stretch is sheared until its end lies in one plane.
    near = np.clip((s - ends[7] + 10.0) / (_BACK_MM + 10.0), 0.0, 1.0) ** 2
    ctrl[:, :, 0] += near[:, None] * (cut_x - ctrl[-1, :, 0])[None, :]
    return ctrl


def base(arch: str, stations: int, rows: int) -> tuple[Array, Faces]:
    """Gum and plinth of 'upper' or 'lower' as one closed shell.

    ``stations``: samples from the midline to the back on each side; ``rows``: cells from the foot, over the gum, to
    the midline. Returns vertices (n, 3) in mm and faces (m, 3), wound outwards.
    """
    ctrl = _controls(arch, stations)
    m = ctrl.shape[1]
    # Few rows where the plinth is flat, many over the gum.
    warp = np.interp(np.linspace(0, 1, rows + 1), [0.0, 0.04, 0.08, 0.2, 1.0], [0.0, 2.0, 4.0, 9.0, m - 1.0])
    right = np.einsum("rk,skx->srx", _spline_basis(warp, m), ctrl)
    right[:, [0, -1], 2] = 0.0
    right[0, :, 2] = 0.0
    left = right[:0:-1] * np.array([1.0, 1.0, -1.0])
    skin = np.concatenate([left, right])  # from the back on the left, by the front, to the back on the right
    ns, nr = skin.shape[0], skin.shape[1]
    idx = np.arange(ns * nr).reshape(ns, nr)
    mirror = ns - 1 - np.arange(ns)
    # Both halves share the midline of the foot and of the vault or floor.
    idx[: stations - 1, 0] = idx[mirror[: stations - 1], 0]
    idx[: stations - 1, -1] = idx[mirror[: stations - 1], -1]
    quads = [np.stack([idx[:-1, :-1], idx[1:, :-1], idx[1:, 1:], idx[:-1, 1:]], -1).reshape(-1, 4)]
    points = [skin.reshape(-1, 3)]
    # The cut behind: rings that shrink to one point on each side; both sides share the midline.
    k = max(2, rows // 8)
    count = ns * nr
    mid_col = count + np.arange(k - 1)
    points.append(skin[-1, 0] + (skin[-1, -1] - skin[-1, 0]) * (np.arange(1, k) / k)[:, None])
    count += k - 1
    tri = []
    for side, ring, sgn in ((skin[-1], idx[-1], 1), (skin[0], idx[0], -1)):
        loop = np.concatenate([ring, mid_col[::-1]])
        place = np.concatenate([side, points[1][::-1]])
        centre = np.array(
            [
                side[0, 0],
                0.5 * (side[0, 1] + side[-1, 1]),
                0.62 * side[:, 2].max() * sgn if sgn > 0 else 0.62 * side[:, 2].min(),
            ]
        )
        m_loop = len(loop)
        shrink = 1.0 - np.arange(1, _CUT_RINGS) / _CUT_RINGS
        inner_rings = centre + shrink[:, None, None] * (place - centre)
        points += [inner_rings.reshape(-1, 3), centre[None]]
        ids = np.concatenate([loop[None], count + np.arange((_CUT_RINGS - 1) * m_loop).reshape(-1, m_loop)])
        count += (_CUT_RINGS - 1) * m_loop + 1
        p0, p1 = ids[:-1], ids[1:]
        n0, n1 = np.roll(p0, -1, axis=1), np.roll(p1, -1, axis=1)
        fan = np.concatenate(
            [
                np.stack([p0, n0, n1], -1).reshape(-1, 3),
                np.stack([p0, n1, p1], -1).reshape(-1, 3),
                np.stack([ids[-1], np.roll(ids[-1], -1), np.full(m_loop, count - 1)], -1),
            ]
        )
        tri.append(fan[:, ::-1] if sgn > 0 else fan)
    # The diagonals mirror each other left and right, and never join three points of the midline.
    cell_s, cell_r = np.divmod(np.arange((ns - 1) * (nr - 1)), nr - 1)
    flip = (cell_s >= stations - 1) == (cell_r >= (nr - 1) // 2)
    q = np.where(flip[:, None], np.roll(quads[0], -1, axis=1), quads[0])
    faces = np.concatenate([q[:, [0, 1, 2]], q[:, [0, 2, 3]], *tri])
    vertices = np.concatenate(points)
    # Drop the doubles that welding left behind.
    used = np.zeros(len(vertices), dtype=bool)
    used[faces.ravel()] = True
    renumber = np.cumsum(used) - 1
    faces = renumber[faces]
    vertices = vertices[used]
    a, b, c = (vertices[faces[:, j]] for j in range(3))
    if np.einsum("ij,ij->", a, np.cross(b, c)) < 0:
        faces = faces[:, ::-1]
    return vertices, np.ascontiguousarray(faces, dtype=np.int32)
