"""Contacts before and after a surface was thinned out or the pose moved (traps 53 and 54)."""

from __future__ import annotations

import numpy as np
import pytest

from mountproof.occlusion.site_changes import changes
from mountproof.occlusion.sites import SiteTable, at_closure
from occlusion.open_arch_files import read_open_arch
from occlusion.test_sites import blocks_sited, first_rad, sited


def test_nothing_changed_says_nothing() -> None:
    s = blocks_sited()
    table = at_closure(s, first_rad(s))
    assert changes(table, table) == ()
    with pytest.raises(ValueError, match="same foils"):
        changes(table, at_closure(s, 0.0, (8.0,)))


def test_a_tenth_of_a_millimetre_moves_the_list_and_back() -> None:
    s = blocks_sited()
    near, far = at_closure(s, first_rad(s) + 0.0015), at_closure(s, first_rad(s))
    lost, gained = changes(near, far), changes(far, near)
    assert lost and all((c.before, c.after) == ("holds", "free") and c.gap_grew_mm > 0 for c in lost)
    assert {(c.tooth, c.foil_um) for c in lost} == {(c.tooth, c.foil_um) for c in gained}
    for c, d in zip(lost, gained, strict=True):
        assert c.gap_grew_mm == pytest.approx(-d.gap_grew_mm)


def thinned(
    v: np.ndarray, f: np.ndarray, t: np.ndarray, cell_mm: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Vertices of one tooth in one cube become their mean: plain clustering, about a tenth of the faces left."""
    tooth_of = np.zeros(len(v), dtype=np.int64)
    tooth_of[f.ravel()] = np.repeat(t, 3)
    key = np.concatenate([np.floor(v / cell_mm).astype(np.int64), tooth_of[:, None]], axis=1)
    _, to, n = np.unique(key, axis=0, return_inverse=True, return_counts=True)
    to = to.ravel()
    mean = np.stack([np.bincount(to, v[:, k]) for k in range(3)], axis=1) / n[:, None]
    g = to[f].astype(np.int32)
    keep = (g[:, 0] != g[:, 1]) & (g[:, 1] != g[:, 2]) & (g[:, 2] != g[:, 0])
    return mean, g[keep], t[keep]


@pytest.mark.open_arches
def test_thinning_out_cuts_cusps_and_is_reported(open_arches) -> None:  # type: ignore[no-untyped-def]
    upper, lower = read_open_arch(open_arches, "upper"), read_open_arch(open_arches, "lower")
    whole = sited(upper, lower)
    closed = first_rad(whole)
    before: SiteTable = at_closure(whole, closed)
    coarse_upper, coarse_lower = thinned(*upper, 0.95), thinned(*lower, 0.95)
    assert len(coarse_upper[1]) < 0.12 * len(upper[1])
    after = at_closure(sited(coarse_upper, coarse_lower), closed)
    told = changes(before, after)
    assert told
    # Clustering to the mean takes off tips: where a state changes it is a contact lost far more often than gained.
    lost = [c for c in told if c.before == "holds"]
    assert len(lost) > len(told) / 2
