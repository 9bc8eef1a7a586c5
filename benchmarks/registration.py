"""One surface laid on another against general-purpose libraries: 50 000 points onto 200 000 triangles, end to end.

What is timed is everything from arrays to the pose: our boxes, normals and borders; their trees. They are given the
mesh's own normals ready made, the stop that brings them to a micrometre, and no downsampling. Points are corners of the
mesh moved away, so that points against points and points against faces have the same answer: the pose they were
moved by. Each side is checked to be within 1 um of it before it is timed.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from functools import partial
from typing import Any, NamedTuple

import numpy as np
from benchmarks.arches import phantom_arches
from benchmarks.ratio import Row, in_turns_s, median_s

from mountproof.geometry.nearest import ready
from mountproof.geometry.poses import exp6, inverse, transform
from mountproof.geometry.registration import register_surface

_AWAY = exp6(np.array([0.010, -0.015, 0.008, 0.3, -0.2, 0.25]))
_POINTS, _TRIANGLES = 50_000, 200_000
_SAME_MM = 1e-3
#: Their stops: a turn that moves no point by a tenth of a micrometre, a shift likewise.
_TURN, _SHIFT_MM, _ROUNDS = 1e-6, 1e-4, 60
_FAR_MM = 2.0


class _Work(NamedTuple):
    vertices: np.ndarray
    faces: np.ndarray
    normals: np.ndarray
    points: np.ndarray


def _work(triangles: int, points: int) -> _Work:
    made = phantom_arches(triangles)
    v = np.ascontiguousarray(made.upper_vertices)
    corners = v[made.upper_faces]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals = np.zeros_like(v)
    for k in range(3):
        np.add.at(normals, made.upper_faces[:, k], across)
    normals /= np.maximum(np.linalg.norm(normals, axis=1), 1e-30)[:, None]
    rows = np.sort(np.random.default_rng(1).choice(len(v), min(points, len(v)), replace=False))
    return _Work(v, made.upper_faces, normals, np.ascontiguousarray(transform(inverse(_AWAY), v[rows])))


def _ours(work: _Work) -> np.ndarray:
    return register_surface(work.points, ready(work.vertices, work.faces), np.eye(4)).pose


def _small_gicp(work: _Work, threads: int) -> Callable[[], np.ndarray]:
    import small_gicp

    four = np.column_stack([work.normals, np.zeros(len(work.normals))])

    def run() -> np.ndarray:
        target = small_gicp.PointCloud(work.vertices)
        target.normals()[:] = four
        source = small_gicp.PointCloud(work.points)
        return small_gicp.align(
            target,
            source,
            small_gicp.KdTree(target, num_threads=threads),
            registration_type="PLANE_ICP",
            max_correspondence_distance=_FAR_MM,
            num_threads=threads,
            max_iterations=_ROUNDS,
            rotation_epsilon=_TURN,
            translation_epsilon=_SHIFT_MM,
        ).T_target_source

    return run


def _open3d(work: _Work) -> np.ndarray:
    import open3d as o3d

    there: Any = o3d.geometry.PointCloud(o3d.utility.Vector3dVector(work.vertices))
    there.normals = o3d.utility.Vector3dVector(work.normals)
    return o3d.pipelines.registration.registration_icp(
        o3d.geometry.PointCloud(o3d.utility.Vector3dVector(work.points)),
        there,
        _FAR_MM,
        np.eye(4),
        o3d.pipelines.registration.TransformationEstimationPointToPlane(),
        o3d.pipelines.registration.ICPConvergenceCriteria(1e-9, 1e-9, _ROUNDS),
    ).transformation


def _off_um(work: _Work, pose: np.ndarray) -> float:
    return 1e3 * float(np.abs(transform(pose, work.points) - transform(_AWAY, work.points)).max())


def run() -> list[Row]:
    """Ours against small_gicp on one thread and on all, and against open3d; how ours grows."""
    work = _work(_TRIANGLES, _POINTS)
    what = f"register {len(work.points)} points to {len(work.faces)} faces"
    sides: list[tuple[str, Callable[[], np.ndarray], float | None]] = [
        ("small_gicp, 1 thread", _small_gicp(work, 1), None),
        (f"small_gicp, {os.cpu_count()} threads", _small_gicp(work, os.cpu_count() or 1), 1.0),
        ("open3d (a pose alone, no doubt)", partial(_open3d, work), None),
    ]
    ours_um = _off_um(work, _ours(work))
    rows = []
    for name, theirs, wanted in sides:
        theirs_um = _off_um(work, theirs())
        ours_s, theirs_s = in_turns_s(partial(_ours, work), theirs)
        note = f"off by {ours_um:.3f} um, theirs {theirs_um:.3f} um"
        met = ours_um < 1e3 * _SAME_MM and theirs_um < 1e3 * _SAME_MM
        rows.append(Row(f"{what}", ours_s, theirs_s, name, wanted, note, met))
    sizes = (50_000, 100_000, 200_000, 400_000)
    times = [median_s(partial(_ours, _work(n, n // 4)), rounds=3) for n in sizes]
    slope = float(np.polyfit(np.log(sizes), np.log(times), 1)[0])
    note = f"time grows as size to the {slope:.2f}" if math.isfinite(slope) else ""
    rows.append(
        Row(f"register {sizes[-1] // 4} points to {sizes[-1]} faces", times[-1], None, "", None, note)
    )
    return rows
