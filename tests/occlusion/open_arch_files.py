"""Read the open arches plainly: text to arrays, and into the program's frame, without the program's own readers."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
from numpy.typing import NDArray


def read_open_arch(
    folder: Path, arch: str, relation: str = "closed"
) -> tuple[NDArray[np.float64], NDArray[np.int32], NDArray[np.int32]]:
    """Vertices (n, 3) mm in the frame, faces (m, 3), ISO 3950 number per face (m,)."""
    vertices, faces = [], []
    for line in (folder / f"case0_{arch}.obj").read_text().splitlines():
        if line.startswith("v "):
            vertices.append([float(t) for t in line.split()[1:4]])
        elif line.startswith("f "):
            faces.append([int(t.split("/")[0]) - 1 for t in line.split()[1:4]])
    labels = np.loadtxt(folder / f"case0_{arch}_faceFDI.csv", dtype=np.int32)
    placement = json.loads((folder / "placement.json").read_text())
    pose = np.array(placement["frame_from_scan"])
    if arch == "lower":
        pose = np.array(placement[f"upper_from_lower_{relation}"]) @ pose
    v = np.array(vertices) @ pose[:3, :3].T + pose[:3, 3]
    return np.ascontiguousarray(v), np.array(faces, dtype=np.int32), labels
