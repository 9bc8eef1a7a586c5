"""Both arches as coloured surfaces, in the frame, the lower where the record holds it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from mountproof.case.scans import write_ply
from mountproof.surfaces.palette import BANDS, CITATION, TOOTH, band_words

if TYPE_CHECKING:
    from mountproof.geometry.surface import Surface


def vertex_colours(
    gap_mm: NDArray[np.float64], r_mm: NDArray[np.float64], closed_rad: float, edges_mm: Sequence[float]
) -> NDArray[np.uint8]:
    """Return (n, 3) colours of vertices, each that of the band of its gap.

    ``gap_mm`` (n,) gap along closure at the pose of the record, NaN where nothing opposes; ``r_mm`` (n,) distance
    from the hinge axis; ``closed_rad`` how far closed from that pose; ``edges_mm`` upper limits of the bands. A
    vertex without an opponent, or farther than the last band, has the colour of a tooth.
    """
    left_mm = gap_mm - closed_rad * r_mm
    ranks = np.searchsorted(np.asarray(edges_mm, dtype=np.float64), left_mm, side="left")
    table = np.array([*(band.rgb for band in BANDS[: len(edges_mm)]), TOOTH], dtype=np.uint8)
    ranks[~np.isfinite(left_mm)] = len(edges_mm)
    return table[np.minimum(ranks, len(edges_mm))]


def write_coloured(
    path: Path,
    surface: Surface,
    gap_mm: NDArray[np.float64],
    closed_rad: float,
    edges_mm: Sequence[float],
    *,
    code: str,
    version: str,
) -> None:
    """Write one arch as a binary PLY with a colour a vertex; units, frame, pose and palette in comment lines.

    ``gap_mm`` (n,) as in ``vertex_colours``.
    """
    place = "fixed" if surface.arch == "upper" else "in the pose of the record"
    comments = [
        f"made by mountproof {version}, case {code}",
        "unit mm",
        "frame: origin midway between the hinge points, x ahead, y above, z to the patient's right",
        f"{surface.arch} arch, {place}",
        "colours: gap along closure left at first contact",
        *(
            f"colour {' '.join(map(str, BANDS[rank].rgb))}: {words.long}"
            for rank, words in enumerate(band_words(edges_mm))
        ),
        f"colour {' '.join(map(str, TOOTH))}: no gap shown (wider, or nothing opposes)",
        f"palette: {CITATION}",
    ]
    ascii_comments = [text.replace("µm", "um") for text in comments]
    write_ply(
        path,
        surface.vertices_mm,
        surface.faces,
        vertex_colours(gap_mm, np.sqrt(surface.polar[:, 0]), closed_rad, edges_mm),
        comments=ascii_comments,
    )
