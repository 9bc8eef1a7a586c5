"""One better measurement: what the doubt of a wanted number becomes if one step is done better, repeated, or looked at.

All is linear and normal, so the doubt after a measurement does not depend on what it will read, and is closed form.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.doubt.blocks import Joined, root_of
from mountproof.doubt.posterior import condition, linear_look
from mountproof.geometry.poses import Array


class Sharper(NamedTuple):
    """One block done better: its standard uncertainties times ``factor``; what it shares with others keeps its correlation.

    Where its error takes away from that of another block, less of it may leave more doubt in all.
    """

    key: str
    block: str
    factor: float


class Repeated(NamedTuple):
    """One block read ``times`` and averaged. ``stays`` (k, k) is the part of its covariance that no repeat takes away.

    Where the block hangs together with others, at least what they explain of it stays.
    """

    key: str
    block: str
    times: int
    stays: Array | None = None


class Added(NamedTuple):
    """A look that was not made yet: it reads ``rows`` (m, K) with noise ``cov`` (m, m), ``times`` and averaged."""

    key: str
    rows: Array
    cov: Array
    times: int = 1


Candidate = Sharper | Repeated | Added


class Bought(NamedTuple):
    """What a candidate buys: standard uncertainties (r,) before and after, and the largest after as part of that before."""

    candidate: Candidate
    before: Array
    after: Array
    remains: float


class HowMany(NamedTuple):
    """The smallest number that does (None if none does), the doubt with it, and the floor that no number goes below."""

    times: int | None
    u: float
    floor: float


#: More repeats than this nobody makes.
MOST_TIMES: Final = 1_000_000
#: Parts of a variance below this are rounding.
_ROUNDING: Final = 1e-9


def covariance_after(joined: Joined, candidate: Candidate) -> Array:
    """Return the covariance (K, K) of all inputs with the candidate carried out.

    Raises ValueError for a block that is not there, a factor or number out of range, or a part that stays and is larger
    than the whole.
    """
    s = joined.cov
    if isinstance(candidate, Added):
        if candidate.times < 1:
            raise ValueError("a look is made once or more")
        noise = np.atleast_2d(np.asarray(candidate.cov, dtype=np.float64)) / candidate.times
        rows = np.atleast_2d(candidate.rows)
        look = linear_look(candidate.key, rows, rows @ joined.centre, noise)
        return condition(joined.centre, s, (look,)).cov
    where = joined.columns.get(candidate.block)
    if where is None:
        raise ValueError(f"there is no block {candidate.block}")
    out = s.copy()
    if isinstance(candidate, Sharper):
        if not candidate.factor >= 0.0:
            raise ValueError("a factor is not below zero")
        out[where] *= candidate.factor
        out[:, where] *= candidate.factor
        return out
    if candidate.times < 1:
        raise ValueError("a block is read once or more")
    stays = _stays(joined, candidate)
    out[where, where] = stays + (s[where, where] - stays) / candidate.times
    return out


def u_of(rows: ArrayLike, cov: Array) -> Array:
    """Return the standard uncertainties (r,) of wanted numbers ``rows`` (r, K) under ``cov`` (K, K)."""
    t = np.atleast_2d(np.asarray(rows, dtype=np.float64))
    out: Array = np.sqrt(np.maximum(np.einsum("rk,kl,rl->r", t, cov, t), 0.0))
    return out


def better(rows: ArrayLike, joined: Joined, candidates: Sequence[Candidate]) -> list[Bought]:
    """Return what each candidate makes of the doubt of wanted numbers ``rows`` (r, K), the best first.

    The best leaves least of the largest standard uncertainty; of equal ones the first given.
    """
    before = u_of(rows, joined.cov)
    out = []
    for one in candidates:
        after = u_of(rows, covariance_after(joined, one))
        most = float(before.max()) if before.size else 0.0
        out.append(Bought(one, before, after, float(after.max()) / most if most > 0.0 else 1.0))
    return sorted(out, key=lambda b: b.remains)


def how_many(rows: ArrayLike, joined: Joined, candidate: Repeated | Added, wanted: float) -> HowMany:
    """Return the smallest number of repeats of a block, or of a look, with every wanted number known to ``wanted``.

    ``rows`` (r, K). Both fall as the number grows: a block by ``floor^2 + c / n``, a look by a sum of such terms over
    the directions it sees. None where the floor is above ``wanted``, or a million would not do. Raises ValueError for
    ``wanted`` not above zero.
    """
    if not wanted > 0.0:
        raise ValueError("the wanted standard uncertainty is above zero")
    floor = float(u_of(rows, _floor(joined, candidate)).max())

    def u(n: int) -> float:
        return float(u_of(rows, covariance_after(joined, candidate._replace(times=n))).max())

    if u(1) <= wanted:
        return HowMany(1, u(1), floor)
    if floor > wanted or u(MOST_TIMES) > wanted:
        return HowMany(None, u(MOST_TIMES), floor)
    few, many = 1, 2
    while u(many) > wanted:
        few, many = many, min(2 * many, MOST_TIMES)
    while many - few > 1:
        middle = (few + many) // 2
        few, many = (few, middle) if u(middle) <= wanted else (middle, many)
    return HowMany(many, u(many), floor)


def _floor(joined: Joined, candidate: Repeated | Added) -> Array:
    """Covariance (K, K) after endlessly many repeats."""
    s = joined.cov
    if isinstance(candidate, Repeated):
        where = joined.columns.get(candidate.block)
        if where is None:
            raise ValueError(f"there is no block {candidate.block}")
        out = s.copy()
        out[where, where] = _stays(joined, candidate)
        return out
    exact = candidate._replace(cov=np.zeros_like(np.atleast_2d(candidate.cov)), times=1)
    return covariance_after(joined, exact)


def _stays(joined: Joined, candidate: Repeated) -> Array:
    """The part (k, k) of a block's covariance that repeats leave."""
    where = joined.columns[candidate.block]
    own = joined.cov[where, where]
    least = np.zeros_like(own)
    if joined.linked:
        rest = np.ones(joined.cov.shape[0], dtype=bool)
        rest[where] = False
        cross = joined.cov[where][:, rest]
        if np.any(cross):
            other = joined.cov[np.ix_(rest, rest)]
            size = np.sqrt(np.where(np.diag(other) > 0.0, np.diag(other), 1.0))
            inverse = np.linalg.pinv(root_of(other) / size[:, None])
            told = inverse @ (cross / size).T
            least = told.T @ told
    stays = least if candidate.stays is None else np.atleast_2d(np.asarray(candidate.stays, dtype=np.float64))
    size = np.sqrt(np.where(np.diag(own) > 0.0, np.diag(own), 1.0))
    if stays.shape != own.shape or any(
        np.linalg.eigvalsh(part / np.outer(size, size))[0] < -_ROUNDING
        for part in (stays - least, own - stays)
    ):
        raise ValueError(
            f"{candidate.block}: what repeats leave lies between what other blocks explain and the whole covariance"
        )
    return stays
