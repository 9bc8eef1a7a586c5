"""Contact sites and closing map as CSV and JSON: units, frame and pose stand in the file itself."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from mountproof.geometry.closing import ClosingMap
    from mountproof.occlusion.site_table import Pair, Site, Sited, SiteTable

#: The frame of every coordinate, in words that stand in each file.
FRAME = {
    "origin": "midway between the two hinge points of the instrument",
    "x": "ahead (anterior)",
    "y": "above (superior)",
    "z": "to the patient's right",
    "fixed": "the upper jaw; the lower moves",
    "handedness": "right-handed",
    "length": "mm",
    "angle": "rad",
    "teeth": "ISO 3950",
}
#: Decimals of a length (mm) and of an angle (rad) in CSV: a nanometre, and a nanometre at 100 mm.
_MM, _RAD = 6, 8
_POINTS = ("x ahead (mm)", "y above (mm)", "z right (mm)")


def pairs_csv(table: SiteTable, *, decimal_comma: bool = False) -> bytes:
    """Return the exact first contact of every tooth pair, earliest first, one row a pair.

    Units stand in the header. With ``decimal_comma`` numbers have a comma and fields are separated by semicolons.
    """
    header = (
        "upper tooth (ISO 3950)",
        "lower tooth (ISO 3950)",
        "closing to contact (rad)",
        "gap left along closure (mm)",
        "gap left along normal (mm)",
        *(f"upper {name}" for name in _POINTS),
        *(f"lower {name}" for name in _POINTS),
        "upper facing",
        "lower facing",
        "away from scan borders",
    )
    rows = [
        (
            p.upper_tooth,
            p.lower_tooth,
            _real(p.closing_rad, _RAD),
            _real(p.remaining_along_closure_mm, _MM),
            _real(p.remaining_along_normal_mm, _MM),
            *(_real(c, _MM) for c in p.upper_point_mm),
            *(_real(c, _MM) for c in p.lower_point_mm),
            p.upper_facing,
            p.lower_facing,
            "yes" if p.known else "no",
        )
        for p in table.pairs
    ]
    return _csv(header, rows, decimal_comma)


def sites_csv(table: SiteTable, *, decimal_comma: bool = False) -> bytes:
    """Return every contact site under every thickness of foil, one row a site; units in the header."""
    header = (
        "foil (µm)",
        "site",
        "upper tooth (ISO 3950)",
        "lower tooth (ISO 3950)",
        "smallest gap along closure (mm)",
        "smallest gap along normal (mm)",
        "area along closure (mm2)",
        *(f"upper {name}" for name in _POINTS),
        *(f"lower {name}" for name in _POINTS),
        "upper facing",
        "lower facing",
        "runs into a hole",
    )
    rows = [
        (
            f"{s.foil_um:g}",
            s.number,
            s.upper_tooth,
            s.lower_tooth,
            _real(s.gap_along_closure_mm, _MM),
            _real(s.gap_along_normal_mm, _MM),
            _real(s.area_mm2, 4),
            *(_real(c, _MM) for c in s.upper_point_mm),
            *(_real(c, _MM) for c in s.lower_point_mm),
            s.upper_facing,
            s.lower_facing,
            "yes" if s.open_edge else "no",
        )
        for s in table.sites
    ]
    return _csv(header, rows, decimal_comma)


def map_csv(sited: Sited, closed_rad: float, *, decimal_comma: bool = False) -> bytes:
    """Return the closing map, one row for each cell with a gap or a hole; units in the header.

    ``closed_rad`` how far the lower is closed from the pose of the record (first contact is what a sheet shows).
    A gap that a hole leaves unknown is empty.
    """
    chart = sited.closing
    gap = chart.gap_mm(closed_rad)
    rows_of, columns_of = np.nonzero(np.isfinite(gap) | chart.unknown)
    header = (
        "r from hinge axis (mm)",
        "z right (mm)",
        "gap along closure (mm)",
        "closing to contact from the record (rad)",
        "unknown (a hole of a scan)",
        "upper tooth (ISO 3950)",
        "lower tooth (ISO 3950)",
    )
    r, z = chart.r_mm, chart.z_mm
    rows = (
        (
            _real(r[i], _MM),
            _real(z[j], _MM),
            _real(gap[i, j], _MM),
            _real(chart.gap_rad[i, j], _RAD),
            "yes" if chart.unknown[i, j] else "no",
            int(sited.upper_tooth[i, j]) or "",
            int(sited.lower_tooth[i, j]) or "",
        )
        for i, j in zip(rows_of.tolist(), columns_of.tolist(), strict=True)
    )
    return _csv(header, rows, decimal_comma)


def contacts_json(
    table: SiteTable,
    closing: ClosingMap,
    upper_from_lower: NDArray[np.float64],
    *,
    code: str,
    digest: str,
    version: str,
) -> bytes:
    """Return tooth pairs and sites with frame, units and pose, at full precision: read back, nothing is lost."""
    content = {
        "format": 1,
        "made by": f"mountproof {version}",
        "case": code,
        "digest": digest,
        "frame": FRAME,
        "upper_from_lower": [[float(c) for c in row] for row in upper_from_lower],
        "pose": "upper_from_lower turns points of the lower, as scanned, to where the record holds them; points of "
        "this file are in the frame, the lower's in the pose of the record",
        "closed_rad": table.closed_rad,
        "closing": "gaps are those left after closing by closed_rad from the pose of the record, about the z axis",
        "cell_mm": closing.cell_mm,
        "foils_um": list(table.foils_um),
        "pairs": [_record(pair) for pair in table.pairs],
        "sites": [_record(site) for site in table.sites],
        "unknown_mm2": _finite(table.unknown_mm2),
    }
    return (json.dumps(content, ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()


def _record(item: Pair | Site) -> dict[str, Any]:
    return {name: _json_value(value) for name, value in item._asdict().items()}


def _json_value(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return [_finite(float(v)) for v in value]
    if isinstance(value, bool | str | int):
        return value
    return _finite(float(value))


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _real(value: float, decimals: int) -> str:
    return f"{value:.{decimals}f}" if math.isfinite(value) else ""


def _csv(header: Sequence[str], rows: Iterable[Sequence[Any]], decimal_comma: bool) -> bytes:
    """Fields are our own words and numbers: none holds a separator, a quote or a line break."""
    separator = ";" if decimal_comma else ","
    lines = [separator.join(header)]
    for row in rows:
        cells = (str(cell) for cell in row)
        lines.append(
            separator.join(c.replace(".", ",") for c in cells) if decimal_comma else separator.join(cells)
        )
    return ("\r\n".join(lines) + "\r\n").encode()
