"""The helper that carries outside tables into the program's frame: checked by itself, it has no outside value."""

import numpy as np

from mountproof.geometry.poses import closed, opened, transform
from published.frame import from_forward_left_up, from_sagittal


def test_closing_in_the_sagittal_table_is_closing_here():
    theta, x, z = 0.3, 83.75, -34.3
    table = np.array([[np.cos(theta), -np.sin(theta)], [np.sin(theta), np.cos(theta)]]) @ [x, z]
    np.testing.assert_allclose(
        transform(closed(theta), from_sagittal(x, z)), from_sagittal(*table), rtol=1e-15
    )


def test_a_quarter_turn_along_j_goes_from_anterior_to_up():
    # The table's J(x, z) = (-z, x): anterior (1, 0) goes to up (0, 1).
    np.testing.assert_allclose(
        transform(closed(np.pi / 2), from_sagittal(1, 0)), from_sagittal(0, 1), atol=1e-15
    )


def test_forward_left_up_keeps_hands_and_sides():
    forward, left, up = (
        from_forward_left_up(1, 0, 0),
        from_forward_left_up(0, 1, 0),
        from_forward_left_up(0, 0, 1),
    )
    assert np.linalg.det(np.column_stack([forward, left, up])) == 1.0
    np.testing.assert_array_equal(left, [0, 0, -1])
    np.testing.assert_array_equal(up, [0, 1, 0])


def test_opening_takes_a_lower_incisor_down_and_back():
    incisor = from_forward_left_up(92, 0, -42)
    moved = transform(opened(0.01), incisor) - incisor
    assert moved[1] < 0 and moved[0] < 0
