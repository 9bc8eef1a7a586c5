"""Scans out: binary PLY with a colour per vertex, binary STL. The same input gives the same bytes."""

from __future__ import annotations

import os
import uuid
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt


def write_ply(
    path: str | Path,
    vertices_mm: npt.NDArray[Any],
    faces: npt.NDArray[Any],
    vertex_colours: npt.NDArray[np.uint8] | None = None,
    *,
    comments: Sequence[str] = (),
) -> None:
    """Write a binary little-endian PLY, whole or not at all.

    ``vertices_mm`` (n, 3) stored as 32-bit floats (4 nm at 100 mm), ``faces`` (m, 3), ``vertex_colours``
    (n, 3) red, green, blue; each of ``comments`` becomes one line of the head (line breaks become blanks,
    other letters than ASCII become question marks). Raises ValueError for wrong shapes, OSError.
    """
    v, f = _checked(vertices_mm, faces)
    fields: list[tuple[str, str]] = [("x", "<f4"), ("y", "<f4"), ("z", "<f4")]
    head = ["ply", "format binary_little_endian 1.0"]
    head += ["comment " + " ".join(text.split()) for text in comments]
    head += [f"element vertex {len(v)}", *(f"property float {axis}" for axis in "xyz")]
    if vertex_colours is not None:
        if vertex_colours.shape != (len(v), 3) or vertex_colours.dtype != np.uint8:
            raise ValueError(f"colours must be ({len(v)}, 3) uint8, got {vertex_colours.shape}")
        fields += [(name, "u1") for name in ("red", "green", "blue")]
        head += [f"property uchar {name}" for name in ("red", "green", "blue")]
    head += [f"element face {len(f)}", "property list uchar int vertex_indices", "end_header", ""]
    points = np.zeros(len(v), fields)
    for i, axis in enumerate("xyz"):
        points[axis] = v[:, i]
    if vertex_colours is not None:
        for i, name in enumerate(("red", "green", "blue")):
            points[name] = vertex_colours[:, i]
    triangles = np.zeros(len(f), [("n", "u1"), ("v", "<i4", 3)])
    triangles["n"] = 3
    triangles["v"] = f
    _write_whole(path, "\n".join(head).encode("ascii", "replace"), points.tobytes(), triangles.tobytes())


def write_stl(
    path: str | Path, vertices_mm: npt.NDArray[Any], faces: npt.NDArray[Any], *, head: str = ""
) -> None:
    """Write a binary STL, whole or not at all; normals by the right-hand rule, zero for flat triangles.

    ``vertices_mm`` (n, 3) stored as 32-bit floats, ``faces`` (m, 3); ``head`` up to 80 ASCII letters, which
    should not begin with "solid". Raises ValueError for wrong shapes or a head too long, OSError.
    """
    v, f = _checked(vertices_mm, faces)
    text = head.encode("ascii", "replace")
    if len(text) > 80:
        raise ValueError("the head of a binary STL has 80 bytes")
    corner = v.astype(np.float32)[f]
    wide = corner.astype(np.float64)
    normal = np.cross(wide[:, 1] - wide[:, 0], wide[:, 2] - wide[:, 0])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    records = np.zeros(len(f), [("n", "<f4", 3), ("v", "<f4", (3, 3)), ("x", "<u2")])
    records["n"] = normal / np.where(length > 0, length, 1.0)
    records["v"] = corner
    _write_whole(path, text.ljust(80, b"\0"), len(f).to_bytes(4, "little"), records.tobytes())


def _checked(
    vertices: npt.NDArray[Any], faces: npt.NDArray[Any]
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.int32]]:
    v, f = np.asarray(vertices, dtype=np.float64), np.asarray(faces)
    if v.ndim != 2 or v.shape[1] != 3 or f.ndim != 2 or f.shape[1] != 3:
        raise ValueError(f"vertices must be (n, 3) and faces (m, 3), got {v.shape} and {f.shape}")
    if f.size and (int(f.min()) < 0 or int(f.max()) >= len(v)):
        raise ValueError("faces name vertices that are not there")
    return v, f.astype(np.int32)


def _write_whole(path: str | Path, *parts: bytes) -> None:
    """Write beside the target and rename: a reader sees the old file or the new one, never half of one."""
    target = Path(path)
    part = target.with_name(f".{target.name}.{uuid.uuid4().hex}.part")
    try:
        with part.open("xb") as file:
            for piece in parts:
                file.write(piece)
            file.flush()
            os.fsync(file.fileno())
        part.replace(target)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
