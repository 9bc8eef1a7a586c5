"""Where a lower buccal cusp tip stands across the inner incline of the upper buccal cusp: 0 over the groove, 1 under its tip.

Landmarks are found in each tooth's own axes: on a grid of heights smoothed at 0.3 mm, sections across the tooth give the groove
as the place that would hold the deepest water, and the crest outside of it gives the tips. Derivation: docs/theory/change.md.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from scipy.signal import find_peaks
from scipy.stats import theilslopes

from mountproof.occlusion.incline import ToothFrame
from mountproof.occlusion.raster import draw

F64 = NDArray[np.float64]
I32 = NDArray[np.int32]

_CELL_MM: Final = 0.1
#: Pits and pores narrower than this are no landmarks, mm (1 SD of the smoothing). A tip found so is placed on a finer one:
#: wide smoothing draws it from its steep side to its shallow one.
_SMOOTH_MM: Final = 0.3
_FINE_MM: Final = 0.12
#: Below this under its highest place a tooth has walls, no cusps, mm.
_WALL_MM: Final = 4.0
#: A groove holds at least so much water, and a tip stands at least so far over the crest beside it, mm.
_LEAST_DEPTH_MM: Final = 0.15
_LEAST_RISE_MM: Final = 0.15
#: A groove runs on from section to section, mm across at most, for so long, mm; what does not is a pit or a dimple of a ridge.
_STEP_MM: Final = 0.25
_LEAST_RUN_MM: Final = 1.0
#: Sections within this of the place that is asked, along the arch, tell its groove, mm; at least so many.
_NEAR_MM: Final = 1.0
_LEAST_SECTIONS: Final = 5
#: A groove asked farther than this from its nearest section is not told, mm; till there it may wander by so much a mm.
_FAR_MM: Final = 3.0
_WANDERS: Final = 0.25
#: An outer cusp stands at least so far outside the groove; a tip lies within so much of where the wide smoothing has it, mm.
_OUTSIDE_MM: Final = 0.8
_AROUND_MM: Final = 0.5
#: The top of a tip, and the bottom of a groove, is as wide as what lies within this of it, mm (about the noise of a scan).
_TOP_MM: Final = 0.02
#: No landmark is known better than this, mm: on made-up crowns tips and grooves lie within 0.2 mm of where they were built.
_LEAST_U_MM: Final = 0.1


class Place(NamedTuple):
    """A landmark (3,) mm with its standard uncertainty across the tooth, mm."""

    point_mm: F64
    u_mm: float


class Table(NamedTuple):
    """Biting surface of one tooth in its own axes: ``along_mm`` (r,) mesial, ``outward_mm`` (c,), ``height_mm`` (r, c) or NaN,
    ``fine_mm`` (r, c) the same, smoothed less.
    ``groove_mm`` (r,): outward place of the deepest water in each section, NaN where there is none; ``flat_mm`` (r,): how wide
    the bottom is there.
    """

    frame: ToothFrame
    along_mm: F64
    outward_mm: F64
    height_mm: F64
    fine_mm: F64
    groove_mm: F64
    flat_mm: F64


class Incline(NamedTuple):
    """An inner incline of the upper at one place along the arch: outward places (mm) of groove and tip, each with its u."""

    groove_mm: float
    groove_u_mm: float
    tip_mm: float
    tip_u_mm: float

    @property
    def width_mm(self) -> float:
        """From the groove to the tip, outward."""
        return self.tip_mm - self.groove_mm

    def part(self, outward_mm: float) -> float:
        """Return where an outward place stands: 0 over the groove, 1 under the tip."""
        return (outward_mm - self.groove_mm) / self.width_mm


def table_of(vertices_mm: F64, faces: I32, frame: ToothFrame) -> Table | None:
    """Return the biting surface of the tooth that these ``faces`` (m, 3) make; None where it is too small for one.

    ``vertices_mm`` (n, 3) mm in the frame of the upper jaw; ``frame`` the tooth's axes there.
    """
    if len(faces) < 12:
        return None
    used, own = np.unique(faces, return_inverse=True)
    points = vertices_mm[used]
    along, out, high = points @ frame.mesial, points @ frame.outward, points @ frame.occlusal
    box = (float(out.min()), float(out.max()), float(along.min()), float(along.max()))
    if min(box[1] - box[0], box[3] - box[2]) < 2.0:
        return None
    own_faces = np.ascontiguousarray(own.reshape(-1, 3), dtype=np.int32)
    seen = draw(out, along, high, own_faces, cell_mm=_CELL_MM, box_mm=box).height_mm
    seen = np.maximum(seen, np.nanmax(seen) - _WALL_MM)
    height, fine = _smoothed(seen, _SMOOTH_MM), _smoothed(seen, _FINE_MM)
    rows, columns = height.shape
    outward = np.asarray(box[0] + _CELL_MM * np.arange(columns), dtype=np.float64)
    mesial = np.asarray(box[2] + _CELL_MM * np.arange(rows), dtype=np.float64)
    groove, flat = _grooves(height, outward)
    return Table(frame, mesial, outward, height, fine, groove, flat)


def _smoothed(height: F64, by_mm: float) -> F64:
    """Smooth what is seen; a place of which less than half the surroundings are seen stays unknown."""
    seen = np.isfinite(height)
    weight = gaussian_filter(seen.astype(np.float64), by_mm / _CELL_MM, mode="constant")
    total = gaussian_filter(np.where(seen, height, 0.0), by_mm / _CELL_MM, mode="constant")
    out: F64 = np.where(weight >= 0.5, total / np.maximum(weight, 1e-9), np.nan)
    return out


def _grooves(height: F64, outward: F64) -> tuple[F64, F64]:
    """Return where water would stand deepest in each section, and how wide the bottom is there."""
    seen = np.isfinite(height)
    level = np.where(seen, height, -np.inf)
    left = np.maximum.accumulate(level, axis=1)
    right = np.maximum.accumulate(level[:, ::-1], axis=1)[:, ::-1]
    water = np.where(seen, np.minimum(left, right) - np.where(seen, height, 0.0), 0.0)
    at = np.argmax(water, axis=1)
    depth = water[np.arange(len(at)), at]
    # a hole inside a section may hide a deeper place
    inside = np.maximum.accumulate(seen, axis=1) & np.maximum.accumulate(seen[:, ::-1], axis=1)[:, ::-1]
    whole = ~(inside & ~seen).any(axis=1)
    told = whole & (depth >= _LEAST_DEPTH_MM)
    groove, flat = np.full(len(at), np.nan), np.zeros(len(at))
    for row in np.flatnonzero(told):
        bottom = outward[water[row] >= depth[row] - _TOP_MM]
        groove[row], flat[row] = float(bottom.mean()), float(np.ptp(bottom))
    return _runs(groove), flat


def _runs(groove: F64) -> F64:
    """Return the same places without those that do not run on long enough."""
    kept = groove.copy()
    breaks = np.flatnonzero(~(np.abs(np.diff(groove)) <= _STEP_MM)) + 1
    for rows in np.split(np.arange(len(groove)), breaks):
        if (len(rows) - 1) * _CELL_MM < _LEAST_RUN_MM:
            kept[rows] = np.nan
    return kept


def groove_at(table: Table, along_mm: float) -> tuple[float, float] | None:
    """Return the outward place of the groove (mm) and its u near one place along the arch; None where there is none."""
    rows = np.flatnonzero(np.isfinite(table.groove_mm))
    if len(rows) < _LEAST_SECTIONS:
        return None
    away = np.abs(table.along_mm[rows] - along_mm)
    beyond = float(away.min())
    if beyond > _FAR_MM:
        return None
    near = rows[away <= beyond + _NEAR_MM]
    if len(near) < _LEAST_SECTIONS:
        return None
    # a groove may run obliquely, and steps aside where a ridge crosses it: the median of all slopes between two sections
    x, y = table.along_mm[near] - along_mm, table.groove_mm[near]
    line = theilslopes(y, x)
    middle = float(line.intercept + line.slope * np.clip(0.0, x.min(), x.max()))
    # the median distance from the median of a normal spread is 0.6745 of its SD
    spread = 1.4826 * float(np.median(np.abs(y - line.intercept - line.slope * x)))
    flat = float(np.median(table.flat_mm[near])) / math.sqrt(12.0)
    return middle, math.hypot(max(spread, flat, _LEAST_U_MM), _WANDERS * beyond)


def outer_tips(table: Table) -> tuple[Place, ...]:
    """Return the tips of the outer cusps, from mesial to distal: tops of the crest outside the groove that stand out."""
    found = table.groove_mm[np.isfinite(table.groove_mm)]
    middle = 0.5 * float(table.outward_mm[0] + table.outward_mm[-1])
    outside = table.outward_mm >= (float(np.median(found)) + _OUTSIDE_MM if len(found) else middle)
    level = np.where(np.isfinite(table.height_mm) & outside, table.height_mm, -np.inf)
    column = np.argmax(level, axis=1)
    crest = level[np.arange(len(column)), column]
    rows = np.flatnonzero(np.isfinite(crest))
    if not len(rows):
        return ()
    first, last = rows[0], rows[-1]
    line = np.where(np.isfinite(crest), crest, crest[rows].min())[first : last + 1]
    padded = np.concatenate([[line.min() - 1.0], line, [line.min() - 1.0]])
    peaks, _ = find_peaks(padded, prominence=_LEAST_RISE_MM)
    tips = []
    for row in peaks - 1 + first:
        place = _tip(table, outside, int(row), int(column[row]))
        if place is not None:
            tips.append(place)
    return tuple(sorted(tips, key=lambda p: -float(p.point_mm @ table.frame.mesial)))


def _tip(table: Table, outside: NDArray[np.bool_], row: int, column: int) -> Place | None:
    """Return the middle of the top of a tip near a place; None where it lies at a border of what is seen."""
    by = round(_AROUND_MM / _CELL_MM)
    rows, columns = table.height_mm.shape
    if not (2 <= row < rows - 2 and 2 <= column < columns - 2) or column == int(np.argmax(outside)):
        return None
    if not np.isfinite(table.height_mm[row - 2 : row + 3, column - 2 : column + 3]).all():
        return None
    r0, c0 = max(row - by, 0), max(column - by, 0)
    part = table.fine_mm[r0 : row + by + 1, c0 : column + by + 1]
    around = np.where(np.isfinite(part) & outside[c0 : column + by + 1], part, -np.inf)
    high = float(around.max())
    r, c = np.nonzero(around >= high - _TOP_MM)
    if int(c.min()) + c0 == int(np.argmax(outside)):  # still rising towards the groove: a ridge, no cusp
        return None
    out, along = table.outward_mm[c0 + c], table.along_mm[r0 + r]
    frame = table.frame
    point = frame.mesial * float(along.mean()) + frame.outward * float(out.mean()) + frame.occlusal * high
    # as if the tip lay anywhere on its top alike (JCGM 100:2008, 4.3.7)
    return Place(point, max(float(np.ptp(out)) / math.sqrt(12.0), _LEAST_U_MM))


def incline_at(table: Table, tips: tuple[Place, ...], along_mm: float) -> Incline | None:
    """Return the inner incline at one place along the arch; None where groove or tip cannot be found.

    Between two tips the outer end lies on the line that joins them, beyond the last at that tip.
    """
    groove = groove_at(table, along_mm)
    if groove is None or not tips:
        return None
    ordered = sorted(tips, key=lambda p: float(p.point_mm @ table.frame.mesial))
    along = [float(p.point_mm @ table.frame.mesial) for p in ordered]
    out = [float(p.point_mm @ table.frame.outward) for p in ordered]
    tip = float(np.interp(along_mm, along, out))
    u = float(np.interp(along_mm, along, [p.u_mm for p in ordered]))
    if tip - groove[0] < 3.0 * math.hypot(u, groove[1]):
        return None
    return Incline(*groove, tip, u)
