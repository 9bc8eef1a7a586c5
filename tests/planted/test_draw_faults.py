"""One-line faults in the first contact of many small motions, each of which rough ground closed pair by pair must notice."""

import pytest

from planted.harness import Planted, goes_red

LAWS = ("tests/geometry/test_draws_rough.py::test_rough_ground_closes_as_it_does_by_itself",)

FAULTS = [
    Planted(
        "lids are laid above what they bound",
        "geometry/_parts.py",
        line="alpha = min(alpha, least - sag if sag < np.inf else -np.inf)",
        instead="alpha = min(alpha, least + 0.01 if sag < np.inf else -np.inf)",
        laws=LAWS,
    ),
    Planted(
        "the last edge of a leaf is never tried",
        "geometry/_leaf_pairs.py",
        line="for i in range(edge_starts[a], edge_starts[a + 1]):",
        instead="for i in range(edge_starts[a], edge_starts[a + 1] - 1):",
        laws=LAWS,
    ),
    Planted(
        "what closing took back is forgotten once a contact is found",
        "geometry/_leaf_pairs.py",
        line="        cut[lane] = got + told[k, 5] + slack\n",
        instead="        cut[lane] = got - abs(told[k, 5]) + slack\n",
        laws=LAWS,
    ),
    Planted(
        "ridges are taken for valleys",
        "geometry/_leans.py",
        line="        if sign * high < -_ROOM * size * wide:",
        instead="        if sign * high > _ROOM * size * wide:",
        laws=LAWS,
    ),
    Planted(
        "the edge of a part is taken for the middle of it",
        "geometry/_leans.py",
        line="        if not known[i] or not leans[i, 1] < np.inf",
        instead="        if not leans[i, 1] < np.inf",
        laws=LAWS,
    ),
    Planted(
        "leans do not turn with the part",
        "geometry/_leans.py",
        line="    wide = turn * low[j, 4]\n",
        instead="    wide = -turn * low[j, 4]\n",
        laws=LAWS,
    ),
    Planted(
        "a tenth of the band is searched",
        "geometry/draws.py",
        line="        limit = first + prepared.band_mm / pair.least_r_mm\n",
        instead="        limit = first + 0.1 * prepared.band_mm / pair.least_r_mm\n",
        laws=LAWS,
    ),
]


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f.name)
def test_fault_is_caught(fault):
    goes_red(fault)
