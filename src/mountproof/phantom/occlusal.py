"""Occlusal relief of one crown: pyramids for cusps, ridges and fine grooves, blended smoothly.

Local coordinates of a tooth, in mm: ``d`` distal, ``b`` buccal, ``h`` towards the opposing arch.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Sharpness of the blend of neighbouring slopes, 1/mm: valleys are rounded over about 1/blend.
_BLEND_PER_MM = 5.5


class Cusp(NamedTuple):
    """A four-sided pyramid with rounded edges: tip, slopes (rise over run) and roundness in mm.

    ``towards`` is the direction (degrees from distal to buccal) in which the triangular ridge runs down.
    """

    name: str
    d_mm: float
    b_mm: float
    h_mm: float
    towards_deg: float
    slope_in: float = 0.62
    slope_out: float = 1.15
    slope_mesial: float = 0.62
    slope_distal: float = 0.62
    round_mm: float = 0.55


class Ridge(NamedTuple):
    """A rounded ridge between two points: heights at both ends, a dip half way, and a bow sideways (to distal)."""

    d0_mm: float
    b0_mm: float
    h0_mm: float
    d1_mm: float
    b1_mm: float
    h1_mm: float
    dip_mm: float = 0.0
    slope: float = 0.8
    round_mm: float = 0.45
    bow_mm: float = 0.0


class Groove(NamedTuple):
    """A fine groove along a quadratic curve (start, control, end), fading at both ends."""

    d0_mm: float
    b0_mm: float
    dc_mm: float
    bc_mm: float
    d1_mm: float
    b1_mm: float
    depth_mm: float = 0.22
    width_mm: float = 0.28


class Facet(NamedTuple):
    """A soft local change of height (negative: worn): place, amount and radii in mm."""

    d_mm: float
    b_mm: float
    change_mm: float
    radius_d_mm: float = 1.0
    radius_b_mm: float = 1.0


Element = Cusp | Ridge | Groove | Facet


def _soft_abs(x: Array, round_mm: float) -> Array:
    return np.sqrt(x * x + round_mm * round_mm) - round_mm


def _soft_two_slopes(x: Array, below: float, above: float, round_mm: float) -> Array:
    """Fall from zero with slope ``above`` for x > 0 and ``below`` for x < 0, rounded at zero."""
    return 0.5 * (above + below) * _soft_abs(x, round_mm) + 0.5 * (above - below) * x


def _cusp(c: Cusp, d: Array, b: Array) -> Array:
    ang = np.radians(c.towards_deg)
    e0, e1 = np.cos(ang), np.sin(ang)
    xi = (d - c.d_mm) * e0 + (b - c.b_mm) * e1
    # Along the crest, positive to distal whichever way the triangular ridge runs.
    sign = 1.0 if e1 < 0 else -1.0
    eta = sign * (-(d - c.d_mm) * e1 + (b - c.b_mm) * e0)
    fall = _soft_two_slopes(xi, c.slope_out, c.slope_in, c.round_mm)
    fall = fall + _soft_two_slopes(eta, c.slope_mesial, c.slope_distal, c.round_mm)
    out: Array = c.h_mm - fall
    return out


def _ridge(r: Ridge, d: Array, b: Array) -> Array:
    ld, lb = r.d1_mm - r.d0_mm, r.b1_mm - r.b0_mm
    length = float(np.hypot(ld, lb))
    along = ((d - r.d0_mm) * ld + (b - r.b0_mm) * lb) / (length * length)
    across = (-(d - r.d0_mm) * lb + (b - r.b0_mm) * ld) / length
    middle = 4.0 * np.clip(along * (1.0 - along), 0.0, 0.25)
    across = across - r.bow_mm * np.where(lb < 0, 1.0, -1.0) * middle
    crest = r.h0_mm + (r.h1_mm - r.h0_mm) * along - r.dip_mm * middle
    beyond = length * (np.clip(along - 1.0, 0.0, None) + np.clip(-along, 0.0, None))
    out: Array = crest - r.slope * (_soft_abs(across, r.round_mm) + beyond)
    return out


def _groove(g: Groove, d: Array, b: Array) -> Array:
    # Distance to a polyline of the quadratic curve: eight pieces are finer than the groove is wide.
    t = np.linspace(0.0, 1.0, 9)
    pd = (1 - t) ** 2 * g.d0_mm + 2 * t * (1 - t) * g.dc_mm + t * t * g.d1_mm
    pb = (1 - t) ** 2 * g.b0_mm + 2 * t * (1 - t) * g.bc_mm + t * t * g.b1_mm
    out = np.zeros_like(d)
    near = (np.abs(d - 0.5 * (pd.min() + pd.max())) < 0.5 * np.ptp(pd) + 4 * g.width_mm) & (
        np.abs(b - 0.5 * (pb.min() + pb.max())) < 0.5 * np.ptp(pb) + 4 * g.width_mm
    )
    if not near.any():
        return out
    dn, bn = d[near], b[near]
    best = np.full(dn.shape, np.inf)
    where = np.zeros(dn.shape)
    for k in range(8):
        ud, ub = pd[k + 1] - pd[k], pb[k + 1] - pb[k]
        w = np.clip(((dn - pd[k]) * ud + (bn - pb[k]) * ub) / (ud * ud + ub * ub), 0.0, 1.0)
        dist2 = (dn - pd[k] - w * ud) ** 2 + (bn - pb[k] - w * ub) ** 2
        closer = dist2 < best
        best = np.where(closer, dist2, best)
        where = np.where(closer, (k + w) / 8.0, where)
    fade = np.sin(np.pi * (0.12 + 0.76 * where))
    out[near] = -g.depth_mm * fade * np.exp(-best / (2.0 * g.width_mm * g.width_mm))
    return out


def relief(elements: tuple[Element, ...], d: Array, b: Array) -> Array:
    """Height of the occlusal surface above the tooth's reference level.

    ``elements``: cusps and ridges (blended by a smooth maximum), grooves and facets (added).
    ``d``, ``b``: places in mm, any equal shape. Returns heights in mm, same shape.
    """
    rises = [
        _cusp(e, d, b) if isinstance(e, Cusp) else _ridge(e, d, b)
        for e in elements
        if isinstance(e, Cusp | Ridge)
    ]
    top = np.max(rises, axis=0)
    total = np.zeros_like(d)
    for r in rises:
        total += np.exp(_BLEND_PER_MM * (r - top))
    h: Array = top + np.log(total) / _BLEND_PER_MM
    for e in elements:
        if isinstance(e, Groove):
            h = h + _groove(e, d, b)
        elif isinstance(e, Facet):
            h = h + e.change_mm * np.exp(
                -0.5 * (((d - e.d_mm) / e.radius_d_mm) ** 2 + ((b - e.b_mm) / e.radius_b_mm) ** 2)
            )
    return h
