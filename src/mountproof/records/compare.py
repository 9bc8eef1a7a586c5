"""Several records of the same relation: whether they agree, which one stands out, and which to mount on.

Records are compared after the freely chosen hinge opening has been taken out, by numbers that ought to be the same
for each: residuals of mark pairs, or places of the lower cast. The record to mount on is the real one nearest the
median, never an average that no wax shows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.least_squares import chi2_tail
from mountproof.geometry.poses import Array
from mountproof.geometry.quantile import normal_quantile
from mountproof.records.repeats import range_factor

Agreement = Literal["same", "one stands out", "scattered", "differ", "cannot tell"]

#: Covariances are sums of squares of doubles: what is below this part of the largest eigenvalue is their rounding, with
#: room for the condition of the readings' geometry (squared, about 1e5 at worst).
_RANK_CUT = 1e-9


class Feature(NamedTuple):
    """One compared number: its values by record, their range, and the range that honest records keep within.

    ``sd`` is that of one record's value: the practice's repeatability and the reading together.
    """

    name: str
    values: tuple[float, ...]
    sd: float
    range: float
    critical: float

    @property
    def beyond(self) -> bool:
        """Whether the records lie further apart than honest ones would."""
        return self.range > self.critical


class Comparison(NamedTuple):
    """What a set of records shows.

    ``outlier`` is the record that stands out; ``off`` how far each record lies from the mean of the others (records,
    k), with ``tails`` the probability of one so far off among honest records, all features together.
    ``mount_on`` is the real record nearest the median of those that agree. ``detectable`` is the smallest
    difference in one feature, of one record against the others, that these readings would show.
    """

    agreement: Agreement
    features: tuple[Feature, ...]
    outlier: str | None
    tails: tuple[float, ...]
    off: Array
    mount_on: str
    detectable: float


def compare_records(
    names: Sequence[str],
    values: ArrayLike,
    cov: ArrayLike,
    feature_names: Sequence[str],
    s_repeat: float = 0.0,
    needed: float | None = None,
    p: float = 0.95,
) -> Comparison:
    """Return how records compare.

    ``values`` (n, k): k numbers of each of n records; ``cov`` (k, k) their covariance from each record's own readings,
    which may have less than full rank; ``s_repeat`` the practice's repeatability of honest records in each number
    (zero: compare against reading alone). Each record is held against the mean of the others by the distance
    ``d' C^-1 d``, chi-square over the rank; the risk of a false alarm, ``1 - p``, is shared among the records.
    ``needed`` is the difference that must not be missed: where more would go unseen, records that agree only
    ``cannot tell``. Two records that differ cannot say which is off: ``differ``. Raises ValueError for shapes that do
    not match, or one record.
    """
    table = np.asarray(values, dtype=np.float64)
    c = np.asarray(cov, dtype=np.float64)
    n, k = len(names), len(feature_names)
    if table.shape != (n, k) or c.shape != (k, k) or n < 2 or k < 1:
        raise ValueError(
            "values must be (records, features) and cov (features, features), with two records or more"
        )
    if not (np.all(np.isfinite(table)) and np.all(np.isfinite(c)) and s_repeat >= 0.0):
        raise ValueError("values must be finite and a repeatability not below zero")
    c = c + s_repeat**2 * np.eye(k)
    sd = np.sqrt(np.diag(c))
    features = _features(table, sd, feature_names, 1.0 - (1.0 - p) / k)
    whiten = _whitening(c)
    white = table @ whiten
    off = np.stack([row - np.delete(table, i, axis=0).mean(axis=0) for i, row in enumerate(table)])
    tails = _tails(white)
    share = (1.0 - p) / (n if n > 2 else 1)
    detectable = float(np.max(sd)) * math.sqrt(n / (n - 1)) * normal_quantile(1.0 - 0.5 * share)

    def said(agreement: Agreement, outlier: str | None, among: Sequence[int]) -> Comparison:
        mount_on = names[among[_nearest_median(white[list(among)])]]
        return Comparison(agreement, features, outlier, tails, off, mount_on, detectable)

    everyone = range(n)
    worst = min(everyone, key=lambda i: tails[i])
    if tails[worst] >= share and _together(white) >= 1.0 - p:
        unsure = needed is not None and detectable > needed
        return said("cannot tell" if unsure else "same", None, everyone)
    if n == 2:
        return said("differ", None, everyone)
    rest = [i for i in everyone if i != worst]
    if tails[worst] < share and _together(white[rest]) >= 1.0 - p:
        return said("one stands out", names[worst], rest)
    return said("scattered", None, everyone)


def _whitening(cov: Array) -> Array:
    """Return (k, rank): features times this have unit covariance; directions without doubt or meaning are left out."""
    scale, axes = np.linalg.eigh(cov)
    live = scale > _RANK_CUT * float(scale[-1])
    out: Array = axes[:, live] / np.sqrt(scale[live])
    return out


def _tails(white: Array) -> tuple[float, ...]:
    n, rank = white.shape
    out = []
    for i in range(n):
        d = (white[i] - np.delete(white, i, axis=0).mean(axis=0)) * math.sqrt((n - 1) / n)
        out.append(chi2_tail(float(d @ d), rank))
    return tuple(out)


def _together(white: Array) -> float:
    """Return the probability of a scatter at least as large among honest records."""
    n, rank = white.shape
    return chi2_tail(float(np.sum((white - white.mean(axis=0)) ** 2)), (n - 1) * rank)


def _features(table: Array, sd: Array, names: Sequence[str], p: float) -> tuple[Feature, ...]:
    factor = range_factor(table.shape[0], p)
    return tuple(
        Feature(
            name,
            tuple(float(v) for v in table[:, k]),
            float(sd[k]),
            float(np.ptp(table[:, k])),
            factor * float(sd[k]),
        )
        for k, name in enumerate(names)
    )


def _nearest_median(white: Array) -> int:
    return int(np.argmin(np.sum((white - np.median(white, axis=0)) ** 2, axis=1)))
