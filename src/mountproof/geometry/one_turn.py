"""Single rotations, many times a fit: to the last bit what ``poses`` gives for stacks of them, at a tenth of the price.

Only sums, products and NumPy's own functions stand here, in the order of ``poses``; products of matrices stay NumPy's.
Nothing is checked: for callers who made the numbers themselves.
"""

from __future__ import annotations

import math

import numpy as np

from mountproof.geometry.poses import Array, _inverse_factor

#: As in ``poses``: below this angle the series stands; its terms, highest power first.
_SERIES_BELOW_RAD = 0.5
_TERMS = (1 / 74724249600, 691 / 1307674368000, 1 / 47900160, 1 / 1209600, 1 / 30240, 1 / 720, 1 / 12)
_EYE = np.eye(3)


def cross_matrix(x: float, y: float, z: float) -> Array:
    """Return the cross-product matrix (3, 3) of one vector."""
    return np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])


def turned(x: float, y: float, z: float) -> Array:
    """Return the rotation (3, 3) of a rotation vector (rad)."""
    spin = cross_matrix(x, y, z)
    theta = math.sqrt(x * x + y * y + z * z)
    first, half = _sinc(theta / np.pi), _sinc(theta / (2 * np.pi))
    out: Array = _EYE + first * spin + (0.5 * (half * half)) * (spin @ spin)
    return out


def turn_vector(rotation: Array) -> tuple[float, float, float]:
    """Return the rotation vector (rad) of one rotation (3, 3)."""
    (a, b, c), (d, e, f), (g, h, i) = rotation.tolist()
    trace = a + e + i
    x, y, z = h - f, c - g, d - b
    heads = (1 + trace, 1 - trace + 2 * a, 1 - trace + 2 * e, 1 - trace + 2 * i)
    best = max(range(4), key=heads.__getitem__)
    rows = (
        (heads[0], x, y, z),
        (x, heads[1], b + d, c + g),
        (y, d + b, heads[2], f + h),
        (z, g + c, h + f, heads[3]),
    )
    w, x, y, z = rows[best]
    if w < 0:
        w, x, y, z = -w, -x, -y, -z
    length = math.sqrt(x * x + y * y + z * z)
    scale = 2 * float(np.arctan2(length, w)) / length if length > 0 else 0.0
    return x * scale, y * scale, z * scale


def left_inverse(x: float, y: float, z: float) -> Array:
    """Return ``poses.inverse_left`` (3, 3) of one rotation vector (rad)."""
    spin = cross_matrix(x, y, z)
    theta = math.sqrt(x * x + y * y + z * z)
    if theta < _SERIES_BELOW_RAD:
        s = theta * theta
        factor = _TERMS[0]
        for term in _TERMS[1:]:
            factor = term + factor * s
    else:
        factor = float(_inverse_factor(np.asarray(theta)))
    out: Array = _EYE - 0.5 * spin + factor * (spin @ spin)
    return out


def _sinc(x: float) -> float:
    # As NumPy's: zero is stood in for by a number whose quotient is one.
    y = math.pi * (x or 1e-20)
    return float(np.sin(y)) / y
