"""One-line faults in guides and stops, each of which some test of them must notice."""

import pytest

from planted.harness import Planted, goes_red

MOVES = ("tests/geometry/test_guides.py::test_a_lateral_movement_keeps_the_distance",)
WINGS = ("tests/geometry/test_guides.py::test_a_wing_of_the_table_guides_to_its_side",)

FAULTS = [
    Planted(
        "the nonworking condyle goes outward",
        "geometry/guides.py",
        line="out * (half - inward)])",
        instead="out * (half + inward)])",
        laws=MOVES,
    ),
    Planted(
        "the immediate shift goes forward too",
        "geometry/guides.py",
        line="    forward = travel_mm - inward\n",
        instead="    forward = travel_mm\n",
        laws=MOVES,
    ),
    Planted(
        "a wing of the table guides to the other side",
        "geometry/stops.py",
        line="sides = (0.0, math.tan(table.right_rad), -math.tan(table.left_rad))",
        instead="sides = (0.0, -math.tan(table.right_rad), math.tan(table.left_rad))",
        laws=WINGS,
    ),
]


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f.name)
def test_fault_is_caught(fault):
    goes_red(fault)
