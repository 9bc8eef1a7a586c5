"""What a doubtful placement of the scans does to the first contact."""

from __future__ import annotations

import numpy as np

from mountproof.answers.placement import Placed
from mountproof.geometry.carry import Carried, from_covariance
from mountproof.geometry.poses import Array, adjoint


def placement_motion(
    upper: Placed, lower: Placed, pose: Array, closing_rad: float, *, together: bool
) -> Carried:
    """Return the small motion (6, rotation first) of the lower at first contact that the placements leave open.

    Casts that were placed ``together`` keep their relation; they close about a hinge that lies elsewhere in them. With
    ``D`` the error of the placement and ``C`` the closing by ``closing_rad``, the lower ends at ``D^-1 C D`` instead of
    ``C``: to first order off by the closing times ``[z x rotation, z x translation]`` of ``D``, the cost of a wrong
    axis. Casts that were placed each by itself carry both doubts whole, that of the lower through ``pose`` (4, 4).
    """
    zero = np.zeros((6, 6))
    if together:
        cross = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 0.0]])
        cost = closing_rad * np.block([[cross, np.zeros((3, 3))], [np.zeros((3, 3)), cross]])
        cov = cost @ (zero if upper.cov6 is None else upper.cov6) @ cost.T
    else:
        by = adjoint(pose)
        cov = (zero if upper.cov6 is None else upper.cov6) + by @ (
            zero if lower.cov6 is None else lower.cov6
        ) @ by.T
    return from_covariance(np.zeros(6), cov, "placement")
