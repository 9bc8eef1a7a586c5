"""Several records of the same relation: whether they agree, which one stands out, and which to mount on.

Records are compared after the freely chosen hinge opening has been taken out, by numbers that ought to be the same
for each: residuals of mark pairs, or places of the lower cast. The record to mount on is the real one nearest the
median, never an average that no wax shows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.geometry.poses import Array
from mountproof.records.joint import RANK_CUT, Looked, Spread, joint_cov, look, threshold
from mountproof.records.repeats import noncentral_for, range_factor

Agreement = Literal["same", "one stands out", "scattered", "differ", "cannot tell"]

#: Of the risk of a false alarm, the part for all records together; the rest is shared among the single records. Both looks
#: are strongly related, so that together they stay near the whole.
_TOGETHER_SHARE = 0.2
#: Ranges of records that are not known alike are drawn so many times; a 99.5 % quantile is then known to 1 %.
_DRAWS = 20_000


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
    ``mount_on`` is the real record nearest the median of those that agree. ``detectable`` is the difference in one
    feature, of one record against the others, that is found in half of such sets, in the feature that shows it worst.
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
    spread: Spread | float = 0.0,
    needed: float | None = None,
    p: float = 0.95,
) -> Comparison:
    """Return how records compare.

    ``values`` (n, k): k numbers of each of n records; ``cov`` (k, k), or (n, k, k) record by record, their covariance
    from each record's own readings, which may have less than full rank; ``spread`` how honest records vary besides
    (one number: their SD in each feature; zero: compare against reading alone). Each record is held against the
    mean of the others by the distance ``d' C^-1 d`` over its rank, F-distributed with the degrees of freedom behind the
    repeatability (chi-square where it is exact); the risk of a false alarm, ``1 - p``, is shared among the looks.
    ``needed`` is the difference that must not be missed: where one so large would go unseen in half of the sets, records
    that agree only ``cannot tell``. Two records that differ cannot say which is off: ``differ``. Raises ValueError
    for shapes that do not match, or one record.
    """
    table = np.asarray(values, dtype=np.float64)
    n, k = len(names), len(feature_names)
    own = np.asarray(cov, dtype=np.float64)
    own = np.broadcast_to(own, (n, k, k)) if own.ndim == 2 and own.shape == (k, k) else own
    if table.shape != (n, k) or own.shape != (n, k, k) or n < 2 or k < 1:
        raise ValueError(
            "values must be (records, features) and cov (features, features), with two records or more"
        )
    if not (np.all(np.isfinite(table)) and np.all(np.isfinite(own))):
        raise ValueError("values must be finite")
    vary = spread if isinstance(spread, Spread) else Spread(spread, np.eye(k))
    joint = joint_cov(own, vary)
    features = _features(table, joint, vary, feature_names, 1.0 - (1.0 - p) / k)
    every = list(range(n))
    looks = [look(table, joint, vary, _against_others(n, i)) for i in every]
    tails = tuple(one.tail for one in looks)
    off = np.stack([row - np.delete(table, i, axis=0).mean(axis=0) for i, row in enumerate(table)])
    # Two records have one difference: the look at each and the look at both are one look.
    share = (1.0 - p) if n == 2 else (1.0 - p) * (1.0 - _TOGETHER_SHARE) / n
    all_share = (1.0 - p) if n == 2 else (1.0 - p) * _TOGETHER_SHARE
    detectable = max(_found_in_half(one, share) for one in looks)
    inverse_root = _whitening(own.mean(axis=0) + vary.s**2 * vary.shape)

    def said(agreement: Agreement, outlier: str | None, among: Sequence[int]) -> Comparison:
        white = table[list(among)] @ inverse_root
        mount_on = names[among[_nearest_median(white)]]
        return Comparison(agreement, features, outlier, tails, off, mount_on, detectable)

    worst = min(every, key=lambda i: (tails[i], -looks[i].far))
    if tails[worst] >= share and _together(table, joint, vary, every) >= all_share:
        unsure = needed is not None and detectable > needed
        return said("cannot tell" if unsure else "same", None, every)
    if n == 2:
        return said("differ", None, every)
    rest = [i for i in every if i != worst]
    # The others are held to the whole risk: they are looked at once more, after one has gone.
    if tails[worst] < share and _together(table, joint, vary, rest) >= 1.0 - p:
        return said("one stands out", names[worst], rest)
    return said("scattered", None, every)


def groups_apart(values: ArrayLike, cov: ArrayLike, groups: Sequence[str], spread: Spread) -> float:
    """Return how often the means of ``groups`` of honest records (one label a record) would lie so far apart.

    ``values`` (n, k) and ``cov`` (n, k, k) as for ``compare_records``; 1 for a single group.
    """
    table, own = np.asarray(values, dtype=np.float64), np.asarray(cov, dtype=np.float64)
    labels = list(dict.fromkeys(groups))
    means = np.array([[float(g == label) / groups.count(label) for g in groups] for label in labels])
    if len(labels) < 2:
        return 1.0
    return look(table, joint_cov(own, spread), spread, means[1:] - means[0]).tail


def _against_others(n: int, i: int) -> Array:
    row = np.full((1, n), -1.0 / (n - 1))
    row[0, i] = 1.0
    return row


def _together(table: Array, joint: Array, vary: Spread, among: Sequence[int]) -> float:
    """Return the probability of a scatter at least as large among honest records."""
    if len(among) < 2:
        return 1.0
    contrasts = np.zeros((len(among) - 1, table.shape[0]))
    contrasts[:, among[0]] = -1.0
    contrasts[range(len(among) - 1), among[1:]] = 1.0
    return look(table, joint, vary, contrasts).tail


def _found_in_half(one: Looked, share: float) -> float:
    """Return the change of one feature that this look finds in half of the cases, where the feature shows it worst.

    Of all changes of a record that move a feature by ``d``, the one seen worst adds ``d^2 / var`` to the statistic.
    """
    return math.sqrt(_half(share, one.rank, one.dof) * float(np.max(np.diag(one.cov))))


@lru_cache(maxsize=256)
def _half(share: float, rank: int, dof: float) -> float:
    return noncentral_for(threshold(share, rank, dof), rank, 0.5)


def _whitening(cov: Array) -> Array:
    """Return (k, rank): features times this have unit covariance; directions without doubt or meaning are left out."""
    scale, axes = np.linalg.eigh(cov)
    live = scale > RANK_CUT * float(scale[-1])
    out: Array = axes[:, live] / np.sqrt(scale[live])
    return out


def _features(
    table: Array, joint: Array, vary: Spread, names: Sequence[str], p: float
) -> tuple[Feature, ...]:
    n, k = table.shape
    out = []
    for j, name in enumerate(names):
        v = joint.reshape(n, k, n, k)[:, j, :, j]
        apart = np.add.outer(np.diag(v), np.diag(v)) - 2.0 * v
        pairs = apart[np.triu_indices(n, 1)]
        sd = math.sqrt(0.5 * float(np.mean(pairs)))
        share = vary.s**2 * float(vary.shape[j, j]) / sd**2 if sd > 0.0 else 0.0
        dof = vary.dof / share**2 if share > 0.0 else math.inf
        alike = float(np.ptp(pairs)) <= _ALIKE * float(np.max(pairs))
        factor = range_factor(n, p, dof) if alike or sd == 0.0 else _drawn_factor(v / sd**2, p, dof)
        own = tuple(float(x) for x in table[:, j])
        out.append(Feature(name, own, sd, float(np.ptp(table[:, j])), factor * sd))
    return tuple(out)


#: Variances of differences that are so much alike move the critical range by less than a hundredth.
_ALIKE = 0.05


def _drawn_factor(cov: Array, p: float, dof: float) -> float:
    """Return the quantile of the range of normal values with this covariance (n, n): records that are not known alike."""
    n = cov.shape[0]
    scale, axes = np.linalg.eigh(cov)
    drawn = _normals(n) @ (axes * np.sqrt(np.clip(scale, 0.0, None))).T
    ranges = drawn.max(axis=1) - drawn.min(axis=1)
    if math.isfinite(dof):
        ranges = ranges / np.sqrt(np.random.default_rng(n).chisquare(dof, _DRAWS) / dof)
    return float(np.quantile(ranges, p))


@lru_cache(maxsize=8)
def _normals(n: int) -> Array:
    """Return the same normal values (draws, n) at every call, so that an answer is the same again."""
    return np.random.default_rng(n).standard_normal((_DRAWS, n))


def _nearest_median(white: Array) -> int:
    return int(np.argmin(np.sum((white - np.median(white, axis=0)) ** 2, axis=1)))
