"""The orderly steps of a case as one chain: what stands between a number on the instrument, or on screen, and the mouth."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from mountproof.doubt.network import SHOWN, Network, build
from mountproof.doubt.steps import Step
from mountproof.geometry.poses import Array

#: Blocks that count, by what is asked: casts mounted on an instrument, or scans held together by a scanned record
#: (nothing was luted, and no instrument has play).
ROUTES: Final[dict[str, tuple[str, ...]]] = {
    "mounted": SHOWN,
    "scans": ("record/0", "seat/0", "cast", "axis"),
}


class ChainStep(NamedTuple):
    """One step: its ``key``, the ``block`` of the network that it moves, and ``dof`` behind its covariance.

    ``also``: further blocks that move by the very same numbers (two records of one visit, or of one material).
    """

    key: str
    block: str
    step: Step
    dof: float = math.inf
    also: tuple[str, ...] = ()


class Chain(NamedTuple):
    """The network of honest steps, and which of its honest columns belong to each step key."""

    records: tuple[str, ...]
    network: Network
    columns: dict[str, slice]
    dofs: dict[str, float]


def chain(records: Sequence[str], steps: Sequence[ChainStep]) -> Chain:
    """Return the chain of named records (the mounted one first) and steps, without any fault.

    Raises KeyError for an unknown block, ValueError for a key that stands twice.
    """
    keys = [one.key for one in steps]
    if len(set(keys)) != len(keys):
        raise ValueError("every step needs a key of its own")
    network = build(records, [(one.block, one.step) for one in steps], ())
    honest = network.honest.copy()
    columns, at = {}, 0
    for one in steps:
        where = slice(at, at + one.step.motion.shape[1])
        columns[one.key] = where
        for block in one.also:
            honest[network.blocks[block], where] = one.step.motion
        at = where.stop
    return Chain(
        tuple(records), network._replace(honest=honest), columns, {one.key: one.dof for one in steps}
    )


def rows(chain: Chain, blocks: Sequence[str], places: ArrayLike) -> Array:
    """Return what places (m, 3, 6 of ``motions.at_place``) read of the honest numbers, over some blocks: (m, 3, nz)."""
    at = np.asarray(places, dtype=np.float64)
    picked = chain.network.pick(*blocks) @ chain.network.honest
    return np.asarray(at @ picked, dtype=np.float64)


def sds(chain: Chain, blocks: Sequence[str], places: ArrayLike) -> dict[str, Array]:
    """Return for each step one SD (m, 3) at places (m, 3, 6), down, ahead and right, over some blocks."""
    all_rows = rows(chain, blocks, places)
    out = {}
    for key, where in chain.columns.items():
        own = all_rows[..., where]
        cov = chain.network.honest_cov[where, where]
        out[key] = np.sqrt(np.einsum("mij,jk,mik->mi", own, cov, own))
    return out
