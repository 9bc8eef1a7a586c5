"""First contact by trying everything: every vertex on every face, every edge on every edge, no pruning.

Another route than the program's: both cases are one trigonometric equation A cos t + B sin t = C.
- vertex q on the plane n . p = d:   n . R(t) q = d
- line (p, u) meets line R(t) (q, v): their reciprocal product vanishes, (p x u) . R v + u . R (q x v) = 0
  (Plücker coordinates; any text on line geometry, written here from memory).
Each root is kept when the point really lies on both features. Edges that lie in one plane square to the axis
turn within it, so there an end of one of them is first: that end is put on the other edge.
"""

from __future__ import annotations

import numpy as np

#: How far outside a feature a point may lie and still count as on it, mm (coordinates up to 100 mm).
NEAR_MM = 2e-11


def first_contact_rad(upper_vertices, upper_faces, lower_vertices, lower_faces):
    """Least angle by which the lower closes until it touches the upper; None when it never does."""
    found = list(all_contacts_rad(upper_vertices, upper_faces, lower_vertices, lower_faces))
    return min(found) if found else None


def all_contacts_rad(upper_vertices, upper_faces, lower_vertices, lower_faces):
    """Yield the closing angle of every contact of a vertex with a face or of two edges."""
    up, low = np.asarray(upper_vertices, float), np.asarray(lower_vertices, float)
    yield from _vertices_on_faces(low[np.unique(lower_faces)], up[upper_faces])
    yield from -_vertices_on_faces(up[np.unique(upper_faces)], low[lower_faces])
    yield from _edges_on_edges(up[_edges(upper_faces)], low[_edges(lower_faces)])


def _edges(faces):
    every = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    return np.unique(np.sort(every, axis=1), axis=0)


def _solve(a, b, c):
    """Both t in (-pi, pi] with a cos t + b sin t = c, stacked in front; NaN where there is none."""
    size = np.hypot(a, b)
    with np.errstate(all="ignore"):
        lost = size**2 - c**2
        lost = np.where((lost < 0) & (lost > -1e-13 * size**2), 0.0, lost)
        half = np.arctan2(np.sqrt(lost), c)
        half = np.where(size > 0, half, np.nan)
    t = np.stack([np.arctan2(b, a) - half, np.arctan2(b, a) + half])
    return np.mod(t + np.pi, 2 * np.pi) - np.pi


def _turn(t, p):
    c, s = np.cos(t), np.sin(t)
    return np.stack([c * p[..., 0] - s * p[..., 1], s * p[..., 0] + c * p[..., 1], p[..., 2] + 0 * t], -1)


def angles_on_faces(point, corners):
    """Every angle by which ``point`` turns about z onto one of the faces ``corners`` (m, 3, 3)."""
    return _vertices_on_faces(np.asarray(point, float)[None], corners)


def _vertices_on_faces(points, faces):
    q = points[:, None]
    n = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
    size = np.linalg.norm(n, axis=1)
    faces, n = faces[size > 0], n[size > 0] / size[size > 0, None]
    if not len(faces):
        return np.zeros(0)
    flat = np.hypot(n[:, 0], n[:, 1]) == 0
    a = n[:, 0] * q[..., 0] + n[:, 1] * q[..., 1]
    b = n[:, 1] * q[..., 0] - n[:, 0] * q[..., 1]
    c = np.sum(n * faces[:, 0], axis=1) - n[:, 2] * q[..., 2]
    t = _solve(a, b, np.where(flat, np.nan, c))
    p = _turn(t, np.broadcast_to(q, (*a.shape, 3)))
    on = (
        np.abs(np.sum(n * (p - faces[:, 0]), axis=-1)) <= 1e-9
    )  # the root itself, where it is ill-conditioned
    for i in range(3):
        edge = faces[:, (i + 1) % 3] - faces[:, i]
        inwards = np.cross(n, edge) / np.linalg.norm(edge, axis=1)[:, None]
        on &= np.sum(inwards * (p - faces[:, i]), axis=-1) >= -NEAR_MM
    return t[on & (p[..., 0] > 0)]


def _edges_on_edges(upper, lower):
    p, u = upper[:, None, 0], upper[:, None, 1] - upper[:, None, 0]
    q, v = lower[None, :, 0], lower[None, :, 1] - lower[None, :, 0]
    m, w = np.cross(p, u), np.cross(q, v)
    a = m[..., 0] * v[..., 0] + m[..., 1] * v[..., 1] + u[..., 0] * w[..., 0] + u[..., 1] * w[..., 1]
    b = m[..., 1] * v[..., 0] - m[..., 0] * v[..., 1] + u[..., 1] * w[..., 0] - u[..., 0] * w[..., 1]
    c = -m[..., 2] * v[..., 2] - u[..., 2] * w[..., 2]
    flat = (np.abs(u[..., 2]) <= NEAR_MM) & (np.abs(v[..., 2]) <= NEAR_MM)
    t = _solve(a, b, np.where(flat, np.nan, c))
    q, v = (np.broadcast_to(x, (*a.shape, 3)) for x in (q, v))
    q, v = _turn(t, q), _turn(t, v)
    # Where the two lines meet: s along the upper, w along the lower, least squares, then the miss must vanish.
    uu, uv, vv = np.sum(u * u, -1), np.sum(u * v, -1), np.sum(v * v, -1)
    d = q - p
    ud, vd = np.sum(u * d, -1), np.sum(v * d, -1)
    with np.errstate(all="ignore"):
        det = uu * vv - uv * uv
        s, w = (vv * ud - uv * vd) / det, (uv * ud - uu * vd) / det
        miss = np.linalg.norm(p + s[..., None] * u - q - w[..., None] * v, axis=-1)
        s_near, w_near = NEAR_MM / np.sqrt(uu), NEAR_MM / np.sqrt(vv)
        # lines at a small angle: the place where they cross is only as sharp as the cross product says
        blur = 1e-14 * np.sqrt(uu * vv / np.maximum(det, 1e-300))
        on = (
            (s >= -s_near - blur)
            & (s <= 1 + s_near + blur)
            & (w >= -w_near - blur)
            & (w <= 1 + w_near + blur)
        )
        on &= (miss <= NEAR_MM) & ((q + w[..., None] * v)[..., 0] > 0)
    crossing = t[on]
    ends = [x for i, j in np.argwhere(flat) for x in _flat_edges(upper[i], lower[j])]
    return np.concatenate([crossing, np.asarray(ends, float)])


def _flat_edges(upper, lower):
    """Closing angles that put an end of one edge on the other, both in one plane square to the axis."""
    if abs(upper[0, 2] - lower[0, 2]) > 4 * NEAR_MM:
        return
    for edge, other, sign in ((upper, lower, 1.0), (lower, upper, -1.0)):
        along = edge[1] - edge[0]
        for end in other:
            r2 = end[0] ** 2 + end[1] ** 2
            quadratic = [along[:2] @ along[:2], 2 * along[:2] @ edge[0, :2], edge[0, :2] @ edge[0, :2] - r2]
            for s in np.roots(quadratic):
                if abs(s.imag) < 1e-7 and -1e-12 <= s.real <= 1 + 1e-12:
                    on = edge[0] + s.real * along
                    yield sign * (np.arctan2(on[1], on[0]) - np.arctan2(end[1], end[0]))
