"""What may have gone wrong, as modes of fault, and every way in which few of them act together.

A mode is a few amplitudes that are exactly zero while the step is in order, and normal with ``mean`` and ``cov`` when it
is not; ``odds`` is its chance before any check. A hypothesis is the set of modes that act. Modes are independent before
the checks, so its prior is the product of ``odds / (1 - odds)``. At most two of the ``main`` modes act at once, and beside
them at most one of those that do not touch the mounting (another record that stands out): two faults that cancel are
weighed as well as each of them alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, pairwise
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry.poses import Array

#: A cause that a person may be told of is named by this where nothing acts.
NOTHING: Final = "nothing"


class Mode(NamedTuple):
    """One way in which one step fails: its name, the cause it counts to, its chance, and its amplitudes (k,), (k, k).

    ``beside`` is true for what does not touch the mounting itself.
    """

    key: str
    cause: str
    odds: float
    mean: Array
    cov: Array
    beside: bool = False


class Hypotheses(NamedTuple):
    """All hypotheses: the modes that act in each (indices), and the logarithm of the prior of each (normalised)."""

    modes: tuple[Mode, ...]
    acting: tuple[tuple[int, ...], ...]
    log_prior: Array

    def causes(self) -> tuple[str, ...]:
        """Return the names of all causes: ``NOTHING``, those of the main modes, then those beside."""
        main = [m.cause for m in self.modes if not m.beside]
        return tuple(dict.fromkeys([NOTHING, *main, *(m.cause for m in self.modes if m.beside)]))

    def orderly(self) -> NDArray[np.bool_]:
        """Return (hypotheses,): whether no main mode acts, so that the mounting is in order."""
        return np.array([all(self.modes[i].beside for i in acting) for acting in self.acting])

    def columns(self) -> tuple[slice, ...]:
        """Return which columns of the amplitudes each mode owns."""
        ends = np.cumsum([0, *(m.mean.shape[0] for m in self.modes)])
        return tuple(slice(int(a), int(b)) for a, b in pairwise(ends))

    def named(self) -> NDArray[np.bool_]:
        """Return (causes, hypotheses): whether a cause is the explanation in a hypothesis.

        What stands beside explains only where no main mode acts, ``NOTHING`` only where nothing acts.
        """
        names = self.causes()
        out = np.zeros((len(names), len(self.acting)), dtype=bool)
        for h, acting in enumerate(self.acting):
            main = [self.modes[i].cause for i in acting if not self.modes[i].beside]
            for cause in main or [self.modes[i].cause for i in acting] or [NOTHING]:
                out[names.index(cause), h] = True
        return out


def likeliest(hypotheses: Hypotheses, most: int) -> Hypotheses:
    """Return the ``most`` hypotheses with the largest priors, normalised again."""
    keep = np.sort(np.argsort(-hypotheses.log_prior, kind="stable")[:most])
    return among(hypotheses, keep)


def among(hypotheses: Hypotheses, keep: NDArray[np.intp]) -> Hypotheses:
    """Return some of the hypotheses (indices), their priors normalised again."""
    logs = hypotheses.log_prior[keep]
    logs = logs - logs.max()
    logs = logs - np.log(np.sum(np.exp(logs)))
    return Hypotheses(hypotheses.modes, tuple(hypotheses.acting[int(i)] for i in keep), logs)


def enumerate_hypotheses(modes: Sequence[Mode], least: float = 0.0) -> Hypotheses:
    """Return every hypothesis of at most two main modes and one beside, whose prior odds are at least ``least``.

    Raises ValueError for a chance outside (0, 1).
    """
    if any(not 0.0 < m.odds < 1.0 for m in modes):
        raise ValueError("the chance of a mode lies between 0 and 1")
    main = [i for i, m in enumerate(modes) if not m.beside]
    beside = [(i,) for i, m in enumerate(modes) if m.beside]
    logit = [float(np.log(m.odds) - np.log1p(-m.odds)) for m in modes]
    sets = [(), *((i,) for i in main), *combinations(main, 2)]
    floor = np.log(least) if least > 0.0 else -np.inf
    acting, prior = [], []
    for chosen in sets:
        for more in ((), *beside):
            weight = sum(logit[i] for i in (*chosen, *more))
            if weight >= floor or not (chosen or more):
                acting.append((*chosen, *more))
                prior.append(weight)
    logs = np.array(prior)
    logs -= logs.max()
    logs -= np.log(np.sum(np.exp(logs)))
    return Hypotheses(tuple(modes), tuple(acting), logs)
