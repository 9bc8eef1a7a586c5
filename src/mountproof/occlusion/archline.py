"""The smooth line of a dental arch in plan, and coordinates along and across it.

Plan means the (x, z) plane of the program's frame: x anterior, z to the patient's right. Along the line the
arc length ``s`` runs from the patient's right to the left and is zero at the midline; across it the offset ``d``
is positive outwards (towards lips and cheeks).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from mountproof.said import say

F64 = NDArray[np.float64]

_STEP_MM = 0.25
_EXTEND_MM = 12.0
#: An arch that spans less than this in z shows one side or the front only; the frame's midplane is its middle then.
_SPAN_MM = 28.0
_HUBER_MM = 1.5
#: Keeps the normal equations solvable where the points say nothing, and is lost where they do.
_RIDGE = 2.0**-20


class ArchLine(NamedTuple):
    """A polyline with even steps: ``x_mm``, ``z_mm``, ``s_mm`` (k,), outward unit normal ``nx``, ``nz`` (k,).

    ``first`` and ``last`` are the samples between which there were crowns; the rest is straight extension.
    """

    x_mm: F64
    z_mm: F64
    s_mm: F64
    nx: F64
    nz: F64
    first: int
    last: int


def _weighted_quantile(values: F64, weights: F64, q: float) -> float:
    order = np.argsort(values, kind="stable")
    total = np.cumsum(weights[order])
    return float(values[order[min(int(np.searchsorted(total, q * total[-1])), len(order) - 1)]])


def fit_archline(x_mm: F64, z_mm: F64, weights: F64) -> ArchLine:
    """Fit the line to points in plan.

    ``x_mm``, ``z_mm`` (n,) mm, ``weights`` (n,) >= 0: points of crowns, evenly dense (cells, or faces by area).
    The distance from a centre inside the arch is fitted as a polynomial of the angle (degree by the angle
    covered, Huber weights); beyond the last points the line goes straight on. ValueError for fewer than three.
    """
    keep = weights > 0
    x, z, w = x_mm[keep], z_mm[keep], weights[keep]
    if x.size < 3:
        raise ValueError(say("an arch line needs at least three points"))
    z_low, z_high = _weighted_quantile(z, w, 0.01), _weighted_quantile(z, w, 0.99)
    zc = 0.5 * (z_low + z_high) if z_high - z_low > _SPAN_MM else 0.0
    x_front = _weighted_quantile(x, w, 0.99)
    xc = min(_weighted_quantile(x, w, 0.20), x_front - 25.0)
    theta = np.arctan2(zc - z, x - xc)
    rho = np.hypot(z - zc, x - xc)
    low, high = _weighted_quantile(theta, w, 0.003), _weighted_quantile(theta, w, 0.997)
    degree = int(np.clip((high - low) / 0.45, 1, 6))
    middle, half = 0.5 * (low + high), max(0.5 * (high - low), 0.05)
    basis = np.polynomial.chebyshev.chebvander((theta - middle) / half, degree)
    ridge = _RIDGE * w.sum() * np.eye(degree + 1)
    robust = w.copy()
    coefficients = np.zeros(degree + 1)
    for _ in range(6):
        weighted = basis * robust[:, None]
        coefficients = np.linalg.solve(basis.T @ weighted + ridge, weighted.T @ rho)
        miss = np.abs(basis @ coefficients - rho)
        robust = w * np.minimum(1.0, _HUBER_MM / np.maximum(miss, _HUBER_MM))
    t = np.linspace(low, high, 400)
    r = np.asarray(np.polynomial.chebyshev.chebval((t - middle) / half, coefficients), dtype=np.float64)
    x_fit: F64 = xc + r * np.cos(t)
    z_fit: F64 = zc - r * np.sin(t)
    return _sampled(x_fit, z_fit)


def _sampled(px: F64, pz: F64) -> ArchLine:
    """Resample a dense polyline to even steps, extend both ends straight, put s = 0 at the midline."""
    ends = []
    for i, j in ((0, 8), (-1, -9)):
        ex, ez = px[i] - px[j], pz[i] - pz[j]
        length = float(np.hypot(ex, ez))
        ends.append((px[i] + _EXTEND_MM * ex / length, pz[i] + _EXTEND_MM * ez / length))
    px = np.concatenate([[ends[0][0]], px, [ends[1][0]]])
    pz = np.concatenate([[ends[0][1]], pz, [ends[1][1]]])
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(px), np.diff(pz)))])
    s = np.arange(0.0, arc[-1], _STEP_MM)
    x, z = np.interp(s, arc, px), np.interp(s, arc, pz)
    tx, tz = np.gradient(x), np.gradient(z)
    norm = np.hypot(tx, tz)
    # Going from right to left, outwards lies to the traveller's left in (z, x): the normal is (-tz, tx).
    nx, nz = -tz / norm, tx / norm
    edge = round(_EXTEND_MM / _STEP_MM)
    line = ArchLine(x, z, s, nx, nz, edge, len(s) - 1 - edge)
    return line._replace(s_mm=s - s[_midline(line)])


def _midline(line: ArchLine) -> int:
    """Return the sample about whose normal the line is most nearly its own mirror image."""
    front = int(np.argmax(line.x_mm))
    shortest = int(15.0 / _STEP_MM)
    reach = int(14.0 / _STEP_MM)
    best, best_miss = front, np.inf
    for i in range(max(front - reach, 0), min(front + reach + 1, len(line.s_mm))):
        n = min(i - line.first, line.last - i)
        if n < shortest:
            continue
        k = np.arange(4, n, 4)
        along = (line.x_mm[i + k] - line.x_mm[i - k]) * line.nx[i] + (
            line.z_mm[i + k] - line.z_mm[i - k]
        ) * line.nz[i]
        mx = 0.5 * (line.x_mm[i + k] + line.x_mm[i - k]) - line.x_mm[i]
        mz = 0.5 * (line.z_mm[i + k] + line.z_mm[i - k]) - line.z_mm[i]
        across = 2.0 * (mx * line.nz[i] - mz * line.nx[i])
        miss = float(np.mean(along * along + across * across))
        if miss < best_miss:
            best, best_miss = i, miss
    return best


@njit(cache=True, nogil=True)
def _project(px, pz, lx, lz, ls, nx, nz, s_out, d_out):  # type: ignore[no-untyped-def]
    n = lx.shape[0]
    coarse = 8
    for p in range(px.shape[0]):
        best = 0
        best_d2 = np.inf
        for i in range(0, n, coarse):
            d2 = (px[p] - lx[i]) ** 2 + (pz[p] - lz[i]) ** 2
            if d2 < best_d2:
                best_d2 = d2
                best = i
        for i in range(max(0, best - coarse), min(n, best + coarse + 1)):
            d2 = (px[p] - lx[i]) ** 2 + (pz[p] - lz[i]) ** 2
            if d2 < best_d2:
                best_d2 = d2
                best = i
        ox = px[p] - lx[best]
        oz = pz[p] - lz[best]
        d_out[p] = ox * nx[best] + oz * nz[best]
        # Tangent is the normal turned by a right angle: (nz, -nx).
        s_out[p] = ls[best] + ox * nz[best] - oz * nx[best]


def project(line: ArchLine, x_mm: F64, z_mm: F64) -> tuple[F64, F64]:
    """Return ``s_mm`` and ``d_mm`` (n,) of points in plan: the nearest place of the line and the offset from it."""
    s, d = np.zeros(len(x_mm)), np.zeros(len(x_mm))
    _project(
        np.ascontiguousarray(x_mm),
        np.ascontiguousarray(z_mm),
        line.x_mm,
        line.z_mm,
        line.s_mm,
        line.nx,
        line.nz,
        s,
        d,
    )
    return s, d
