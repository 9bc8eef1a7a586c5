"""How well a record is held on a cast: what its stops carry, which motions nothing stops, and whether its two sides agree."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.least_squares import chi2_tail
from mountproof.geometry.poses import Array, checked, inverse, log6, moved_cov, point_jacobian, translation
from mountproof.geometry.support import amplification, outline_area, support
from mountproof.records.imprint import Cast, Laid, RecordSurface, part_of

Side = Literal["right", "left"]
Way = Literal["roll", "yaw", "pitch", "ahead", "up", "aside"]
_WAYS: tuple[Way, ...] = ("roll", "yaw", "pitch", "ahead", "up", "aside")

#: Stops whose outline is narrower than this share of its length hold no plane worth naming. Our choice.
IN_LINE = 0.02
#: The variance, mm2, of a motion that nothing holds.
_LOST_MM2 = 1e4
#: Less than this share of what bears, on one side, is nothing to hold that side by.
ONE_SIDED = 0.05
#: A face that cuts across a rounding of curvature k over an edge e lies k e^2 / 12 beside it on average.
_CUT = 1.0 / 12.0


class Stops(NamedTuple):
    """What stops carry: ``growth`` (m,) of an error at the stops at every tooth asked for, inf where they lie in one line.

    ``area_mm2`` of their outline; ``slenderness`` 0 for a line, 1 for an even triangle; ``loose_about`` (2,): the
    direction (ahead, right) of the line they come nearest to.
    """

    places_xz_mm: Array
    growth: Array
    area_mm2: float
    slenderness: float
    loose_about: Array


class Loosest(NamedTuple):
    """The motion that is held least: its largest part, and its SD in mm (a turn at the points' rms distance)."""

    way: Way
    sd_mm: float


class Halves(NamedTuple):
    """The two sides of a record laid on a cast by themselves.

    ``motion`` (6,) of the right part against the left, rotation first, in the frame of the upper jaw, ``cov6`` its doubt,
    ``p_value`` that chance alone does as much.
    """

    motion: Array
    cov6: Array
    p_value: float

    def off_mm(self, at_mm: ArrayLike, side: Side, bite: Array) -> tuple[Array, Array]:
        """Return how far places (n, 3) of one side stand off when the other side is down (n,), and the SDs (n,)."""
        along = (-1.0 if side == "right" else 1.0) * bite
        row = np.einsum("k,nkj->nj", along, point_jacobian(checked(at_mm, (3,), "at_mm").reshape(-1, 3)))
        return row @ self.motion, np.sqrt(np.einsum("ni,ij,nj->n", row, self.cov6, row))


def stops_of(places_xz_mm: ArrayLike, at_xz_mm: ArrayLike) -> Stops:
    """Return what stops (n, 2; n >= 1) at (ahead, right) carry at places (m, 2)."""
    places = checked(places_xz_mm, (2,), "places_xz_mm").reshape(-1, 2)
    at = checked(at_xz_mm, (2,), "at_xz_mm").reshape(-1, 2)
    shape = support(places)
    in_line = len(places) < 3 or shape.slenderness < IN_LINE
    growth = np.full(len(at), np.inf) if in_line else amplification(places, at)
    return Stops(
        places, growth, outline_area(places), 0.0 if in_line else shape.slenderness, shape.loose_about
    )


def doubt_of(laid: Laid, record: RecordSurface, cast: Cast) -> Array:
    """Return (6, 6) the doubt of how a record lies on a cast, rotation first, in front of its pose.

    To the registration's own come the motions that nothing holds, and what the faces of the surface that was asked for
    nearest points cut across its roundings: a shift along the bite, and as much again as pitch and roll.
    """
    found = laid.found
    lost = np.isinf(found.held)
    cov = found.cov6
    if lost.any():
        free = found.directions[:, lost]
        local = _LOST_MM2 * free @ free.T
        local[:3] /= found.lever_mm
        local[:, :3] /= found.lever_mm
        cov = cov + moved_cov(local, translation(found.middle_mm))
    if laid.of_cast:
        cov = moved_cov(cov, laid.pose)
    cut = _cut_mm(record if laid.of_cast else cast)
    turn = cut / found.lever_mm
    local = np.diag(np.square([turn, 0.0, turn, 0.0, cut, 0.0]))
    out: Array = cov + moved_cov(local, translation(laid.at_mm.mean(axis=0)))
    return out


def _cut_mm(surface: Cast | RecordSurface) -> float:
    """Return how far the faces of a surface lie beside what was scanned, in the middle of its edges that are bent."""
    v, n, f = surface.vertices_mm, surface.normals, surface.faces
    if isinstance(surface, Cast) and surface.teeth.any():
        f = f[surface.teeth > 0]
    i, j = f[:, 0], f[:, 1]
    return float(np.median(np.abs(np.einsum("ij,ij->i", n[j] - n[i], v[j] - v[i])))) * _CUT


def loosest(laid: Laid, cov6: Array) -> Loosest:
    """Return which motion of a record on a cast is held least; ``cov6`` (6, 6) its doubt in front of the pose."""
    middle = laid.at_mm.mean(axis=0)
    lever = math.sqrt(float(np.mean((laid.at_mm - middle) ** 2)) * 3.0)
    local = moved_cov(cov6, translation(-middle))
    local[:3] *= lever
    local[:, :3] *= lever
    values, vectors = np.linalg.eigh(0.5 * (local + local.T))
    return Loosest(_WAYS[int(np.argmax(np.abs(vectors[:, -1])))], math.sqrt(max(float(values[-1]), 0.0)))


def halves_of(laid: Laid, record: RecordSurface, cast: Cast, middle_z_mm: float) -> Halves | None:
    """Lay the right and the left part of a record by themselves; None where one of them shows too little."""
    z = laid.at_mm[:, 2] - middle_z_mm
    right, left = part_of(laid, record, cast, z > 0.0), part_of(laid, record, cast, z < 0.0)
    if right is None or left is None:
        return None
    between = right.pose @ inverse(left.pose)
    cov = doubt_of(right, record, cast) + moved_cov(doubt_of(left, record, cast), between)
    motion = log6(between)
    return Halves(motion, cov, chi2_tail(float(motion @ np.linalg.solve(cov, motion)), 6))


def one_side(at_mm: Array, weight: Array, middle_z_mm: float) -> Side | None:
    """Return the side on which nearly all lies that bears: points (n, 3) with what each counts for (n,)."""
    right = float(weight[at_mm[:, 2] > middle_z_mm].sum())
    whole = float(weight.sum())
    if whole <= 0.0 or min(right, whole - right) >= ONE_SIDED * whole:
        return None
    return "right" if right > 0.5 * whole else "left"
