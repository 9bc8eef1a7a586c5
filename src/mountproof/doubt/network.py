"""How the steps hang together: which quantity each step and each fault moves, so that any check is rows over them.

Quantities are named blocks of one long vector: motions (six parts, ``motions.MOTION``) or single numbers.

    record/k  how record k holds the jaw, against the middle of honest records (k = 0: the mounted one)
    seat/k    how record k lay on the casts, against its own full seat
    set       luting and set             play   the instrument
    cast      what the casts' own errors do to how they meet
    axis      what a wrong hinge axis does when the record is closed
    held      what keeps the casts apart with the record out
    mouth     what changed in the mouth, or how its list was made
    width, twist, pin   single numbers
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from mountproof.doubt.hypotheses import Mode
from mountproof.doubt.steps import Step
from mountproof.geometry.poses import Array

_MOTIONS: Final = ("set", "play", "cast", "axis", "held", "mouth")
_NUMBERS: Final = ("width", "twist", "pin")
#: Of what the mounting itself adds to its record.
OF_MOUNTING: Final = ("seat/0", "set", "play")
#: What a fault can put the mounting off by, as far as its records go: casts and axis are no matter of the mounting.
JUDGED: Final = ("record/0", "seat/0", "set", "play", "held")
#: Of what the casts on the instrument show against the mouth.
SHOWN: Final = ("record/0", "seat/0", "set", "play", "cast", "axis", "held")


class Fault(NamedTuple):
    """A mode of fault with what its amplitudes move: block and columns (6, k) or (1, k)."""

    mode: Mode
    moves: tuple[tuple[str, Array], ...]


class Network(NamedTuple):
    """Honest columns (d, nz) with their covariance, columns of the amplitudes (d, nf), and the modes they belong to."""

    records: tuple[str, ...]
    blocks: dict[str, slice]
    honest: Array
    honest_cov: Array
    faults: Array
    modes: tuple[Mode, ...]

    def rows(self, picked: Array) -> tuple[Array, Array]:
        """Return what rows over the quantities (m, d) read of the honest parts (m, nz) and of the amplitudes (m, nf)."""
        return picked @ self.honest, picked @ self.faults

    def pick(self, *names: str, minus: Sequence[str] = ()) -> Array:
        """Return rows (6 or 1, d) that add the named blocks and take away those of ``minus``."""
        size = self.blocks[names[0]].stop - self.blocks[names[0]].start
        d = self.honest.shape[0]
        out = np.zeros((size, d))
        for sign, group in ((1.0, names), (-1.0, minus)):
            for name in group:
                out[:, self.blocks[name]] += sign * np.eye(size)
        return out

    def against(self, k: int, *, seated: bool = True) -> Array:
        """Return rows (6, d): the mounting less record k, fully seated, or as it lay when it was measured."""
        minus = [f"record/{k}"] if seated else [f"record/{k}", f"seat/{k}"]
        if k == 0:  # the record cancels; what is left is what the mounting added to it
            return self.pick(*OF_MOUNTING) if seated else self.pick("set", "play")
        return self.pick("record/0", *OF_MOUNTING, minus=minus)


def build(records: Sequence[str], steps: Sequence[tuple[str, Step]], faults: Sequence[Fault]) -> Network:
    """Return the network of named records (the mounted one first), steps by block, and faults.

    A number block (``width``, ``twist``, ``pin``) takes a step with a motion (1, k). Raises KeyError for an unknown block.
    """
    blocks: dict[str, slice] = {}
    at = 0
    motions = [f"{kind}/{k}" for k in range(len(records)) for kind in ("record", "seat")]
    for name in (*motions, *_MOTIONS):
        blocks[name] = slice(at, at + 6)
        at += 6
    for name in _NUMBERS:
        blocks[name] = slice(at, at + 1)
        at += 1
    columns, covs = [], []
    for name, step in steps:
        column = np.zeros((at, step.motion.shape[1]))
        column[blocks[name]] = step.motion
        columns.append(column)
        covs.append(step.cov)
    cov = np.zeros((sum(c.shape[0] for c in covs),) * 2)
    k = 0
    for c in covs:
        cov[k : k + c.shape[0], k : k + c.shape[0]] = c
        k += c.shape[0]
    moved = []
    for fault in faults:
        column = np.zeros((at, fault.mode.mean.shape[0]))
        for name, what in fault.moves:
            column[blocks[name]] += what
        moved.append(column)
    return Network(
        tuple(records),
        blocks,
        np.concatenate(columns, axis=1) if columns else np.zeros((at, 0)),
        cov,
        np.concatenate(moved, axis=1) if moved else np.zeros((at, 0)),
        tuple(f.mode for f in faults),
    )
