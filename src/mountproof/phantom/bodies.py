"""Simple bodies whose first contact under hinge closing is known in closed form.

Closing turns a point (x, y, z) of the lower by Rz(t): (x cos t - y sin t, x sin t + y cos t, z). A linear or a
spherical condition on a turned point is therefore always

    A cos t + B sin t = C,      t = atan2(B, A) +- acos(C / hypot(A, B)),

and the first contact is the least t >= 0 among the roots of all conditions (the bodies start apart). Each
builder returns the meshes, the angle, the touching point and how far the meshes may lie inside the true bodies.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Faces = NDArray[np.int32]
Point = tuple[float, float, float]


class Bodies(NamedTuple):
    """Two bodies and their first contact.

    Vertices (n, 3) mm and faces (m, 3) of the upper and of the lower in its given pose; ``closing_rad``: angle to first
    contact; ``point_mm`` (3,): where, in the upper's frame; ``slack_mm``: the meshes lie nowhere further than this
    inside the true bodies, so that meshes meet later by at most that much of path along the normal.
    """

    upper_vertices_mm: Array
    upper_faces: Faces
    lower_vertices_mm: Array
    lower_faces: Faces
    closing_rad: float
    point_mm: Array
    slack_mm: float


def least_angle(a: float, b: float, c: float) -> float | None:
    """Least t in [0, 2 pi) with a cos t + b sin t = c, or None when there is no root."""
    size = float(np.hypot(a, b))
    if size == 0.0 or abs(c) > size:
        return None
    middle, half = np.arctan2(b, a), np.arccos(c / size)
    return float(min((middle - half) % (2 * np.pi), (middle + half) % (2 * np.pi)))


def turned(point: Array, angle_rad: float) -> Array:
    """Point or points (..., 3) of the lower after closing by an angle."""
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    x, y, z = point[..., 0], point[..., 1], point[..., 2]
    return np.stack([x * c - y * s, x * s + y * c, z], axis=-1)


def _apart(clear: bool) -> None:
    if not clear:
        raise ValueError("these bodies overlap as they are given")


def _needed(angle: float | None) -> float:
    if angle is None:
        raise ValueError("these bodies never meet")
    return angle


def ball_mesh(centre: Point, radius_mm: float, rings: int) -> tuple[Array, Faces, float]:
    """Closed mesh with all vertices on a ball: vertices, faces wound outwards, greatest depth of a face (mm)."""
    lat = np.linspace(0.0, np.pi, rings + 1)[1:-1]
    lon = np.arange(2 * rings) * (np.pi / rings)
    body = np.stack(
        [
            np.outer(np.sin(lat), np.cos(lon)),
            np.outer(np.sin(lat), np.sin(lon)),
            np.outer(np.cos(lat), np.ones_like(lon)),
        ],
        axis=-1,
    ).reshape(-1, 3)
    n = 2 * rings
    idx = np.arange((rings - 1) * n).reshape(rings - 1, n)
    nxt = np.roll(idx, -1, axis=1)
    a, b, c, d = idx[:-1].ravel(), idx[1:].ravel(), nxt[1:].ravel(), nxt[:-1].ravel()
    north, south = len(body), len(body) + 1
    caps = [
        np.stack([np.full(n, north), idx[0], nxt[0]], axis=1),
        np.stack([np.full(n, south), nxt[-1], idx[-1]], axis=1),
    ]
    faces = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1), *caps])
    unit = np.concatenate([body, [[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]]])
    p, q, r = (unit[faces[:, k]] for k in range(3))
    normal = np.cross(q - p, r - p)
    near = np.abs(np.einsum("ij,ij->i", normal, p)) / np.linalg.norm(normal, axis=1)
    return np.array(centre) + radius_mm * unit, faces.astype(np.int32), float(radius_mm * (1.0 - near.min()))


def _square(centre: Array, normal: Array, half_mm: float) -> tuple[Array, Faces]:
    """Square patch of a plane, wound so that its normal is the given one."""
    u = np.cross(normal, [0.0, 0.0, 1.0])
    u = u / np.linalg.norm(u) if np.linalg.norm(u) > 0 else np.array([1.0, 0.0, 0.0])
    v = np.cross(normal, u)
    corners = np.array([centre + half_mm * (i * u + j * v) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))])
    return corners, np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32)


def ball_under_plane(centre: Point, radius_mm: float, plane: Point, normal: Point, rings: int = 60) -> Bodies:
    """Ball of the lower that closes against a plane of the upper.

    ``centre`` and ``radius_mm`` of the ball, a point of the plane and its normal towards the lower (any length). With
    the unit normal n and the centre c turned by t, contact is n . (c(t) - p) = radius, that is

        (nx cx + ny cy) cos t + (ny cx - nx cy) sin t = radius + n . p - nz cz.

    The ball touches at c(t) - radius n. Raises ValueError when they never meet or overlap as given.
    """
    n = np.array(normal) / np.linalg.norm(normal)
    c, p = np.array(centre), np.array(plane)
    _apart(bool(n @ (c - p) >= radius_mm))
    t = _needed(
        least_angle(n[0] * c[0] + n[1] * c[1], n[1] * c[0] - n[0] * c[1], radius_mm + n @ p - n[2] * c[2])
    )
    point = turned(c, t) - radius_mm * n
    lower, lower_faces, slack = ball_mesh(centre, radius_mm, rings)
    # The patch is laid around the touching point, so that its border is far from it.
    upper, upper_faces = _square(point, n, 3.0 * radius_mm)
    return Bodies(upper, upper_faces, lower, lower_faces, t, point, slack)


def ball_under_ball(upper: Point, upper_mm: float, lower: Point, lower_mm: float, rings: int = 60) -> Bodies:
    """Ball of the lower that closes against a ball of the upper: centres and radii in mm.

    The centres u and c(t) are as far apart as the radii together: |c|^2 + |u|^2 - 2 u . c(t) = (r + s)^2, that is

        (ux cx + uy cy) cos t + (uy cx - ux cy) sin t = (|c|^2 + |u|^2 - (r + s)^2) / 2 - uz cz.

    Raises ValueError when they never meet or overlap as given.
    """
    u, c = np.array(upper), np.array(lower)
    reach = upper_mm + lower_mm
    _apart(bool(np.linalg.norm(c - u) >= reach))
    t = _needed(
        least_angle(
            u[0] * c[0] + u[1] * c[1],
            u[1] * c[0] - u[0] * c[1],
            0.5 * (c @ c + u @ u - reach**2) - u[2] * c[2],
        )
    )
    point = u + (turned(c, t) - u) * (upper_mm / reach)
    up, up_faces, slack_up = ball_mesh(upper, upper_mm, rings)
    low, low_faces, slack_low = ball_mesh(lower, lower_mm, rings)
    return Bodies(up, up_faces, low, low_faces, t, point, slack_up + slack_low)


def ridge_in_notch(
    ridge: tuple[float, float],
    notch: tuple[float, float],
    front_deg: float,
    back_deg: float,
    width_mm: float = 6.0,
) -> Bodies:
    """Ridge of the lower, parallel to the hinge, that closes into a notch of the upper made of two ramps.

    ``ridge`` and ``notch``: (x, y) of the ridge and of the bottom of the notch, mm. From there one ramp runs forward and down
    at ``front_deg`` below the horizontal, the other backward and down at ``back_deg``. The ridge (x, y) turned by t lies on
    the ramp with normal n when

        (nx x + ny y) cos t + (ny x - nx y) sin t = n . notch;

    the ramp with the lesser root is met first, if the foot of it lies on the ramp's own side of the notch. The block
    under the ridge is steeper than the ramps on both sides, so nothing else can touch. Raises ValueError when
    neither ramp is met or the ridge starts above one.
    """
    low, bottom = np.array(ridge), np.array(notch)
    steep = front_deg if low[0] >= bottom[0] else back_deg
    _apart(bool(low[1] <= bottom[1] - abs(low[0] - bottom[0]) * np.tan(np.radians(steep))))
    best: tuple[float, Array] | None = None
    ramps = []
    for side, deg in ((1.0, front_deg), (-1.0, back_deg)):
        s, c = np.sin(np.radians(deg)), np.cos(np.radians(deg))
        along = np.array([side * c, -s])
        normal = np.array([-side * s, -c])
        ramps.append((along, normal))
        t = least_angle(normal @ low, normal[1] * low[0] - normal[0] * low[1], float(normal @ bottom))
        if t is None:
            continue
        at = turned(np.array([*low, 0.0]), t)
        if (at[:2] - bottom) @ along >= 0 and (best is None or t < best[0]):
            best = (t, at)
    if best is None:
        raise ValueError("these bodies never meet")
    w = 0.5 * width_mm
    up, up_faces = [], []
    for k, (along, normal) in enumerate(ramps):
        far = bottom + 8.0 * along
        up += [(*bottom, -w), (*bottom, w), (*far, w), (*far, -w)]
        quad = np.array([[0, 1, 2], [0, 2, 3]]) + 4 * k
        first = np.array(up[4 * k : 4 * k + 3])
        outward = np.cross(first[1] - first[0], first[2] - first[0])[:2] @ normal
        up_faces.append(quad if outward > 0 else quad[:, ::-1])
    # A thin block whose flanks fall at 80 degrees, narrower than the notch.
    h, d, v = 5.0, 5.0 / np.tan(np.radians(80.0)), 0.8 * w
    x, y = low
    lower = np.array(
        [[x, y, -v], [x, y, v], [x + d, y - h, v], [x + d, y - h, -v], [x - d, y - h, -v], [x - d, y - h, v]]
    )
    lower_faces = np.array(
        [[0, 1, 2], [0, 2, 3], [1, 0, 4], [1, 4, 5], [0, 3, 4], [1, 5, 2], [3, 2, 5], [3, 5, 4]]
    )
    return Bodies(
        np.array(up),
        np.concatenate(up_faces).astype(np.int32),
        lower,
        lower_faces.astype(np.int32),
        *best,
        0.0,
    )


def _cone_mesh(apex: Array, half_deg: float, height_mm: float, segments: int) -> tuple[Array, Faces]:
    """Side of an upright cone below its apex, as a pyramid inside it with edges towards +x and -x."""
    ang = np.arange(segments) * (2 * np.pi / segments)
    reach = height_mm * np.tan(np.radians(half_deg))
    rim = apex + np.stack([reach * np.cos(ang), np.full(segments, -height_mm), reach * np.sin(ang)], axis=1)
    k = np.arange(segments)
    faces = np.stack([np.zeros(segments, dtype=np.int64), 1 + (k + 1) % segments, 1 + k], axis=1)
    return np.concatenate([apex[None], rim]), faces.astype(np.int32)


def cone_in_cone(
    upper_apex: Point,
    upper_half_deg: float,
    lower_apex: tuple[float, float],
    lower_half_deg: float,
    segments: int = 90,
) -> Bodies:
    """Pointed cone of the lower that closes into a wider hollow cone of the upper; both axes upright, in one sagittal plane.

    ``upper_apex`` (x, y, z) and half angle of the hollow, which opens downwards; ``lower_apex`` (x, y) and half angle of the
    point; mm and degrees. The point meets the hollow's wall where |x(t) - X| = (Y - y(t)) tan(beta), on the front (+) or back (-)
    generator:

        (x sg + y T) cos t + (x T - y sg) sin t = sg X + T Y,      T = tan(beta), sg = +1 or -1.

    With an even number of segments both generators are edges of the mesh, so mesh and cone agree exactly. The
    flanks stay clear while the point, tilted by t, is still narrower than the hollow: lower half angle + t < upper half
    angle, which is checked (ValueError).
    """
    if segments % 2:
        raise ValueError(f"an even number of segments is needed, got {segments}")
    ux, uy, uz = upper_apex
    x, y = lower_apex
    tan_u = float(np.tan(np.radians(upper_half_deg)))
    _apart(bool(abs(x - ux) <= (uy - y) * tan_u))
    roots = []
    for sg in (1.0, -1.0):
        t = least_angle(x * sg + y * tan_u, x * tan_u - y * sg, sg * ux + tan_u * uy)
        if t is not None:
            at = turned(np.array([x, y, uz]), t)
            if sg * (at[0] - ux) >= 0.0:
                roots.append((t, at))
    if not roots:
        raise ValueError("these bodies never meet")
    closing, point = min(roots, key=lambda r: r[0])
    if np.radians(lower_half_deg) + closing >= np.radians(upper_half_deg):
        raise ValueError("the flank of the point would meet the hollow first")
    upper, upper_faces = _cone_mesh(np.array(upper_apex), upper_half_deg, 6.0, segments)
    lower, lower_faces = _cone_mesh(np.array([x, y, uz]), lower_half_deg, 4.0, segments)
    # The hollow is seen from inside.
    return Bodies(upper, np.ascontiguousarray(upper_faces[:, ::-1]), lower, lower_faces, closing, point, 0.0)
