"""Find the crowns on a cast that is one continuous surface.

The arch is unrolled along its line into a height image; crowns meet where a cut across the arch crosses little
of the image. Dynamic programming lays out exactly the teeth that are present, by the depth of those cuts and
by usual widths scaled together to the arch; then each cut becomes the deepest path across near it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.occlusion.archline import ArchLine, fit_archline
from mountproof.occlusion.raster import Raster, draw
from mountproof.said import say

F64 = NDArray[np.float64]
I32 = NDArray[np.int32]

CELL_MM = 0.25
#: How far to either side of the line the arch is unrolled.
HALF_WIDTH_MM = 9.0
#: Heights this far below the local tops no longer count as crown when the cuts are looked for.
_CUT_DEPTH_MM = 4.0
#: Weight of a cut through a full crown against one through nothing, in nats (tuned on real crowns, see tests).
_CUT_NATS = 16.0
_WIDTH_SPREAD = 0.14
_SCALES = np.linspace(0.78, 1.34, 29)
_SCALE_SPREAD = 0.10
_MIDLINE_MM = 2.0
_SLOPES = np.linspace(-0.75, 0.75, 11)
_SLOPE_SPREAD = 0.40
_SEAM_MM = 2.25
#: Keeps the plane defined where all points stand in one line, and is lost elsewhere.
_RIDGE = 2.0**-40
#: No arch, base and all, is longer than this in plan.
_LONGEST_MM = 250.0
#: The gingival margin lies about so far below the local tops (common practice, no source).
_MARGIN_DEPTH_MM = 7.5
_MARGIN_SPREAD_MM = 2.0


class Unrolled(NamedTuple):
    """The arch as an image: ``height_mm`` (k, w) below (negative) the occlusal table, along and across the line.

    ``d_mm`` (w,) the offsets of the columns; ``top_mm`` (k,) the smoothed local top.
    """

    line: ArchLine
    d_mm: F64
    height_mm: F64
    top_mm: F64
    table: F64


class Layout(NamedTuple):
    """Where the teeth lie: ``cut_mm`` (n + 1 boundaries per segment, w) arc length of each cut at each offset.

    ``segment`` tooth numbers in order, 0 for a gap; ``sure`` (n,) probability that both cuts are within 1 mm;
    ``scale`` widths against the usual ones; ``inner_mm``, ``outer_mm`` (k,) offsets of the gingival margin on the
    tongue's and the cheek's side at each sample of the line, ``floor_mm`` (k,) the lower height of both.
    """

    segment: tuple[int, ...]
    cut_mm: F64
    sure: F64
    scale: float
    inner_mm: F64
    outer_mm: F64
    floor_mm: F64


def table_plane(x_mm: F64, z_mm: F64, height_mm: F64) -> F64:
    """Return (a, b, c) of the plane ``a + b x + c z`` that rests on the tops of the points.

    Inputs (n,) mm. Asymmetric least squares (a 0.97 expectile), so that the tops carry it and not the base.
    """
    mx, mz = float(x_mm.mean()), float(z_mm.mean())
    basis = np.stack([np.ones_like(x_mm), x_mm - mx, z_mm - mz], axis=1)
    ridge = _RIDGE * len(x_mm) * np.eye(3)
    weight: F64 = np.ones_like(x_mm)
    fit: F64 = np.zeros(3)
    for _ in range(12):
        weighted = basis * weight[:, None]
        fit = np.asarray(
            np.linalg.solve(basis.T @ weighted + ridge, weighted.T @ height_mm), dtype=np.float64
        )
        weight = np.where(height_mm > basis @ fit, 0.97, 0.03)
    return np.array([fit[0] - fit[1] * mx - fit[2] * mz, fit[1], fit[2]])


def unroll(raster: Raster) -> Unrolled:
    """Unroll an arch from its height raster (u is x, v is z, height towards the opposing teeth).

    ValueError where the raster shows fewer than 30 cells of surface.
    """
    rows, columns = raster.height_mm.shape
    x = raster.u0_mm + raster.cell_mm * np.arange(columns)
    z = raster.v0_mm + raster.cell_mm * np.arange(rows)
    step = max(1, round(1.0 / raster.cell_mm))
    coarse = raster.height_mm[::step, ::step]
    seen = np.isfinite(coarse)
    if np.count_nonzero(seen) < 30:
        raise ValueError(say("the surface is too small to be an arch"))
    cx = np.broadcast_to(x[::step], coarse.shape)[seen]
    cz = np.broadcast_to(z[::step, None], coarse.shape)[seen]
    table = table_plane(cx, cz, coarse[seen])
    below = coarse[seen] - (table[0] + table[1] * cx + table[2] * cz)
    table[0] += float(np.quantile(below, 0.995))
    below = below - float(np.quantile(below, 0.995))
    line = fit_archline(cx, cz, np.clip((below + 5.0) / 3.0, 0.0, 1.0))
    d = np.arange(-HALF_WIDTH_MM, HALF_WIDTH_MM + 0.5 * CELL_MM, CELL_MM)
    height = _sampled_height(raster, line, d, table)
    top = height.max(axis=1)
    width = round(5.0 / CELL_MM)
    padded = np.pad(top, width, mode="edge")
    envelope = np.max(np.lib.stride_tricks.sliding_window_view(padded, 2 * width + 1), axis=1)
    kernel = np.hanning(2 * width + 3)[1:-1]
    smooth = np.convolve(np.pad(envelope, width, mode="edge"), kernel / kernel.sum(), mode="valid")
    return Unrolled(line, d, height, np.maximum(smooth, top.max() - 6.0), table)


def _sampled_height(raster: Raster, line: ArchLine, d: F64, table: F64) -> F64:
    x = line.x_mm[:, None] + d * line.nx[:, None]
    z = line.z_mm[:, None] + d * line.nz[:, None]
    column = np.rint((x - raster.u0_mm) / raster.cell_mm).astype(np.int64)
    row = np.rint((z - raster.v0_mm) / raster.cell_mm).astype(np.int64)
    rows, columns = raster.height_mm.shape
    inside = (column >= 0) & (column < columns) & (row >= 0) & (row < rows)
    height = np.full(x.shape, -20.0)
    found = raster.height_mm[row[inside], column[inside]]
    plane = table[0] + table[1] * x[inside] + table[2] * z[inside]
    height[inside] = np.where(np.isfinite(found), found - plane, -20.0)
    floored: F64 = np.maximum(height, -20.0)
    return floored


def _cut_scores(u: Unrolled) -> tuple[F64, NDArray[np.int64], F64]:
    """Return for each sample the log-likelihood of a cut there, its best slope, and how much crown stands there."""
    k = len(u.line.s_mm)
    image = np.clip(u.height_mm - u.top_mm[:, None] + _CUT_DEPTH_MM, 0.0, _CUT_DEPTH_MM) / _CUT_DEPTH_MM
    mass = np.zeros((len(_SLOPES), k))
    for i, slope in enumerate(_SLOPES):
        shift = np.rint(slope * u.d_mm / CELL_MM).astype(np.int64)
        for column, by in enumerate(shift):
            source = np.clip(np.arange(k) + by, 0, k - 1)
            mass[i] += image[source, column]
    mass *= CELL_MM
    straight = mass[len(_SLOPES) // 2]
    reach = round(5.0 / CELL_MM)
    around = np.lib.stride_tricks.sliding_window_view(
        np.pad(straight, reach, mode="edge"), 2 * reach + 1
    ).max(axis=1)
    scored = (
        -_CUT_NATS * np.minimum(mass / np.maximum(around, 1.5), 1.2)
        - 0.5 * (_SLOPES[:, None] / _SLOPE_SPREAD) ** 2
    )
    best = np.argmax(scored, axis=0)
    top = u.height_mm.max(axis=1)
    crown = np.clip((top - np.quantile(top[u.line.first : u.line.last], 0.8) + 5.5) / 2.0, 0.0, 1.0)
    return scored[best, np.arange(k)], best, crown


@njit(cache=True, nogil=True)
def _segment_score(is_gap, w, target, spread, crown_mean, w_mm):  # type: ignore[no-untyped-def]
    if is_gap:
        over = max(0.0, (w_mm - target) / (0.25 * target + 1.0))
        closed = max(0.0, 1.0 - w_mm / target)
        return -0.5 * over * over - 0.7 * closed - 2.0 * crown_mean * w_mm
    miss = (w_mm - target) / (spread * target)
    return -0.5 * miss * miss - 8.0 * (1.0 - crown_mean)


@njit(cache=True, nogil=True)
def _viterbi(cut, crown_sum, prior, gap, target, spread, step, value, back):  # type: ignore[no-untyped-def]
    """Fill ``value`` (segments + 1, k) with the best score of a layout up to each cut, ``back`` with its source."""
    n, k = gap.shape[0], cut.shape[0]
    total = crown_sum[k]
    for j in range(k):
        value[0, j] = cut[j] + prior[0, j] - crown_sum[j] * step
    for i in range(n):
        low = 0 if gap[i] else max(1, int(0.5 * target[i] / step))
        high = int((1.6 * target[i] + (4.0 if gap[i] else 0.0)) / step)
        for j in range(k):
            best = -np.inf
            source = -1
            for w in range(low, min(high, j) + 1):
                p = j - w
                mean = (crown_sum[j] - crown_sum[p]) / w if w > 0 else 0.0
                s = value[i, p] + _segment_score(gap[i], w, target[i], spread, mean, w * step)
                if s > best:
                    best = s
                    source = p
            value[i + 1, j] = best + cut[j] + prior[i + 1, j]
            back[i + 1, j] = source
    for j in range(k):
        value[n, j] -= (total - crown_sum[j]) * step


@njit(cache=True, nogil=True)
def _log_sums(cut, crown_sum, prior, gap, target, spread, step, forward, backward):  # type: ignore[no-untyped-def]
    """Fill forward and backward log sums over all layouts; their sum is the log weight of each cut."""
    n, k = gap.shape[0], cut.shape[0]
    total = crown_sum[k]
    for j in range(k):
        forward[0, j] = cut[j] + prior[0, j] - crown_sum[j] * step
        backward[n, j] = -(total - crown_sum[j]) * step
    for turn in range(2):
        for m in range(n):
            i = m if turn == 0 else n - 1 - m
            low = 0 if gap[i] else max(1, int(0.5 * target[i] / step))
            high = int((1.6 * target[i] + (4.0 if gap[i] else 0.0)) / step)
            for j in range(k):
                room = j if turn == 0 else k - 1 - j
                top = -np.inf
                for again in range(2):
                    acc = 0.0
                    for w in range(low, min(high, room) + 1):
                        p = j - w if turn == 0 else j + w
                        a, b = (p, j) if turn == 0 else (j, p)
                        mean = (crown_sum[b] - crown_sum[a]) / w if w > 0 else 0.0
                        s = _segment_score(gap[i], w, target[i], spread, mean, w * step)
                        s += forward[i, p] if turn == 0 else backward[i + 1, p] + cut[p] + prior[i + 1, p]
                        if again == 0:
                            top = max(top, s)
                        elif s > -np.inf:
                            acc += np.exp(s - top)
                    if again == 1:
                        s = top + np.log(acc) if acc > 0.0 else -np.inf
                        if turn == 0:
                            forward[i + 1, j] = s + cut[j] + prior[i + 1, j]
                        else:
                            backward[i, j] = s


@njit(cache=True, nogil=True)
def _seam(cost, start, reach, pull):  # type: ignore[no-untyped-def]
    """Cheapest path through the columns of ``cost`` (k, w) that stays within ``reach`` of ``start`` (w,)."""
    k, w = cost.shape
    size = 2 * reach + 1
    best = np.full((w, size), np.inf)
    source = np.zeros((w, size), dtype=np.int32)
    for c in range(w):
        for o in range(size):
            at = start[c] + o - reach
            if at < 0 or at >= k:
                continue
            here = cost[at, c] + pull * abs(o - reach)
            if c == 0:
                best[c, o] = here
                continue
            low = np.inf
            for move in range(-2, 3):
                p = at + move - start[c - 1] + reach
                if 0 <= p < size and best[c - 1, p] + 0.02 * abs(move) < low:
                    low = best[c - 1, p] + 0.02 * abs(move)
                    source[c, o] = p
            best[c, o] = low + here
    path = np.zeros(w, dtype=np.int64)
    o = int(np.argmin(best[w - 1]))
    for c in range(w - 1, -1, -1):
        path[c] = start[c] + o - reach
        o = source[c, o]
    return path


def lay_out(
    u: Unrolled, row: tuple[int, ...], width_mm: dict[int, float], right_teeth: frozenset[int]
) -> Layout:
    """Lay the present teeth out along an unrolled arch.

    ``row`` the segments from the patient's right to the left: tooth numbers, and 0 for each run of missing teeth
    between present ones, whose usual width is ``width_mm[-i]`` for segment i; ``width_mm`` usual mesiodistal
    widths; ``right_teeth`` those of the patient's right. ValueError for an empty row.
    """
    if not row:
        raise ValueError(say("no teeth to lay out"))
    cut, slope, crown = _cut_scores(u)
    crown_sum = np.concatenate([[0.0], np.cumsum(crown)])
    gap = np.array([t == 0 for t in row])
    usual = np.array([width_mm[t] if t else width_mm[-i] for i, t in enumerate(row)])
    prior = np.zeros((len(row) + 1, len(cut)))
    for i in range(len(row) + 1):
        # A cut right of the midline ends the right teeth; the cut between both sides lies on it.
        if i < len(row) and row[i] and row[i] not in right_teeth:
            prior[i] -= 0.5 * (np.minimum(u.line.s_mm, 0.0) / _MIDLINE_MM) ** 2
        if i > 0 and row[i - 1] in right_teeth:
            prior[i] -= 0.5 * (np.maximum(u.line.s_mm, 0.0) / _MIDLINE_MM) ** 2
    n, k = len(row), len(cut)
    value, back = np.zeros((n + 1, k)), np.zeros((n + 1, k), dtype=np.int32)
    best_score, best_scale = -np.inf, 1.0
    cuts = np.zeros(n + 1, dtype=np.int64)
    for scale in _SCALES:
        _viterbi(cut, crown_sum, prior, gap, usual * scale, _WIDTH_SPREAD, CELL_MM, value, back)
        score = float(value[n].max()) - 0.5 * ((scale - 1.0) / _SCALE_SPREAD) ** 2 - n * float(np.log(scale))
        if score > best_score:
            best_score, best_scale = score, float(scale)
            cuts[n] = int(np.argmax(value[n]))
            for i in range(n, 0, -1):
                cuts[i - 1] = back[i, cuts[i]]
    if not np.isfinite(best_score):
        raise ValueError(say("the arch is too short for the teeth said to be present"))
    forward, backward = np.zeros((n + 1, k)), np.zeros((n + 1, k))
    _log_sums(cut, crown_sum, prior, gap, usual * best_scale, _WIDTH_SPREAD, CELL_MM, forward, backward)
    log_weight = forward + backward
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    near = np.abs(np.arange(k)[None, :] - cuts[:, None]) * CELL_MM <= 1.0
    at_cut = (weight * near).sum(axis=1) / weight.sum(axis=1)
    inner, outer = _margin(u, -1), _margin(u, 1)
    heights = u.height_mm[np.arange(k), inner], u.height_mm[np.arange(k), outer]
    return Layout(
        row,
        _refined(u, cuts, slope),
        np.minimum(at_cut[:-1], at_cut[1:]),
        best_scale,
        u.d_mm[inner],
        u.d_mm[outer],
        np.minimum(*heights),
    )


@njit(cache=True, nogil=True)
def _cheapest_along(cost, bend):  # type: ignore[no-untyped-def]
    """Cheapest path along the rows of ``cost`` (k, w), changing column by at most four, ``bend`` a column."""
    k, w = cost.shape
    best = cost.copy()
    source = np.zeros((k, w), dtype=np.int32)
    for i in range(1, k):
        for c in range(w):
            low = np.inf
            for p in range(max(0, c - 4), min(w, c + 5)):
                there = best[i - 1, p] + bend * abs(c - p)
                if there < low:
                    low = there
                    source[i, c] = p
            best[i, c] = low + cost[i, c]
    path = np.zeros(k, dtype=np.int64)
    path[k - 1] = np.argmin(best[k - 1])
    for i in range(k - 1, 0, -1):
        path[i - 1] = source[i, path[i]]
    return path


def _margin(u: Unrolled, side: int) -> NDArray[np.int64]:
    """Return the column of the gingival margin on one side (-1 tongue, +1 cheek): the crease below the crown."""
    height = np.maximum(u.height_mm, -14.0)
    reach = round(0.75 / CELL_MM)
    crease = np.zeros_like(height)
    crease[:, reach:-reach] = height[:, 2 * reach :] + height[:, : -2 * reach] - 2.0 * height[:, reach:-reach]
    down = u.top_mm[:, None] - height
    ridge = np.argmax(height, axis=1)
    beyond = (np.arange(height.shape[1])[None, :] - ridge[:, None]) * side
    outwards = height[:, ::-1] if side > 0 else height
    rise = np.maximum.accumulate(outwards, axis=1)
    rise = (rise[:, ::-1] if side > 0 else rise) - height  # what still comes up farther out: a cusp, not gum
    allowed = (beyond >= round(1.0 / CELL_MM)) & (down > 2.5) & (down < 11.0) & (rise < 1.5)
    depth = (down - _MARGIN_DEPTH_MM) / _MARGIN_SPREAD_MM
    cost = np.where(allowed, 0.5 * depth * depth - np.clip(crease, 0.0, 3.0), 8.0) + 0.02 * np.abs(beyond)
    path: NDArray[np.int64] = _cheapest_along(cost, 0.25)
    return path


def _refined(u: Unrolled, cuts: NDArray[np.int64], slope: NDArray[np.int64]) -> F64:
    """Bend each straight cut into the deepest path across the arch near it; keep them in order."""
    k = len(u.line.s_mm)
    cost = np.clip(u.height_mm - u.top_mm[:, None] + 6.0, 0.0, None)
    reach = round(_SEAM_MM / CELL_MM)
    paths = np.zeros((len(cuts), len(u.d_mm)))
    for i, j in enumerate(cuts):
        start = np.clip(j + np.rint(_SLOPES[slope[j]] * u.d_mm / CELL_MM).astype(np.int64), 0, k - 1)
        seam = _seam(cost, start, reach, 0.08)
        paths[i] = u.line.s_mm[np.clip(seam, 0, k - 1)]
    return np.maximum.accumulate(paths, axis=0)


def raster_of(vertices_mm: F64, faces: I32, towards: float) -> Raster:
    """Return the height raster an arch is unrolled from; ``towards`` is +1 for a lower, -1 for an upper arch.

    ``vertices_mm`` (n, 3), ``faces`` (m, 3). ValueError for a surface too long to be an arch.
    """
    x, z = np.ascontiguousarray(vertices_mm[:, 0]), np.ascontiguousarray(vertices_mm[:, 2])
    box = (float(x.min()), float(x.max()), float(z.min()), float(z.max()))
    if max(box[1] - box[0], box[3] - box[2]) > _LONGEST_MM:
        raise ValueError(say("the surface is longer than {most:g} mm", most=_LONGEST_MM))
    return draw(x, z, np.ascontiguousarray(towards * vertices_mm[:, 1]), faces, cell_mm=CELL_MM, box_mm=box)
