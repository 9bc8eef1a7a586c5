"""Which step went wrong, given every check: exact probabilities of causes, and the error that is left under each.

All is linear and normal. The honest part of every step is a random vector ``z ~ N(0, S)``; a fault of a step adds
amplitudes ``a`` (``hypotheses``), zero where it does not act. A check reads ``y = H z + X a + e`` with ``e ~ N(0, R)``. With
the whitener ``W`` of ``C = H S H' + R`` the checks of an orderly mounting are white, and a hypothesis with amplitudes
``a ~ N(m, D)`` on its columns differs from them by the closed form (``G = X'W'WX``, ``b = X'W'W y - G m``)

    2 log ratio = b'(D^-1 + G)^-1 b - log det(I + D G) + 2 m'X'W'W y - m'G m

so that thousands of hypotheses cost one matrix and small blocks. Derivation: docs/theory/causes.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from mountproof.doubt.hypotheses import Hypotheses
from mountproof.geometry.poses import Array

#: Directions of the checks with less than this part of the largest variance carry rounding, no reading.
_RANK_CUT: Final = 1e-10


class Look(NamedTuple):
    """One check as numbers: what it reads of the honest parts (m, nz) and of the amplitudes (m, nf), found (m,), noise (m, m)."""

    key: str
    words: str
    honest: Array
    faults: Array
    values: Array
    cov: Array


class Direct(NamedTuple):
    """One yes-or-no finding that shows a fault itself: its chance where a mode acts (by mode), and otherwise."""

    key: str
    words: str
    chances: dict[str, float]
    otherwise: float
    seen: bool = True


class Target(NamedTuple):
    """Numbers wanted: what each is of the honest parts (r, nz) and of the amplitudes (r, nf)."""

    honest: Array
    faults: Array


class Prepared(NamedTuple):
    """All that is the same for every outcome of the same checks.

    ``whiten`` (w, m), ``shown`` (w, nf) the whitened columns of the amplitudes, ``gain`` (nz, w) from whitened checks to
    the honest parts.
    """

    hypotheses: Hypotheses
    honest_cov: Array
    whiten: Array
    shown: Array
    gain: Array
    groups: tuple[tuple[NDArray[np.intp], NDArray[np.intp], Array, Array, Array], ...]


def prepare(honest_cov: ArrayLike, hypotheses: Hypotheses, looks: Sequence[Look]) -> Prepared:
    """Whiten the checks for an orderly mounting, and lay the hypotheses out in blocks.

    ``honest_cov`` (nz, nz). Raises ValueError for shapes that do not match.
    """
    s = np.asarray(honest_cov, dtype=np.float64)
    slices = hypotheses.columns()
    nf = slices[-1].stop if slices else 0
    h = np.concatenate([k.honest for k in looks]) if looks else np.zeros((0, s.shape[0]))
    x = np.concatenate([k.faults for k in looks]) if looks else np.zeros((0, nf))
    if h.shape[1] != s.shape[0] or x.shape[1] != nf or h.shape[0] != x.shape[0]:
        raise ValueError("every check has one column for each honest part and each amplitude")
    noise = np.zeros((h.shape[0], h.shape[0]))
    at = 0
    for k in looks:
        m = k.values.shape[0]
        noise[at : at + m, at : at + m] = k.cov
        at += m
    c = h @ s @ h.T + noise
    # mixed units (mm and rad): scale to a unit diagonal before looking for directions without variance
    size = np.sqrt(np.maximum(np.diag(c), 1e-300))
    scale, axes = np.linalg.eigh(c / np.outer(size, size)) if at else (np.zeros(0), np.zeros((0, 0)))
    live = scale > _RANK_CUT
    whiten = (axes[:, live] / np.sqrt(scale[live])).T / size if at else np.zeros((0, 0))
    shown = whiten @ x
    gain = s @ h.T @ whiten.T
    return Prepared(hypotheses, s, whiten, shown, gain, _groups(hypotheses, shown.T @ shown))


def _groups(
    hypotheses: Hypotheses, gram: Array
) -> tuple[tuple[NDArray[np.intp], NDArray[np.intp], Array, Array, Array], ...]:
    """Hypotheses by their number of amplitudes: (which, columns, means, posterior covariances, constants)."""
    slices = hypotheses.columns()
    by_size: dict[int, list[int]] = {}
    columns: list[list[int]] = []
    for h, acting in enumerate(hypotheses.acting):
        cols = [c for i in acting for c in range(slices[i].start, slices[i].stop)]
        columns.append(cols)
        by_size.setdefault(len(cols), []).append(h)
    every_mean = np.concatenate([m.mean for m in hypotheses.modes]) if hypotheses.modes else np.zeros(0)
    every_cov = np.zeros((every_mean.shape[0],) * 2)
    for mode, where in zip(hypotheses.modes, slices, strict=True):
        every_cov[where, where] = mode.cov
    out: list[tuple[NDArray[np.intp], NDArray[np.intp], Array, Array, Array]] = []
    for size, which in sorted(by_size.items()):
        taken = np.array([columns[h] for h in which], dtype=np.intp).reshape(len(which), size)
        g = gram[taken[:, :, None], taken[:, None, :]]
        d = every_cov[taken[:, :, None], taken[:, None, :]]
        mean = every_mean[taken]
        root = np.eye(size) + d @ g
        post = np.linalg.solve(root, d)
        post = 0.5 * (post + np.swapaxes(post, 1, 2))
        _, logdet = np.linalg.slogdet(root)
        const = -0.5 * logdet - 0.5 * np.einsum("hi,hij,hj->h", mean, g, mean)
        index: NDArray[np.intp] = np.array(which, dtype=np.intp)
        out.append(
            (index, taken, mean, np.asarray(post, dtype=np.float64), np.asarray(const, dtype=np.float64))
        )
    return tuple(out)


def stacked(looks: Sequence[Look]) -> Array:
    """Return the numbers found of all checks, one below the other (m,)."""
    return np.concatenate([k.values for k in looks]) if looks else np.zeros(0)


def log_evidence(prepared: Prepared, found: ArrayLike) -> Array:
    """Return (s, hypotheses): log likelihood of outcomes (s, m), less that of an orderly mounting."""
    y = np.atleast_2d(np.asarray(found, dtype=np.float64)) @ prepared.whiten.T
    b = y @ prepared.shown
    gram = prepared.shown.T @ prepared.shown
    out = np.zeros((y.shape[0], len(prepared.hypotheses.acting)))
    for which, cols, mean, post, const in prepared.groups:
        if cols.shape[1] == 0:
            continue
        g = gram[cols[:, :, None], cols[:, None, :]]
        raw = b[:, cols]
        rest = raw - np.einsum("hij,hj->hi", g, mean)
        out[:, which] = (
            0.5 * np.sum(np.swapaxes(np.swapaxes(rest, 0, 1) @ post, 0, 1) * rest, axis=2)
            + np.einsum("hi,shi->sh", mean, raw)
            + const
        )
    return out


class Left(NamedTuple):
    """Wanted numbers under each hypothesis: means (s, h, r) and covariances (h, r, r)."""

    mean: Array
    cov: Array


def left_over(prepared: Prepared, found: ArrayLike, target: Target) -> Left:
    """Return the wanted numbers given outcomes (s, m) of the checks, under each hypothesis."""
    y = np.atleast_2d(np.asarray(found, dtype=np.float64)) @ prepared.whiten.T
    a = target.honest @ prepared.gain
    base = y @ a.T
    base_cov = target.honest @ prepared.honest_cov @ target.honest.T - a @ a.T
    carry = target.faults - a @ prepared.shown
    b = y @ prepared.shown
    gram = prepared.shown.T @ prepared.shown
    n = len(prepared.hypotheses.acting)
    mean = np.repeat(base[:, None, :], n, axis=1)
    cov = np.repeat(base_cov[None], n, axis=0)
    for which, cols, centre, post, _ in prepared.groups:
        if cols.shape[1] == 0:
            continue
        g = gram[cols[:, :, None], cols[:, None, :]]
        rest = b[:, cols] - np.einsum("hij,hj->hi", g, centre)
        d = carry.T[cols]  # (h, c, r)
        # batched products: (h, s, c) @ (h, c, r), an order of magnitude faster than one long sum
        amplitude = np.swapaxes(rest, 0, 1) @ post + centre[:, None]
        mean[:, which] += np.swapaxes(amplitude @ d, 0, 1)
        cov[which] += np.swapaxes(d, 1, 2) @ post @ d
    return Left(mean, cov)


def log_direct(hypotheses: Hypotheses, directs: Sequence[Direct]) -> Array:
    """Return (hypotheses,): log likelihood of the yes-or-no findings; each acting mode has its own chance to show it."""
    out = np.zeros(len(hypotheses.acting))
    for one in directs:
        p = direct_chance(hypotheses, one)
        out += np.log(p if one.seen else 1.0 - p)
    return out


def direct_chance(hypotheses: Hypotheses, one: Direct) -> Array:
    """Return (hypotheses,): chance that the finding shows, each cause apart from the others (noisy or)."""
    missed = np.full(len(hypotheses.acting), 1.0 - one.otherwise)
    for h, acting in enumerate(hypotheses.acting):
        for i in acting:
            missed[h] *= 1.0 - one.chances.get(hypotheses.modes[i].key, 0.0)
    return np.clip(1.0 - missed, 1e-9, 1.0 - 1e-9)


def normalised(log_weights: Array) -> Array:
    """Return weights (s, h) that add up to one along the last axis, from their logarithms (s, h)."""
    w = np.exp(log_weights - log_weights.max(axis=-1, keepdims=True))
    out: Array = w / w.sum(axis=-1, keepdims=True)
    return out
