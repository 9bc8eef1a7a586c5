"""The demo case with one thing wrong: each variant changes what it says and nothing else."""

from __future__ import annotations

import numpy as np
import pytest

from mountproof.phantom import truth, variants
from mountproof.phantom.arch import PhantomArch, build_arch


@pytest.fixture(scope="module")
def lower() -> PhantomArch:
    return build_arch("lower", 20_000)


def _volume(cast: PhantomArch) -> float:
    t = cast.vertices_mm[cast.faces]
    return float(np.einsum("ij,ij->", t[:, 0], np.cross(t[:, 1], t[:, 2])) / 6.0)


def test_narrowed_cast_loses_that_width_at_the_second_molars(lower: PhantomArch) -> None:
    thin = variants.narrowed(lower)
    lost = lower.vertices_mm - thin.vertices_mm
    assert np.abs(lost[:, :2]).max() == 0.0
    at_molars = np.abs(np.abs(lower.vertices_mm[:, 2]) - 28.0) < 0.5
    assert np.abs(2 * np.abs(lost[at_molars, 2]) - 0.15).max() < 0.004


def test_lifted_right_raises_the_right_and_not_the_left() -> None:
    before = truth.pose("F")
    after = variants.lifted_right(before)
    change = after @ np.linalg.inv(before)
    assert np.abs(change[:3, :3] @ change[:3, :3].T - np.eye(3)).max() < 1e-14
    x, y, z = truth.SECOND_MOLAR_MM
    right = change[:3, :3] @ np.array([x, y, z]) + change[:3, 3] - np.array([x, y, z])
    left = change[:3, :3] @ np.array([x, y, -z]) + change[:3, 3] - np.array([x, y, -z])
    assert abs(right[1] - 0.25) < 1e-5
    assert np.abs(left).max() < 1e-12


def test_curved_pin_reads_more_than_the_straight_one() -> None:
    # checks of the trade: 3 mm at the incisors is 3.65 mm on the straight pin and 4.15 mm on the curved one.
    t = np.radians(1.88)
    assert abs(truth.pin_mm(t) - 3.65) < 0.02
    assert abs(variants.curved_pin_mm(t) - 4.15) < 0.02


def test_sagged_records_lower_the_left_condyle_only() -> None:
    for record in truth.RECORDS[:2]:
        bad = variants.sagged_left(record)
        assert bad.right_mm == record.right_mm
        assert abs(bad.left_mm[2] - record.left_mm[2] + variants.SAG_DOWN_MM) < 1e-12


def test_scans_that_were_handed_in_wrongly(lower: PhantomArch) -> None:
    inch = variants.in_inches(lower)
    assert np.ptp(inch.vertices_mm[:, 2]) < 4.0
    assert abs(_volume(inch) * 25.4**3 / _volume(lower) - 1.0) < 1e-12
    plain, rewound = variants.mirrored(lower), variants.mirrored(lower, rewound=True)
    assert _volume(plain) < 0.0 < _volume(rewound)
    right = rewound.vertices_mm[np.unique(rewound.faces[rewound.teeth == 46])]
    assert right[:, 2].mean() < 0.0
    upper = build_arch("upper", 20_000)
    assert variants.swapped(upper, lower) == (lower, upper)


def test_every_variant_is_told() -> None:
    assert list(variants.VARIANTS) == [f"D-{k}" for k in range(2, 9)]
    assert variants.BASE_CONTACT.stays_open_mm > 0.0
    assert set(variants.FRONT_STOPS) == {13, 12, 11, 21, 22, 23}
