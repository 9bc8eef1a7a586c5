"""Laws of contact on whole arches: many leaves in front of and behind each other, as no small body has them."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pytest

from mountproof.geometry.closing import closing_map
from mountproof.geometry.contact import first_contact
from mountproof.geometry.poses import exp6
from mountproof.geometry.sites import contact_sites
from mountproof.geometry.surface import Surface, moved, prepare
from mountproof.phantom.arch import build_arch
from mountproof.phantom.truth import record_pose

_TRIANGLES = 12_000
#: Small motions of the lower away from its record: rad, mm.
_MOTIONS = (
    (0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
    (0.004, -0.002, 0.003, 0.3, -0.4, 0.2),
    (-0.003, 0.004, 0.0, -0.5, -0.2, -0.4),
)


@lru_cache(maxsize=4)
def arches(cell_mm: float | None = None) -> tuple[Surface, Surface]:
    up, low = build_arch("upper", _TRIANGLES), build_arch("lower", _TRIANGLES)
    return (
        prepare(up.vertices_mm, up.faces, arch="upper", cell_mm=cell_mm),
        prepare(low.vertices_mm, low.faces, arch="lower", cell_mm=cell_mm),
    )


@pytest.mark.parametrize("motion", _MOTIONS)
def test_no_pair_of_faces_meets_before_the_first(motion: tuple[float, ...]) -> None:
    """Another search, without the floor and the order of the first: all pairs within 0.8 mm, and none is earlier."""
    upper, lower = arches()
    lower = moved(lower, exp6(np.array(motion)) @ record_pose(1))
    first = first_contact(upper, lower)
    assert first is not None
    sites = contact_sites(
        upper, lower, closing_map(upper, lower), closed_rad=first.closing_rad, within_mm=0.3
    )
    assert sites
    assert min(site.contact.closing_rad for site in sites) == first.closing_rad


@pytest.mark.parametrize("motion", _MOTIONS[:2])
def test_the_map_does_not_depend_on_how_faces_are_grouped(motion: tuple[float, ...]) -> None:
    pose = exp6(np.array(motion)) @ record_pose(1)
    maps = [closing_map(up, moved(low, pose), cell_mm=0.2) for up, low in map(arches, (None, 0.4, 8.0))]
    for other in maps[1:]:
        assert np.array_equal(maps[0].upper_phi, other.upper_phi, equal_nan=True)
        assert np.array_equal(maps[0].lower_phi, other.lower_phi, equal_nan=True)
        assert np.array_equal(maps[0].upper_face, other.upper_face)
        assert np.array_equal(maps[0].lower_face, other.lower_face)
