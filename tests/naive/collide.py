"""First contact by marching and bisecting on coal's mesh collision (a general-purpose library, double precision).

coal knows only "do these meshes touch at this pose?". The lower is closed step by step from a pose where they
do not, each step no longer than the distance allows (no point moves farther than the largest radius times the
step), and then the touch is bracketed and halved.
"""

from __future__ import annotations

import math

import coal
import numpy as np


def model(body, tight: bool = True):
    """A bounding-volume tree of a body's faces."""
    vertices, faces = (np.asarray(x) for x in body)
    made = coal.BVHModelOBBRSS()
    made.beginModel(len(faces), len(vertices))
    points = coal.StdVec_Vec3s()
    for v in vertices:
        points.append(v.astype(float))
    triangles = coal.StdVec_Triangle()
    for f in faces:
        triangles.append(coal.Triangle(int(f[0]), int(f[1]), int(f[2])))
    made.addSubModel(points, triangles)
    made.endModel()
    return made


def touches(upper, lower, closing_rad: float) -> bool:
    return bool(
        coal.collide(
            upper, _STILL, lower, _closed(closing_rad), coal.CollisionRequest(), coal.CollisionResult()
        )
    )


def apart_mm(upper, lower, closing_rad: float) -> float:
    return coal.distance(
        upper, _STILL, lower, _closed(closing_rad), coal.DistanceRequest(), coal.DistanceResult()
    )


def first_touch_rad(
    upper_body,
    lower_body,
    *,
    opened_rad: float,
    last_rad: float,
    near_mm: float = 1e-5,
    fine_rad: float = 1e-9,
):
    """Closing angle of the first touch between ``-opened_rad`` and ``last_rad``; None when there is none."""
    upper, lower = model(upper_body), model(lower_body)
    reach = max(float(np.hypot(b[0][:, 0], b[0][:, 1]).max()) for b in (upper_body, lower_body))
    at = -opened_rad
    assert not touches(upper, lower, at), "the opened pose must not touch"
    while at < last_rad:
        gap = apart_mm(upper, lower, at)
        if not math.isfinite(gap):
            return None
        step = max(gap, near_mm) / reach
        if touches(upper, lower, at + step):
            low, high = at, at + step
            while high - low > fine_rad:
                middle = 0.5 * (low + high)
                low, high = (low, middle) if touches(upper, lower, middle) else (middle, high)
            return 0.5 * (low + high)
        at += step
    return None


def _closed(angle_rad: float):
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    return coal.Transform3s(np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]), np.zeros(3))


_STILL = coal.Transform3s.Identity()
