"""Frames of outside tables, carried to the program's own: x anterior, y superior, z to the patient's right."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def from_sagittal(x: float, z_up: float) -> NDArray[np.float64]:
    """A point or vector written (x, z) with x anterior, z up and closing positive: z_up becomes y, closing stays."""
    return np.array([x, z_up, 0.0])


def from_forward_left_up(x: float, y_left: float, z_up: float) -> NDArray[np.float64]:
    """A point or vector written X forward, Y to the patient's left, Z up."""
    return np.array([x, z_up, -y_left])
