"""Surfaces as bytes for the page: arrays one after the other, each on a boundary of four bytes where it needs one."""

from __future__ import annotations

import gzip
import hashlib

import numpy as np
from numpy.typing import NDArray

from mountproof.answers.scene_parts import SceneArch
from mountproof.case.scans import Scan
from mountproof.geometry.relief import relief_mm, vertex_normals

#: The height over its surroundings that the largest value of the relief stands for; what is higher looks the same.
RELIEF_MM = 0.2
#: Changes whenever the layout does, so that no browser reads old bytes in a new way.
_LAYOUT = 2
#: Measured on 2 x 213 000 triangles: level 1 halves them in 0.08 s, higher levels gain nothing.
_LEVEL = 1


def scene_bytes(arch: SceneArch) -> bytes:
    """Return one arch of the scene: positions, turn, radius, faces, normals with relief, tooth, state."""
    return b"".join(
        (
            _floats(arch.vertices_mm),
            _floats(arch.turn_rad),
            _floats(arch.radius_mm),
            arch.faces.astype("<u4").tobytes(),
            _normals(arch.normals, arch.relief_mm),
            arch.tooth.astype(np.uint8).tobytes(),
            arch.state.tobytes(),
        )
    )


def scan_bytes(scan: Scan, mm_per_unit: float) -> bytes:
    """Return a scan as it lies in its file: positions in the file's numbers, faces, normals with relief."""
    vertices = np.ascontiguousarray(scan.vertices, dtype=np.float64)
    faces = np.ascontiguousarray(scan.faces, dtype=np.int32)
    normals = vertex_normals(vertices, faces)
    relief = relief_mm(vertices, faces, normals) * mm_per_unit
    return b"".join((_floats(vertices), faces.astype("<u4").tobytes(), _normals(normals, relief)))


def scene_size(arch: SceneArch) -> int:
    """Return how many bytes ``scene_bytes`` gives."""
    return 26 * len(arch.vertices_mm) + 12 * len(arch.faces)


def scan_size(scan: Scan) -> int:
    """Return how many bytes ``scan_bytes`` gives."""
    return 16 * len(scan.vertices) + 12 * len(scan.faces)


def tag(*parts: str) -> str:
    """Return an ETag of what the bytes were made from."""
    return '"' + hashlib.sha256("\n".join((str(_LAYOUT), *parts)).encode()).hexdigest()[:32] + '"'


def squeezed(data: bytes) -> bytes:
    """Return bytes made smaller for a line; the same bytes give the same."""
    return gzip.compress(data, _LEVEL, mtime=0)


def _floats(values: NDArray[np.float64]) -> bytes:
    return values.astype("<f4").tobytes()


def _normals(normals: NDArray[np.float64], relief: NDArray[np.float64]) -> bytes:
    both = np.column_stack([normals, np.clip(relief / RELIEF_MM, -1.0, 1.0)])
    return np.rint(both * 127.0).astype(np.int8).tobytes()
