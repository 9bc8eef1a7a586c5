"""From the two small rasters of an occlusal view to the pixels that are printed: shade, band, pattern."""

from __future__ import annotations

import base64
import struct
import zlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from mountproof.surfaces.palette import HOLE, PAPER, TOOTH, Band, pattern_mask

#: Pixels per mm on paper: about 300 to the inch, so that the finest line of a pattern is one pixel and more.
PIXELS_PER_MM = 12.0
#: What a raster of bands holds where no band is shown, and a raster of shade where there is no surface.
NO_BAND = 255
NO_SURFACE = 0
#: How dark the deepest shade makes a tooth and a band; a band keeps its lightness so that bands stay apart.
_DEEPEST_TOOTH = 0.50
_DEEPEST_BAND = 0.88
#: Steps of shade that are kept: finer ones only make the file larger.
_SHADE_STEP = 6


def paint(
    shade: NDArray[np.uint8],
    band: NDArray[np.uint8],
    bands: Sequence[Band],
    width_mm: float,
    *,
    unknown: NDArray[np.bool_] | None = None,
) -> NDArray[np.uint8]:
    """Return the printed pixels of a view, shape (rows, columns, 3).

    ``shade`` (h, w): 0 where there is no surface, else how bright the surface is; ``band`` (h, w): rank of the
    band, 255 for none; ``bands``: colours and patterns by rank; ``width_mm``: width on paper; ``unknown`` (h, w):
    where a hole of a scan leaves the gap open.
    """
    high, wide = shade.shape
    columns = max(1, round(width_mm * PIXELS_PER_MM))
    rows = max(1, round(columns * high / wide))
    from_row = np.minimum((np.arange(rows) * high) // rows, high - 1)
    from_column = np.minimum((np.arange(columns) * wide) // columns, wide - 1)
    light = shade[np.ix_(from_row, from_column)]
    rank = band[np.ix_(from_row, from_column)]
    level = (light // _SHADE_STEP * _SHADE_STEP).astype(np.float64) / 255.0
    out = np.full((rows, columns, 3), PAPER, dtype=np.float64)
    surface = light != NO_SURFACE
    tooth = _DEEPEST_TOOTH + (1.0 - _DEEPEST_TOOTH) * level
    out[surface] = np.asarray(TOOTH, dtype=np.float64) * tooth[surface, None]
    x_mm = np.arange(columns)[None, :] / PIXELS_PER_MM
    y_mm = np.arange(rows)[:, None] / PIXELS_PER_MM
    dim = _DEEPEST_BAND + (1.0 - _DEEPEST_BAND) * level
    for index, one in enumerate(bands):
        here = rank == index
        out[here] = np.asarray(one.rgb, dtype=np.float64) * dim[here, None]
        out[here & pattern_mask(one, x_mm, y_mm)] = one.ink
    if unknown is not None:
        here = unknown[np.ix_(from_row, from_column)] & surface
        out[here] = HOLE.rgb
        out[here & pattern_mask(HOLE, x_mm, y_mm)] = HOLE.ink
    return np.clip(np.rint(out), 0, 255).astype(np.uint8)


def swatch(band: Band, width_mm: float, height_mm: float) -> NDArray[np.uint8]:
    """Return the pixels of a flat piece of one band, as it looks on the picture."""
    wide = round(width_mm * PIXELS_PER_MM)
    high = round(height_mm * PIXELS_PER_MM)
    flat = np.full((high, wide), 255, dtype=np.uint8)
    return paint(flat, np.zeros((high, wide), dtype=np.uint8), (band,), width_mm)


def as_png(pixels: NDArray[np.uint8]) -> bytes:
    """Return pixels (rows, columns, 3) as a PNG, unchanged."""
    rows, columns, _ = pixels.shape
    body = np.zeros((rows, 1 + 3 * columns), dtype=np.uint8)
    body[:, 1:] = pixels.reshape(rows, 3 * columns)
    header = struct.pack(">IIBBBBB", columns, rows, 8, 2, 0, 0, 0)
    chunks = ((b"IHDR", header), (b"IDAT", zlib.compress(body.tobytes(), 6)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in chunks
    )


def as_svg(pixels: NDArray[np.uint8]) -> bytes:
    """Return pixels (rows, columns, 3) as an SVG that holds them as a PNG, unchanged: text, as the typesetter wants."""
    rows, columns, _ = pixels.shape
    link = base64.b64encode(as_png(pixels)).decode("ascii")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{columns}" height="{rows}">'
        f'<image width="{columns}" height="{rows}" style="image-rendering:optimizeSpeed" '
        f'href="data:image/png;base64,{link}"/></svg>'
    ).encode("ascii")
