"""Shared random motions, points and covariances for the laws."""

from __future__ import annotations

import os

import numpy as np
from hypothesis import Phase, settings
from hypothesis import strategies as st

from mountproof.geometry.poses import exp6

#: A planted fault shows within a few examples and need not be made small; the whole run is for the laws themselves.
if os.environ.get("PLANTED"):
    law = settings(max_examples=8, derandomize=True, deadline=None, phases=(Phase.explicit, Phase.generate))
else:
    law = settings(max_examples=80, derandomize=True, deadline=None)

MM = st.floats(-150, 150, allow_subnormal=False)
ANGLE = st.floats(-3.0, 3.0, allow_subnormal=False)
SMALL = st.floats(-0.2, 0.2, allow_subnormal=False)


def vectors(values=MM):
    return st.tuples(values, values, values).map(lambda t: np.array(t, dtype=np.float64))


def directions():
    return (
        vectors(st.floats(-1, 1))
        .filter(lambda v: np.linalg.norm(v) > 0.1)
        .map(lambda v: v / np.linalg.norm(v))
    )


#: Angles of every size: none, a billionth of a radian, and almost half a turn.
ANGLES = st.one_of(st.floats(0.0, 3.1), st.floats(-12, 0.4).map(lambda e: 10.0**e), st.just(0.0))
twists = st.builds(lambda d, a, t: np.concatenate([d * a, t]), directions(), ANGLES, vectors())
poses = twists.map(exp6)


def _cov(seed):
    rng = np.random.default_rng(seed)
    root = rng.normal(size=(6, 6)) * np.array([1e-3] * 3 + [0.1] * 3)[:, None]
    return root @ root.T


covariances = st.integers(0, 2**32 - 1).map(_cov)


def cloud(seed, count):
    """Points spread over a jaw, never near one line."""
    rng = np.random.default_rng(seed)
    base = np.array([[84.0, -35.0, 1.0], [50.0, -36.0, 25.0], [48.0, -33.0, -26.0]])
    more = rng.uniform([30, -60, -40], [100, 0, 40], size=(max(count - 3, 0), 3))
    return np.vstack([base + rng.uniform(-3, 3, size=(3, 3)), more])[:count]


clouds = st.builds(cloud, st.integers(0, 2**32 - 1), st.integers(4, 9))
