"""Patches against a general-purpose labelling, and labels spread by brute force."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import ndimage

from mountproof.geometry.patches import patches, spread_labels

SHAPES = st.tuples(st.integers(1, 12), st.integers(1, 12))


@given(SHAPES.flatmap(lambda s: arrays(np.bool_, s)))
def test_as_scipy_labels_them(mask: np.ndarray) -> None:
    got, count = patches(mask)
    want, n = ndimage.label(mask, structure=np.ones((3, 3)))
    assert count == n
    assert (got == want - 1).all()


@given(
    SHAPES.flatmap(lambda s: st.tuples(arrays(np.int32, s, elements=st.integers(0, 3)), arrays(np.bool_, s)))
)
def test_labels_spread_only_into_the_hole_and_from_the_nearest(case: tuple[np.ndarray, np.ndarray]) -> None:
    label, hole = case
    into = hole & (label == 0)
    got = spread_labels(label, into)
    assert (got[~into] == label[~into]).all()
    filled = into & (got > 0)
    for r, c in np.argwhere(filled):
        around = [got[u, v] for u, v in ((r - 1, c), (r + 1, c), (r, c - 1), (r, c + 1))
                  if 0 <= u < got.shape[0] and 0 <= v < got.shape[1]]  # fmt: skip
        assert got[r, c] in around
    # What stays empty touches no label.
    for r, c in np.argwhere(into & (got == 0)):
        for u, v in ((r - 1, c), (r + 1, c), (r, c - 1), (r, c + 1)):
            assert not (0 <= u < got.shape[0] and 0 <= v < got.shape[1]) or got[u, v] == 0
