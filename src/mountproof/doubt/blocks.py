"""Inputs in blocks: every step of a mounting is one block, with its covariance or its distribution, and what they share.

Rows are draws, columns are inputs: the blocks lie side by side in one long vector of K inputs.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final, Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.poses import Array

Shape = Literal["normal", "rectangular", "triangular", "arcsine", "student", "trapezoidal"]

#: A covariance whose least eigenvalue, scaled to a unit diagonal, lies below minus this is none: rounding leaves less.
_BELOW_ZERO: Final = 1e-9


class Input(NamedTuple):
    """One input by its distribution, ``centre`` and ``spread``.

    ``spread`` is the standard uncertainty for ``normal``, the scale for ``student`` (with ``dof``), and half the
    width for ``rectangular``, ``triangular``, ``arcsine`` and ``trapezoidal`` (with ``top``, half the width of the
    flat part).
    """

    shape: Shape
    centre: float
    spread: float
    dof: float = math.inf
    top: float = 0.0

    @property
    def u(self) -> float:
        """Standard uncertainty that first order takes (JCGM 100:2008, 4.3): of ``student`` its scale, beside ``dof``."""
        a, b = self.spread, self.top
        parts = {"rectangular": 3.0, "triangular": 6.0, "arcsine": 2.0}
        if self.shape == "trapezoidal":
            return math.sqrt((a * a + b * b) / 6.0)
        return a / math.sqrt(parts.get(self.shape, 1.0))


class Block(NamedTuple):
    """One step: its name, centre (k,), covariance (k, k), the degrees of freedom behind it, its shape if not normal.

    With finite ``dof`` the block is drawn from the t distribution of several variables with ``cov`` as its scale.
    """

    key: str
    centre: Array
    cov: Array
    dof: float = math.inf
    shape: Input | None = None

    @property
    def plain(self) -> bool:
        """Whether the block is exactly normal."""
        return self.shape is None and math.isinf(self.dof)


def normal_block(key: str, centre: ArrayLike, cov: ArrayLike, dof: float = math.inf) -> Block:
    """Return a block of k normal inputs: ``centre`` (k,), ``cov`` (k, k) or the standard uncertainties (k,).

    Raises ValueError for shapes that do not match, numbers that are not finite, or ``dof`` not above zero.
    """
    mid = np.atleast_1d(np.asarray(centre, dtype=np.float64))
    c = np.asarray(cov, dtype=np.float64)
    if c.ndim <= 1:
        c = np.diag(np.atleast_1d(c) ** 2)
    if c.shape != (mid.shape[0], mid.shape[0]) or not (np.all(np.isfinite(mid)) and np.all(np.isfinite(c))):
        raise ValueError(f"{key}: {mid.shape[0]} finite inputs need a covariance of that size")
    if not dof > 0.0:
        raise ValueError(f"{key}: degrees of freedom are above zero")
    return Block(key, mid, c, dof)


def input_block(key: str, one: Input) -> Block:
    """Return a block of one input with its own distribution."""
    if one.shape == "normal":
        return normal_block(key, [one.centre], [one.spread])
    _checked(one)
    dof = one.dof if one.shape == "student" else math.inf
    return Block(key, np.array([one.centre]), np.array([[one.u**2]]), dof, one)


class Joined(NamedTuple):
    """All blocks side by side: ``centre`` (K,), ``cov`` (K, K), and whether some of them hang together."""

    blocks: tuple[Block, ...]
    centre: Array
    cov: Array
    linked: bool

    @property
    def columns(self) -> dict[str, slice]:
        """Which columns each block owns, in order."""
        out, at = {}, 0
        for b in self.blocks:
            out[b.key] = slice(at, at + b.centre.shape[0])
            at += b.centre.shape[0]
        return out


def join(blocks: Sequence[Block], links: Mapping[tuple[str, str], ArrayLike] | None = None) -> Joined:
    """Put blocks side by side; ``links`` gives the covariance (ka, kb) between two blocks that hang together.

    Links are for normal blocks: what has another distribution, or few degrees of freedom, has no joint distribution that
    a covariance tells. Such inputs that hang together belong in one block. Raises ValueError for names that occur twice
    or are unknown, shapes that do not match, such links, and a covariance that is none.
    """
    out = Joined(tuple(blocks), np.zeros(0), np.zeros((0, 0)), bool(links))
    where = out.columns
    if len(where) != len(out.blocks):
        raise ValueError("every block needs a name of its own")
    centre = np.concatenate([b.centre for b in blocks]) if blocks else np.zeros(0)
    cov = np.zeros((centre.shape[0],) * 2)
    for b in blocks:
        cov[where[b.key], where[b.key]] = b.cov
    plain = {b.key for b in blocks if b.plain}
    for (a, b_key), cross in (links or {}).items():
        if a == b_key or not {a, b_key} <= plain:
            raise ValueError(f"{a} and {b_key}: only two normal blocks can be linked by a covariance")
        c = np.asarray(cross, dtype=np.float64)
        rows, cols = where[a], where[b_key]
        if c.shape != (rows.stop - rows.start, cols.stop - cols.start):
            raise ValueError(
                f"{a} and {b_key}: the covariance between them has one row and column for each input"
            )
        cov[rows, cols], cov[cols, rows] = c, c.T
    checked_covariance(cov)
    return out._replace(centre=centre, cov=cov)


def checked_covariance(cov: ArrayLike) -> Array:
    """Return a covariance (k, k) as numbers; ValueError where it is none: not symmetric, or some variance below zero."""
    c = np.asarray(cov, dtype=np.float64)
    if c.shape[0] == 0:
        return c
    size = _size(c)
    unit = c / np.outer(size, size)
    if (
        not np.all(np.isfinite(c))
        or np.any(np.diag(c) < 0.0)
        or not np.allclose(unit, unit.T, rtol=0.0, atol=1e-9)
    ):
        raise ValueError("a covariance is finite and symmetric, and no variance is below zero")
    if np.linalg.eigvalsh(0.5 * (unit + unit.T))[0] < -_BELOW_ZERO * len(c):
        raise ValueError("this is no covariance: some combination would have a variance below zero")
    return c


def root_of(cov: ArrayLike) -> Array:
    """Return (k, r) with ``root root' = cov`` (k, k), r the rank: directions without variance are left out.

    Units may be mixed: eigenvectors are those of the matrix scaled to a unit diagonal.
    """
    c = np.asarray(cov, dtype=np.float64)
    if c.shape[0] == 0:
        return np.zeros((0, 0))
    size = _size(c)
    scale, axes = np.linalg.eigh(0.5 * (c + c.T) / np.outer(size, size))
    live = scale > 1e-14 * len(c)
    out: Array = size[:, None] * axes[:, live] * np.sqrt(scale[live])
    return out


def sample(joined: Joined, n: int, rng: np.random.Generator) -> Array:
    """Return ``n`` draws (n, K) of all inputs. Source: JCGM 101:2008, 6.4; t of several variables for a ``dof``."""
    root = root_of(joined.cov)
    out: Array = joined.centre + rng.standard_normal((n, root.shape[1])) @ root.T
    for b, where in zip(joined.blocks, joined.columns.values(), strict=True):
        if b.shape is not None:
            out[:, where.start] = _draw(b.shape, n, rng)
        elif not b.plain:
            stretch = np.sqrt(b.dof / rng.chisquare(b.dof, n))
            out[:, where] = b.centre + (out[:, where] - b.centre) * stretch[:, None]
    return out


def _size(cov: Array) -> Array:
    variances = np.diag(cov)
    out: Array = np.sqrt(np.where(variances > 0.0, variances, 1.0))
    return out


def _checked(one: Input) -> None:
    if not (math.isfinite(one.centre) and one.spread >= 0.0 and math.isfinite(one.spread)):
        raise ValueError("an input needs a finite centre and a spread of at least zero")
    if one.shape == "trapezoidal" and not 0.0 <= one.top <= one.spread:
        raise ValueError("the flat part of a trapezium is no wider than the whole")
    if not one.dof > 0.0:
        raise ValueError("degrees of freedom are above zero")
    if one.shape not in ("normal", "rectangular", "triangular", "arcsine", "student", "trapezoidal"):
        raise ValueError(f"no distribution is called {one.shape!r}")


def _draw(one: Input, n: int, rng: np.random.Generator) -> Array:
    c, s = one.centre, one.spread
    if one.shape == "rectangular":
        return c + s * (2.0 * rng.random(n) - 1.0)
    if one.shape == "triangular":
        return c + s * (rng.random(n) + rng.random(n) - 1.0)
    if one.shape == "arcsine":
        return c + s * np.sin(2.0 * math.pi * rng.random(n))
    if one.shape == "trapezoidal":
        wide, narrow = 0.5 * (s + one.top), 0.5 * (s - one.top)
        return c + wide * (2.0 * rng.random(n) - 1.0) + narrow * (2.0 * rng.random(n) - 1.0)
    if one.shape == "student" and math.isfinite(one.dof):
        return c + s * rng.standard_t(one.dof, n)
    return c + s * rng.standard_normal(n)
