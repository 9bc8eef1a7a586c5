"""Small casts for the pages on scans: rows of rounded blocks with fossae, one of them a little high, and ways to spoil a file."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from mountproof.case.scans import write_stl
from occlusion.made_arch import F64, I32, row_of_blocks

#: The lower block that meets first, and how high it stands over its neighbours (mm).
HIGH_TOOTH, HIGH_MM = 46, 0.5
#: How far the rows stand apart before the record opens them (mm): blocks are 8 mm tall, middles 6 mm apart.
_APART_MM = 2.34
#: Fossae of the upper over the middles of the lower blocks, so that the casts have a rest: how deep, and how wide (mm).
_FOSSA_MM, _FOSSA_WIDTH_MM = 0.8, 1.0
#: How much of each block below its middle is kept (mm).
_BELOW_MM = 1.0


def write_casts(folder: Path, kind: str) -> None:
    """Write ``upper.stl``, ``lower.stl`` and tooth numbers; ``kind``, the name of the case, says what is wrong."""
    upper, upper_faces, upper_teeth = row_of_blocks(
        "upper", [10 * q + k for q in (1, 2) for k in range(1, 8)]
    )
    lower, lower_faces, teeth = row_of_blocks("lower", [10 * q + k for q in (3, 4) for k in range(1, 8)])
    _hollow(upper, [lower[np.unique(lower_faces[teeth == tooth])].mean(axis=0) for tooth in np.unique(teeth)])
    lower[:, 1] -= _APART_MM
    upper_faces, upper_teeth = _crowns_only(upper, upper_faces, upper_teeth, -1.0)
    lower_faces, teeth = _crowns_only(lower, lower_faces, teeth, 1.0)
    lower[np.unique(lower_faces[teeth == HIGH_TOOTH]), 1] += HIGH_MM
    factor = 1.0 / 25.4 if kind == "scans-inch" else 1.0
    write_stl(folder / "upper.stl", upper * factor, upper_faces, head="made-up blocks, upper")
    write_stl(folder / "lower.stl", lower * factor, lower_faces, head="made-up blocks, lower")
    for name, numbers in (("upper", upper_teeth), ("lower", teeth)):
        (folder / f"{name}_teeth.csv").write_text("\n".join(map(str, numbers)) + "\n", encoding="ascii")
    if kind == "scans-cut-off":
        whole = (folder / "lower.stl").read_bytes()
        (folder / "lower.stl").write_bytes(whole[: len(whole) // 2])


def _hollow(upper: F64, middles: list[F64]) -> None:
    """Press fossae into the biting side of the upper, seen from below, at these places."""
    biting = upper[:, 1] < upper[:, 1].mean()
    away2 = ((upper[:, None, ::2] - np.array(middles)[None, :, ::2]) ** 2).sum(axis=2).min(axis=1)
    upper[biting, 1] += _FOSSA_MM * np.exp(-0.5 * away2[biting] / _FOSSA_WIDTH_MM**2)


def _crowns_only(vertices: F64, faces: I32, teeth: I32, towards: float) -> tuple[I32, I32]:
    """Leave out the root side of every block, as a scanner does: ``towards`` is the sign of y where the teeth point."""
    height = towards * vertices[faces][:, :, 1].mean(axis=1)
    kept = height > np.median(height) - _BELOW_MM
    return faces[kept], teeth[kept]
