"""Single rotations come out to the last bit as those of a stack."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from mountproof.geometry import poses
from mountproof.geometry.one_turn import cross_matrix, left_inverse, turn_vector, turned

part = st.one_of(st.floats(-1.8, 1.8), st.floats(-1e-3, 1e-3), st.sampled_from([0.0, -0.0, 1e-9, 1e-160]))


@given(x=part, y=part, z=part)
def test_single_rotations_are_those_of_poses_to_the_last_bit(x: float, y: float, z: float) -> None:
    v = np.array([x, y, z])
    turn = poses.exp6(np.concatenate([v, np.zeros(3)]))[:3, :3]
    assert np.array_equal(turned(x, y, z), turn)
    assert np.array_equal(turn_vector(turn), poses.rotation_vector(turn))
    assert np.array_equal(cross_matrix(x, y, z), poses.hat(v))
    if np.linalg.norm(v) < math.pi:
        assert np.array_equal(left_inverse(x, y, z), poses.inverse_left(v))
