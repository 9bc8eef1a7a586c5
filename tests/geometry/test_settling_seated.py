"""The made-up dentition on three seats: settled from centric relation it returns to the MIP that it was made with."""

from __future__ import annotations

import numpy as np
import pytest

from mountproof.geometry.contact import first_contact, first_contacts_by_label
from mountproof.geometry.poses import exp6, transform, translation
from mountproof.geometry.settling import USUAL_PUSH, Push, Settled, settle
from mountproof.geometry.surface import Surface, moved, prepare
from mountproof.phantom.arch import PhantomArch
from mountproof.phantom.seated import build_seated, centric_pose, seats, shares

PLACE = USUAL_PUSH.point_mm


def casts(triangles: int) -> tuple[PhantomArch, Surface, PhantomArch, Surface]:
    up, low = build_seated("upper", triangles), build_seated("lower", triangles)
    return (
        up,
        prepare(up.vertices_mm, up.faces, arch="upper"),
        low,
        prepare(low.vertices_mm, low.faces, arch="lower"),
    )


@pytest.fixture(scope="module")
def small() -> tuple[PhantomArch, Surface, PhantomArch, Surface]:
    return casts(20_000)


def start_of(seed: int) -> np.ndarray:
    """Centric relation, and beside it: up to 0.15 mm in each direction and 0.25 degrees about each axis."""
    if seed == 0:
        return centric_pose()
    rng = np.random.default_rng(seed)
    twist = np.concatenate([np.radians(rng.uniform(-0.25, 0.25, 3)), rng.uniform(-0.15, 0.15, 3)])
    middle = np.array(PLACE)
    return np.asarray(translation(middle) @ exp6(twist) @ translation(-middle) @ centric_pose())


def settled(upper: Surface, lower: Surface, start: np.ndarray) -> Settled:
    found = settle(upper, moved(lower, start), Push(tuple(transform(start, PLACE)), USUAL_PUSH.direction))
    assert found is not None and found.settled
    return found


@pytest.mark.parametrize("seed", range(5))
def test_the_declared_mip_is_where_it_settles(
    small: tuple[PhantomArch, Surface, PhantomArch, Surface], seed: int
) -> None:
    _, upper, low, lower = small
    start = start_of(seed)
    touch = first_contact(upper, moved(lower, start))
    assert touch is not None and touch.closing_rad > 0.0
    found = settled(upper, lower, start)
    # the way is long: at first contact the lower is tenths of a millimetre off
    begun = transform(found.path[0], low.vertices_mm) - low.vertices_mm
    assert np.linalg.norm(begun, axis=1).max() > 0.3
    off_mm = np.linalg.norm(transform(found.upper_from_lower, low.vertices_mm) - low.vertices_mm, axis=1)
    assert off_mm.max() < 1e-6  # asked for: 2 um
    assert found.held == 6 and found.imbalance < 1e-6
    carried = np.zeros((3, 2))
    made = seats()
    for rest in found.rests:
        apart = np.array([[np.linalg.norm(rest.point_mm - foot) for foot in seat.feet_mm] for seat in made])
        k, side = np.unravel_index(np.argmin(apart), apart.shape)
        assert apart[k, side] < 1e-6 and rest.normal == pytest.approx(made[k].normals[side], abs=1e-9)
        carried[k, side] += rest.share
    # what each wall carries, by levers
    assert carried == pytest.approx(np.repeat(shares(PLACE)[:, None], 2, axis=1), abs=1e-6)


def test_nothing_but_the_seats_meets_at_rest(
    small: tuple[PhantomArch, Surface, PhantomArch, Surface],
) -> None:
    up, upper, low, lower = small
    first = first_contact(upper, lower)
    assert first is not None and abs(first.closing_rad) < 1e-12
    carrying = {(seat.upper, seat.lower) for seat in seats()}
    met = first_contacts_by_label(upper, lower, up.teeth, low.teeth)
    near = {(m.upper_label, m.lower_label): m.contact.closing_rad * 60.0 for m in met}
    assert {pair for pair, arc_mm in near.items() if arc_mm < 1e-9} == carrying
    assert min(arc_mm for pair, arc_mm in near.items() if pair not in carrying) > 0.4


def test_a_push_beside_the_seats_has_no_shares() -> None:
    assert shares(PLACE).sum() == pytest.approx(2.0**-0.5)
    with pytest.raises(ValueError, match="outside"):
        shares((90.0, -40.0, -20.0))


@pytest.mark.slow
def test_the_declared_mip_is_where_it_settles_at_full_size() -> None:
    _, upper, low, lower = casts(214_000)
    for seed in (0, 1, 2):
        found = settled(upper, lower, start_of(seed))
        off_mm = np.linalg.norm(transform(found.upper_from_lower, low.vertices_mm) - low.vertices_mm, axis=1)
        assert off_mm.max() < 1e-6 and found.imbalance < 1e-6
