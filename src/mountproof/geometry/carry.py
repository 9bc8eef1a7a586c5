"""A value together with where its doubt comes from.

Each independent source of doubt (one caliper reading, one length, one assumption) has a name. A ``Carried``
value keeps, for every source, how far one standard uncertainty of that source moves it, with its sign. So two
results that lean on the same reading stay correlated however they are combined later, a difference loses what
both share, and the share of every source in any result can be read off. This is the law of propagation of
uncertainty of JCGM 100:2008, 5.1 and 5.2, with the correlations carried by the shared sources.

Source names read ``group/detail`` (``reading/B/UA-LA``, ``length/pin.x``): shares are summed by the group.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.poses import Array

#: Relative step of the five-point derivative: truncation grows as h^4 and rounding as eps/h, so h = eps^(1/5).
_STEP = float(np.finfo(np.float64).eps ** 0.2)


@dataclass(frozen=True, slots=True, eq=False)
class Carried:
    """``values`` (k,), names of ``sources`` (n,), and ``parts`` (k, n): signed effect of one u of each source."""

    values: Array
    sources: tuple[str, ...]
    parts: Array

    def __len__(self) -> int:
        return int(self.values.shape[0])

    def __getitem__(self, index: int | slice | Sequence[int]) -> Carried:
        """Return some of the values; one index keeps a vector of length one."""
        rows = np.atleast_1d(np.arange(len(self))[index])
        return Carried(self.values[rows], self.sources, self.parts[rows])

    def __add__(self, other: Carried | float) -> Carried:
        return _combine(self, other, 1.0)

    def __sub__(self, other: Carried | float) -> Carried:
        return _combine(self, other, -1.0)

    def __neg__(self) -> Carried:
        return self.times(-1.0)

    @property
    def value(self) -> float:
        """The one value of a vector of length one."""
        if len(self) != 1:
            raise ValueError(f"{len(self)} values are carried here, not one")
        return float(self.values[0])

    @property
    def u(self) -> float:
        """Standard uncertainty of the one value."""
        if len(self) != 1:
            raise ValueError(f"{len(self)} values are carried here, not one")
        return float(self.us[0])

    @property
    def us(self) -> Array:
        """Standard uncertainties (k,)."""
        us: Array = np.sqrt(np.sum(self.parts**2, axis=1))
        return us

    @property
    def cov(self) -> Array:
        """Covariance (k, k)."""
        return self.parts @ self.parts.T

    def times(self, factor: float) -> Carried:
        """Return every value and part times an exact number."""
        return Carried(self.values * factor, self.sources, self.parts * factor)

    def linear(self, jacobian: ArrayLike, values: ArrayLike | None = None) -> Carried:
        """Return ``jacobian @ self``; the new values may be given where the map itself is not linear."""
        j = np.atleast_2d(np.asarray(jacobian, dtype=np.float64))
        new = j @ self.values if values is None else np.atleast_1d(np.asarray(values, dtype=np.float64))
        return Carried(new, self.sources, j @ self.parts)

    def without(self, group: str) -> Carried:
        """Return the same values without the doubt of one group of sources."""
        keep = [i for i, s in enumerate(self.sources) if s.split("/", 1)[0] != group]
        return Carried(self.values, tuple(self.sources[i] for i in keep), self.parts[:, keep])

    def variances(self) -> dict[str, float]:
        """Variance of the one value by group of sources, largest first."""
        if len(self) != 1:
            raise ValueError(f"{len(self)} values are carried here, not one")
        sums: dict[str, float] = {}
        for name, part in zip(self.sources, self.parts[0], strict=True):
            group = name.split("/", 1)[0]
            sums[group] = sums.get(group, 0.0) + float(part) ** 2
        return dict(sorted(sums.items(), key=lambda item: -item[1]))


def exact(values: ArrayLike) -> Carried:
    """Return numbers without doubt."""
    v = np.atleast_1d(np.asarray(values, dtype=np.float64))
    return Carried(v, (), np.zeros((v.shape[0], 0)))


def measured(value: float, u: float, source: str) -> Carried:
    """Return one number with standard uncertainty ``u`` (same unit) from the source of that name."""
    if not (np.isfinite(value) and np.isfinite(u) and u >= 0.0):
        raise ValueError(
            f"{source}: value and standard uncertainty must be finite and u >= 0, got {value}, {u}"
        )
    if u == 0.0:
        return exact(value)
    return Carried(np.array([float(value)]), (source,), np.array([[float(u)]]))


def resolution_u(step: float) -> float:
    """Return the standard uncertainty of reading to the nearest ``step``: a rectangle, ``step / sqrt(12)``.

    Source: JCGM 100:2008, F.2.2.1.
    """
    if not step >= 0.0:
        raise ValueError("a step cannot be below zero")
    return step / math.sqrt(12.0)


def from_covariance(values: ArrayLike, cov: ArrayLike, source: str) -> Carried:
    """Return values (k,) with a covariance (k, k) that belongs to one source (its principal directions)."""
    v = np.atleast_1d(np.asarray(values, dtype=np.float64))
    c = np.atleast_2d(np.asarray(cov, dtype=np.float64))
    scale, axes = np.linalg.eigh(0.5 * (c + c.T))
    parts = axes * np.sqrt(np.clip(scale, 0.0, None))
    return Carried(v, tuple(f"{source}/{i}" for i in range(v.shape[0])), parts)


def stack(items: Iterable[Carried]) -> Carried:
    """Return all values one below the other; sources of the same name stay one source."""
    many = list(items)
    sources = tuple(dict.fromkeys(s for item in many for s in item.sources))
    parts = [_spread(item, sources) for item in many]
    return Carried(
        np.concatenate([item.values for item in many]) if many else np.zeros(0),
        sources,
        np.concatenate(parts) if parts else np.zeros((0, 0)),
    )


def through(f: Callable[[Array], ArrayLike], x: Carried) -> Carried:
    """Return ``f(x)`` with its doubt, to first order; ``f`` maps (k,) to (m,) or to one number."""
    us = x.us
    scale = np.maximum(np.abs(x.values), us)
    values = np.atleast_1d(np.asarray(f(x.values.copy()), dtype=np.float64))
    if x.parts.shape[1] == 0:
        return exact(values)
    return x.linear(numeric_jacobian(f, x.values, np.where(scale > 0.0, scale, 1.0), us > 0.0), values)


def numeric_jacobian(
    f: Callable[[Array], ArrayLike], x: ArrayLike, scale: ArrayLike, wanted: ArrayLike | None = None
) -> Array:
    """Return df/dx (m, k) by five-point differences.

    ``x`` (k,); ``scale`` (k,) is the length over which each input changes what ``f`` does (its size, or its u
    where that is larger); the step is ``scale * eps**(1/5)``, at which truncation and rounding are alike.
    Inputs that are not ``wanted`` (k,) get a zero column. Raises ValueError where ``f`` is not finite nearby.
    """

    def one_by_one(rows: Array) -> Array:
        return np.stack([np.atleast_1d(np.asarray(f(p), dtype=np.float64)) for p in rows])

    return jacobian_of_rows(one_by_one, x, scale, wanted)


def jacobian_of_rows(
    f: Callable[[Array], ArrayLike], x: ArrayLike, scale: ArrayLike, wanted: ArrayLike | None = None
) -> Array:
    """Return the same (m, k) for an ``f`` that maps many inputs (n, k) to (n, m) at once: it is called once."""
    at = np.atleast_1d(np.asarray(x, dtype=np.float64))
    k = at.shape[0]
    steps = np.atleast_1d(np.asarray(scale, dtype=np.float64)) * _STEP
    use = np.ones(k, dtype=bool) if wanted is None else np.atleast_1d(np.asarray(wanted, dtype=bool))
    live = np.flatnonzero(use)
    if live.size == 0:
        return np.zeros((0, k))
    points = np.repeat(at[None], 4 * live.size, axis=0).reshape(live.size, 4, k)
    each = np.arange(live.size)
    for j, times in enumerate((-2, -1, 1, 2)):
        points[each, j, live] += times * steps[live]
    # half the distance of the points as they were rounded, so that the step is exact
    h = 0.5 * (points[each, 2, live] - points[each, 1, live])
    y = np.asarray(f(points.reshape(-1, k).copy()), dtype=np.float64)
    a, b, c, d = np.moveaxis(y.reshape(live.size, 4, -1), 1, 0)
    out = np.zeros((a.shape[1], k))
    out[:, live] = ((a - 8.0 * b + 8.0 * c - d) / (12.0 * h)[:, None]).T
    if not np.all(np.isfinite(out)):
        raise ValueError("the function is not finite around this point")
    return out


def shares(x: Carried) -> Mapping[str, float]:
    """Share of the variance of one value by group of sources, largest first; they add up to one."""
    variances = x.variances()
    total = sum(variances.values())
    return {name: (v / total if total > 0.0 else 0.0) for name, v in variances.items()}


def _spread(item: Carried, sources: tuple[str, ...]) -> Array:
    where = {name: i for i, name in enumerate(sources)}
    out = np.zeros((len(item), len(sources)))
    for j, name in enumerate(item.sources):
        out[:, where[name]] += item.parts[:, j]
    return out


def _combine(a: Carried, b: Carried | float, sign: float) -> Carried:
    other = b if isinstance(b, Carried) else exact(np.full(len(a), float(b)))
    if len(other) != len(a):
        raise ValueError(f"{len(a)} values cannot meet {len(other)}")
    sources = tuple(dict.fromkeys(a.sources + other.sources))
    return Carried(
        a.values + sign * other.values, sources, _spread(a, sources) + sign * _spread(other, sources)
    )
