"""The invented case of the bench page: its truth, and the caliper table that a bench would have read.

The truth is a rigid motion for each state; the readings are distances between marks in that state, with a caliper's
scatter, rounded to its step. Nothing here comes from the routines that answer the case. Run as a module to print it.
"""

from __future__ import annotations

import math
import sys

import numpy as np
from numpy.typing import NDArray

F64 = NDArray[np.float64]

#: Marks: ahead of the hinge axis, above it, to the patient's right (mm).
UPPER = {"UR": (54.0, -22.0, 32.0), "UF": (90.0, -23.0, 1.0), "UL": (54.0, -22.0, -32.0)}
LOWER = {"LR": (52.0, -57.0, 31.0), "LF": (88.0, -62.0, 0.0), "LL": (52.0, -57.0, -31.0)}
PAIRS = (
    ("UR", "LR"),
    ("UF", "LF"),
    ("UL", "LL"),
    ("UR", "LF"),
    ("UL", "LF"),
    ("UF", "LR"),
    ("UF", "LL"),
    ("UR", "LL"),
)
#: Where the slide is told, as in the program's stand-ins for teeth (mm).
INCISORS = (92.0, -42.0, 0.0)
#: Opening about the hinge against MIP, degrees; shift of the condyles against MIP: forward, up, right (mm).
TRUTH = {
    "A": (0.0, (0.0, 0.0, 0.0)),
    "B": (2.10, (-0.35, 0.10, 0.05)),
    "C": (2.11, (-0.35, 0.09, 0.05)),
    "D": (0.44, (-0.35, 0.09, 0.05)),
}
SD_MM, STEP_MM, REPEATS = 0.04, 0.05, 3


def moved(point: tuple[float, float, float], state: str) -> tuple[float, float, float]:
    """Where a point of the lower (mm) lies in a state: turned about the hinge axis, then shifted."""
    opening, shift = TRUTH[state]
    t = math.radians(opening)
    x, y, z = point
    dx, dy, dz = shift
    return x * math.cos(t) + y * math.sin(t) + dx, y * math.cos(t) - x * math.sin(t) + dy, z + dz


def distance(upper: str, lower: str, state: str) -> float:
    """Distance (mm) between two marks in a state."""
    return math.dist(UPPER[upper], moved(LOWER[lower], state))


def table(states: str = "ABCD", seed: int = 512) -> str:
    """The caliper table as it stands in a case file."""
    rng = np.random.default_rng(seed)
    cells: dict[tuple[str, str], str] = {}
    for state in "ABCD":
        for upper, lower in PAIRS:
            read = distance(upper, lower, state) + rng.normal(0.0, SD_MM, REPEATS)
            steps = np.round(read / STEP_MM) * STEP_MM
            cells[f"{upper}-{lower}", state] = "/".join(f"{v:.2f}" for v in steps)
    rows = ["pair   " + "".join(f"{s:<20}" for s in states).rstrip()]
    for upper, lower in PAIRS:
        rows.append(
            f"{upper}-{lower}  " + "".join(f"{cells[f'{upper}-{lower}', s]:<20}" for s in states).rstrip()
        )
    return "\n".join(rows)


if __name__ == "__main__":
    sys.stdout.write(table() + "\n")
