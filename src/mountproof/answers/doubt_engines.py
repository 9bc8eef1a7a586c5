"""Part of question 8: the doubt before any check computed twice, as a sum of steps and by draws of whole motions."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from mountproof.answers.doubt_budget import PLACES, WANTED, Ground, dof_of
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Table
from mountproof.doubt.blocks import Joined, join
from mountproof.doubt.chain import ROUTES
from mountproof.doubt.motions import MIDDLE_MM
from mountproof.doubt.two_engines import Both, Model, two_engines
from mountproof.geometry.poses import Array
from mountproof.said import figure, joined, say

#: Seed of the draws: the same case gives the same figures.
_SEED: Final = 20260317
#: So many draws at most; a linear sum of steps needs a quarter of them.
_MOST_DRAWS: Final = 200_000


def tell_engines(ground: Ground, ledger: Ledger) -> None:
    """Note both ways of computing side by side: the linear sum, and draws of whole motions one after the other."""
    both = _both(_Engine(ground))
    differ = both.compared.differs
    rows_ = tuple(
        (
            w.words,
            figure(0.5 * float(both.first.high[i] - both.first.low[i]), ".2f"),
            figure(0.5 * float(both.drawn.symmetric[i, 1] - both.drawn.symmetric[i, 0]), ".2f"),
            say("differ") if differ[i] else say("the same"),
        )
        for i, w in enumerate(WANTED)
    )
    ledger.tables.append(
        Table(
            say("Before any check, ± mm (95 %), computed in two ways"),
            ("", say("steps added up"), say("steps drawn"), ""),
            rows_,
            say(
                "Drawn: {n} mountings, every step a whole motion of the cast, one after the other. The two differ where "
                "an end of the interval moves by more than half a unit of the first digit of u (JCGM 101:2008, clause 8).",
                n=both.drawn.n,
            ),
        )
    )
    if np.any(differ):
        names = joined(", ", (w.words for w, d in zip(WANTED, differ, strict=True) if d))
        ledger.notes.append(
            say(
                "The two ways of computing differ for: {names}. The drawn figures are the better ones.",
                names=names,
            )
        )


class _Engine:
    """The ground, equal to another where the numbers that the draws depend on are."""

    def __init__(self, ground: Ground) -> None:
        self.ground = ground
        dofs = str([dof_of(ground, b.key) for b in ground.joined.blocks])
        honest = ground.chain.chain.network.honest
        parts = [ground.route.encode(), dofs.encode(), ground.joined.cov.tobytes(), honest.tobytes()]
        self._told = b"|".join(parts)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Engine) and self._told == other._told

    def __hash__(self) -> int:
        return hash(self._told)


@lru_cache(maxsize=16)
def _both(engine: _Engine) -> Both:
    ground = engine.ground
    live = [b for b in ground.joined.blocks if np.any(ground.rows[:, ground.joined.columns[b.key]])]
    small = join(live)
    take = [w.row for w in WANTED]
    jacobian = np.concatenate([ground.rows[take][:, ground.joined.columns[b.key]] for b in live], axis=1)
    return two_engines(
        whole_motions(ground, small),
        small,
        np.random.default_rng(_SEED),
        jacobian=jacobian,
        most=_MOST_DRAWS,
    )


def whole_motions(ground: Ground, steps: Joined) -> Model:
    """Return the five wanted numbers as a function of draws (n, K) of ``steps``, every step a rigid motion, not its first order.

    Steps act one after the other; each turns about the middle of the teeth by its whole angle (Rodrigues).
    """
    network = ground.chain.chain.network
    route = network.pick(*ROUTES[ground.route]) @ network.honest  # (6, K of the chain)
    parts = [(where, route[:, ground.joined.columns[key]]) for key, where in steps.columns.items()]
    middle = np.array(MIDDLE_MM)
    at = np.array([place for _, _, place in PLACES])
    take = [w.row for w in WANTED]

    def f(x: Array) -> Array:
        p = np.broadcast_to(at, (x.shape[0], *at.shape)) - middle
        for where, motion in parts:
            down, pitch, roll, ahead, right, yaw = (x[:, where] @ motion.T).T
            turn = np.stack([roll, -yaw, -pitch], axis=1)[:, None]
            p = _turned(p, turn) + np.stack([ahead, -down, right], axis=1)[:, None]
        d = p + middle - at
        out = np.stack([-d[..., 1], d[..., 0], d[..., 2]], axis=2).reshape(x.shape[0], 9)
        return out[:, take]

    return f


def _turned(p: Array, turn: Array) -> Array:
    """Turn places (n, k, 3) by rotation vectors (n, 1, 3)."""
    angle = np.sqrt(np.sum(turn**2, axis=2, keepdims=True))
    once = np.cross(turn, p)
    out: Array = (
        p + np.sinc(angle / np.pi) * once + 0.5 * np.sinc(0.5 * angle / np.pi) ** 2 * np.cross(turn, once)
    )
    return out
