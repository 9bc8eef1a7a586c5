"""What trying again until one mounting pleases does to the comfort of the last one."""

from __future__ import annotations

import numpy as np

from mountproof.doubt.normal import below


def false_comfort(miss: float, attempts: int) -> float:
    """Return the chance that one of several mountings that are off passes its checks, if each passes with ``miss``.

    ``1 - (1 - miss)^k``: each attempt is one more chance to be pleased by accident. ValueError for no attempt or no share.
    """
    if attempts < 1 or not 0.0 <= miss <= 1.0:
        raise ValueError("one attempt or more, and a chance between 0 and 1")
    return float(1.0 - (1.0 - miss) ** attempts)


def best_of(attempts: int) -> float:
    """Return how large the smallest of several readings is, as a part of a single one, where nothing differs but noise.

    The mean of the least of k independent ``|N|`` over the mean of one: the integral of ``P(|N| > x)^k`` over ``x``,
    divided by ``sqrt(2 / pi)``. Reading a pin at 0.05 after three attempts says as much as 0.12 after one.
    """
    if attempts < 1:
        raise ValueError("one attempt or more")
    x = np.linspace(0.0, 9.0, 9001)
    tail = (2.0 * below(-x)) ** attempts
    area = float(np.sum(0.5 * (tail[1:] + tail[:-1]) * np.diff(x)))
    return area / float(np.sqrt(2.0 / np.pi))
