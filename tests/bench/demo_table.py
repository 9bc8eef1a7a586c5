"""The invented bench case: marks, caliper table and what a program that sees only the table must say.

All of it is made up (see the demo). Marks are kept here as they were invented, X forward, Y LEFT, Z up; the frame of
the program is x forward, y up, z to the RIGHT, so ``in_frame`` turns (X, Y, Z) into (X, Z, -Y).
"""

import numpy as np

from mountproof.bench.readings import reading

SD_MM, STEP_MM = 0.045, 0.05

UPPER = {
    "UR": (52, -34, -20),
    "UCR": (78, -24, -21),
    "UA": (92, 0, -22),
    "UCL": (78, 24, -21),
    "UL": (52, 34, -20),
}
LOWER = {
    "LR": (50, -33, -56),
    "LCR": (76, -22, -59),
    "LA": (90, 0, -61),
    "LCL": (76, 22, -59),
    "LL": (50, 33, -56),
}
STRAIGHT = ("UR-LR", "UCR-LCR", "UA-LA", "UCL-LCL", "UL-LL")

# A by hand (MIP); B, C, D, E records 1 to 4 before stone; F record 1 after set; G record out; H protrusive; I left
# lateral; J right lateral.
STATES = "ABCDEFGHIJ"
_ROWS = {
    "UR-LR": (36.10, 38.05, 38.20, 38.05, 38.10, 38.10, 36.55, 40.25, 41.25, 38.30),
    "UCR-LCR": (38.05, 41.05, 41.30, 41.10, 41.15, 41.15, 38.85, 42.60, 43.80, 41.40),
    "UA-LA": (39.10, 42.60, 42.95, 42.70, 42.70, 42.70, 39.95, 43.60, 44.10, 44.00),
    "UCL-LCL": (38.10, 41.10, 41.40, 41.35, 41.20, 41.20, 38.90, 42.30, 41.45, 43.55),
    "UL-LL": (36.05, 38.10, 38.30, 38.30, 38.15, 38.20, 36.60, 39.85, 38.40, 40.75),
    "UR-LCR": (47.40, 48.30, 48.30, 48.30, 48.30, 48.30, 47.30, 53.05, 54.30, 48.30),
    "UCR-LR": (45.60, 48.75, 48.90, 48.85, 48.90, 48.75, 46.75, 46.95, 47.45, 49.25),
    "UL-LCL": (47.35, 48.50, 48.55, 48.90, 48.45, 48.50, 47.55, 52.60, 48.50, 53.60),
    "UCL-LL": (45.75, 48.75, 48.85, 48.55, 48.70, 48.70, 46.60, 46.85, 49.25, 47.35),
    "UA-LCR": (45.95, 49.25, 49.60, 49.50, 49.40, 49.35, 46.95, 48.35, 46.70, 52.00),
    "UA-LCL": (45.90, 49.00, 49.30, 48.95, 49.15, 49.20, 46.80, 48.60, 52.15, 46.75),
    "UCR-LA": (48.15, 50.30, 50.25, 50.15, 50.40, 50.30, 48.55, 53.25, 55.95, 48.70),
    "UCL-LA": (48.05, 50.55, 50.80, 50.85, 50.60, 50.55, 48.75, 52.75, 48.90, 55.45),
}
RESEAT = (
    (38.00, 42.55, 38.10),
    (38.05, 42.65, 38.10),
    (38.00, 42.55, 38.15),
    (38.15, 42.60, 38.05),
    (38.00, 42.70, 38.10),
)


def in_frame(place):
    return np.array([place[0], place[2], -place[1]], dtype=float)


def table(pairs=tuple(_ROWS), states=STATES, sd=SD_MM):
    return {s: {p: reading([_ROWS[p][STATES.index(s)]], sd, STEP_MM) for p in pairs} for s in states}


def value(state, pair):
    return _ROWS[pair][STATES.index(state)]


PAIRS = tuple(_ROWS)
FACIAL, CROSS = PAIRS[:9], PAIRS[9:]
