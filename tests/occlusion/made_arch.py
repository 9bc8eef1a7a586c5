"""Made-up arches for the tests: rows of rounded blocks on a parabola, and casts draped over crowns.

Nothing here comes from the routines under test, apart from the depth raster, which has tests of its own.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt, gaussian_filter

from mountproof.occlusion.raster import draw
from mountproof.teeth import Arch, mirrored, right_to_left

F64 = NDArray[np.float64]
I32 = NDArray[np.int32]

WIDTH = {
    "upper": (8.4, 6.6, 7.6, 7.1, 6.9, 10.2, 9.4, 8.6),
    "lower": (5.2, 5.8, 6.9, 7.1, 7.2, 11.1, 10.6, 10.0),
}
DEPTH = (6.5, 6.5, 7.5, 8.5, 9.0, 10.5, 10.5, 10.0)


def block(n: int = 14) -> tuple[F64, I32]:
    """A rounded block in the unit cube, closed; (v, 3) in -1..1 and faces."""
    u = np.linspace(0, 2 * np.pi, 2 * n, endpoint=False)
    t = np.linspace(-np.pi / 2, np.pi / 2, n)[1:-1]
    uu, tt = np.meshgrid(u, t)

    def power(a: F64) -> F64:
        return np.sign(a) * np.abs(a) ** 0.6

    ring = np.stack(
        [power(np.cos(tt)) * power(np.cos(uu)), power(np.sin(tt)), power(np.cos(tt)) * power(np.sin(uu))], -1
    )
    v = np.concatenate([ring.reshape(-1, 3), [[0, -1, 0], [0, 1, 0]]])
    k, m = len(u), len(t)
    faces = []
    for i in range(m - 1):
        for j in range(k):
            a, b, c, d = i * k + j, i * k + (j + 1) % k, (i + 1) * k + j, (i + 1) * k + (j + 1) % k
            faces += [(a, c, b), (b, c, d)]
    for j in range(k):
        faces += [(m * k, j, (j + 1) % k), (m * k + 1, (m - 1) * k + (j + 1) % k, (m - 1) * k + j)]
    return v, np.array(faces, dtype=np.int32)


def row_of_blocks(
    arch: Arch, present: list[int], *, scale: float = 1.0, front_mm: float = 86.0, z_mm: float = 0.0
) -> tuple[F64, I32, I32]:
    """Separate blocks on a parabola, midline at ``z_mm``: vertices, faces, tooth number per face."""
    z = np.linspace(-60, 60, 12001)
    x = -0.045 * z * z / scale
    arc = np.concatenate([[0], np.cumsum(np.hypot(np.diff(x), np.diff(z)))])
    arc -= np.interp(0.0, z, arc)
    base_v, base_f = block()
    vertices, faces, labels = [], [], []
    offset = 0
    for tooth in right_to_left(arch):
        if tooth not in present:
            continue
        widths = [w * scale for w in WIDTH[arch]]
        p = tooth % 10
        centre = sum(widths[: p - 1]) + widths[p - 1] / 2
        right = mirrored(tooth) > tooth if arch == "upper" else mirrored(tooth) < tooth
        at = centre if right else -centre  # z grows to the right
        zc, xc = np.interp(at, arc, z), np.interp(at, arc, x)
        slope = -0.09 * zc / scale
        tangent = np.array([slope, 1.0]) / np.hypot(slope, 1.0)
        outward = np.array([tangent[1], -tangent[0]])
        local = base_v * [DEPTH[p - 1] / 2 * scale, 4.0, widths[p - 1] / 2 * 0.985]
        placed = np.stack(
            [
                front_mm + xc + local[:, 0] * outward[0] + local[:, 2] * tangent[0],
                local[:, 1],
                z_mm + zc + local[:, 0] * outward[1] + local[:, 2] * tangent[1],
            ],
            axis=1,
        )
        vertices.append(placed)
        faces.append(base_f + offset)
        labels.append(np.full(len(base_f), tooth, dtype=np.int32))
        offset += len(base_v)
    v = np.concatenate(vertices)
    v[:, 1] += -32.0 if arch == "upper" else -38.0
    return v, np.concatenate(faces), np.concatenate(labels)


def draped_cast(v: F64, faces: I32, labels: I32, arch: Arch, *, cell_mm: float = 0.3) -> tuple[F64, I32, I32]:
    """One continuous surface over crowns: gum 5.5 mm below the tops, falling off to a base; labels 0 there."""
    towards = -1.0 if arch == "upper" else 1.0
    box = (v[:, 0].min() - 10, v[:, 0].max() + 8, v[:, 2].min() - 10, v[:, 2].max() + 10)
    h = np.ascontiguousarray(towards * v[:, 1])
    seen = draw(
        np.ascontiguousarray(v[:, 0]), np.ascontiguousarray(v[:, 2]), h, faces, cell_mm=cell_mm, box_mm=box
    )
    covered = seen.face >= 0
    away = distance_transform_edt(~covered) * cell_mm
    top = np.quantile(seen.height_mm[covered], 0.95)
    gum = top - 5.5 - 4.5 * (1 - np.exp(-((away / 5.0) ** 2)))
    crown = covered & (seen.height_mm > gum)
    height = gaussian_filter(np.where(crown, np.nan_to_num(seen.height_mm), gum), 0.6)
    rows, columns = height.shape
    x = box[0] + cell_mm * np.arange(columns)
    z = box[2] + cell_mm * np.arange(rows)
    gx, gz = np.meshgrid(x, z)
    cast = np.stack([gx.ravel(), (towards * height).ravel(), gz.ravel()], axis=1)
    index = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = index[:-1, :-1], index[:-1, 1:], index[1:, :-1], index[1:, 1:]
    quads = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([b, d, c], -1).reshape(-1, 3)])
    at = np.where(crown, labels[np.maximum(seen.face, 0)], 0).ravel()[quads]
    label = np.where((at[:, 0] == at[:, 1]) | (at[:, 0] == at[:, 2]), at[:, 0], at[:, 1])
    return cast, quads.astype(np.int32), label.astype(np.int32)


def face_areas(v: F64, faces: I32) -> F64:
    """Area of each face, mm2."""
    c = v[faces]
    return np.linalg.norm(np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]), axis=1) / 2
