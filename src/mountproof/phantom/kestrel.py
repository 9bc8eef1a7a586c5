"""The invented bench case KESTREL-0417 as its user wrote it down: readings only, nothing derived.

Every person, place and number here is made up.
"""

from __future__ import annotations

from typing import Final, NamedTuple

CASE: Final = "KESTREL-0417"
LAB: Final = "Slate Lane Bench 3"
#: Resolution of the caliper and standard deviation of one reading, mm.
CALIPER_STEP_MM: Final = 0.05
CALIPER_SD_MM: Final = 0.045

#: Instrument no. 2: arcon, straight pin on a flat table, scale in mm, axis-orbital reference plane.
PIN_AHEAD_MM: Final = 110.0
PIN_BELOW_MM: Final = 62.0
INTERCONDYLAR_MM: Final = 110.0
PIN_GRADUATION_MM: Final = 1.0
#: Two-point calibration of the pin's scale: block height and what the scale read, mm.
PIN_CALIBRATION_MM: Final = ((2.00, 2.0), (6.00, 6.0))

#: Dimples drilled into the facial side of the bases, program frame (x anterior, y up, z to the patient's right), mm.
UPPER_MARKS_MM: Final[dict[str, tuple[float, float, float]]] = {
    "UR": (52.0, -20.0, 34.0),
    "UCR": (78.0, -21.0, 24.0),
    "UA": (92.0, -22.0, 0.0),
    "UCL": (78.0, -21.0, -24.0),
    "UL": (52.0, -20.0, -34.0),
}
LOWER_MARKS_MM: Final[dict[str, tuple[float, float, float]]] = {
    "LR": (50.0, -56.0, 33.0),
    "LCR": (76.0, -59.0, 22.0),
    "LA": (90.0, -61.0, 0.0),
    "LCL": (76.0, -59.0, -22.0),
    "LL": (50.0, -56.0, -33.0),
}

#: States of the casts, in the order of the table's columns.
STATES: Final[dict[str, str]] = {
    "A": "held together by hand (MIP)",
    "B": "record 1 in, before stone",
    "C": "record 2 in",
    "D": "record 3 in",
    "E": "record 4 in",
    "F": "record 1 in, after set",
    "G": "record out, first contact on the instrument",
    "H": "protrusive record in",
    "I": "left lateral record in",
    "J": "right lateral record in",
}

#: Caliper readings, mm: one row a pair (upper mark, lower mark), one number a state A to J.
TABLE_MM: Final[dict[tuple[str, str], tuple[float, ...]]] = {
    ("UR", "LR"): (36.10, 38.05, 38.20, 38.05, 38.10, 38.10, 36.55, 40.25, 41.25, 38.30),
    ("UCR", "LCR"): (38.05, 41.05, 41.30, 41.10, 41.15, 41.15, 38.85, 42.60, 43.80, 41.40),
    ("UA", "LA"): (39.10, 42.60, 42.95, 42.70, 42.70, 42.70, 39.95, 43.60, 44.10, 44.00),
    ("UCL", "LCL"): (38.10, 41.10, 41.40, 41.35, 41.20, 41.20, 38.90, 42.30, 41.45, 43.55),
    ("UL", "LL"): (36.05, 38.10, 38.30, 38.30, 38.15, 38.20, 36.60, 39.85, 38.40, 40.75),
    ("UR", "LCR"): (47.40, 48.30, 48.30, 48.30, 48.30, 48.30, 47.30, 53.05, 54.30, 48.30),
    ("UCR", "LR"): (45.60, 48.75, 48.90, 48.85, 48.90, 48.75, 46.75, 46.95, 47.45, 49.25),
    ("UL", "LCL"): (47.35, 48.50, 48.55, 48.90, 48.45, 48.50, 47.55, 52.60, 48.50, 53.60),
    ("UCL", "LL"): (45.75, 48.75, 48.85, 48.55, 48.70, 48.70, 46.60, 46.85, 49.25, 47.35),
    ("UA", "LCR"): (45.95, 49.25, 49.60, 49.50, 49.40, 49.35, 46.95, 48.35, 46.70, 52.00),
    ("UA", "LCL"): (45.90, 49.00, 49.30, 48.95, 49.15, 49.20, 46.80, 48.60, 52.15, 46.75),
    ("UCR", "LA"): (48.15, 50.30, 50.25, 50.15, 50.40, 50.30, 48.55, 53.25, 55.95, 48.70),
    ("UCL", "LA"): (48.05, 50.55, 50.80, 50.85, 50.60, 50.55, 48.75, 52.75, 48.90, 55.45),
}

#: Record 1 taken off and seated again five times, mm.
RESEAT_MM: Final[dict[tuple[str, str], tuple[float, ...]]] = {
    ("UR", "LR"): (38.00, 38.05, 38.00, 38.15, 38.00),
    ("UA", "LA"): (42.55, 42.65, 42.55, 42.60, 42.70),
    ("UL", "LL"): (38.10, 38.10, 38.15, 38.05, 38.10),
}


class Bench(NamedTuple):
    """Stone and clock of the mounting: masses, volumes, gap, what the bag says, times of day."""

    powder_g: float
    water_ml: float
    bag_water_ml_per_g: float
    bag_expansion_percent: float
    mean_gap_mm: float
    powder_to_water: str
    hands_off: str
    release: str


BENCH: Final = Bench(116.0, 29.0, 0.24, 0.08, 22.0, "10:02", "10:06", "10:47")

#: The pin was opened by the mean of the incisal and the canine change.
PIN_OPENED_MM: Final = 3.2
#: Pin reading found with the record out.
PIN_FOUND_MM: Final = 0.0


class Foil(NamedTuple):
    """What a foil of 8 um found: upper teeth that hold it and upper teeth it drags at; elsewhere it passes."""

    where: str
    state: str
    holds: tuple[int, ...]
    drags: tuple[int, ...]


FOIL_UM: Final = 8.0
FOIL: Final = (
    Foil("mouth", "CR, light closure", (15,), ()),
    Foil("instrument", "CR", (15,), ()),
    Foil("mouth", "MIP", (17, 16, 15, 14, 24, 25, 26, 27), (11, 21)),
    Foil("casts by hand", "MIP", (17, 16, 15, 14, 24, 25, 26, 27), ()),
)
