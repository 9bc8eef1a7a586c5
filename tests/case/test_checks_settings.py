"""Typed settings, the range of the instrument and the space that is wanted: what cannot be is refused with what to do."""

from __future__ import annotations

import pytest

from mountproof.case.files import parse_case
from mountproof.faults import FaultError

HEAD = """
code = "x"
[instrument]
name = "no. 2"
{takes}
[instrument.pin]
kind = "straight"
ahead_mm = 110
below_mm = 62
"""


def found(more: str, takes: str = "") -> list[tuple[str, str | None]]:
    try:
        parse_case(HEAD.format(takes=takes) + more)
    except FaultError as error:
        assert all(fault.todo and fault.line is not None for fault in error.faults)
        return [(fault.code, fault.field) for fault in error.faults]
    return []


RANGE = "takes.inclination = { lowest_deg = -20, highest_deg = 60 }"


@pytest.mark.parametrize(
    ("settings", "code", "field"),
    [
        ("right = { shift_mm = -0.2 }", "case.out_of_range", "settings.right.shift_mm"),
        ("left = { inclination_deg = 95 }", "case.out_of_range", "settings.left.inclination_deg"),
        ("left = { inclination_deg = 66 }", "case.contradiction", "settings.left.inclination_deg"),
        ("right = { over_mm = 4 }", "case.missing_field", "settings.right.over_mm"),
        ('against = "Camper"', "case.reference", "settings.against"),
    ],
)
def test_settings_that_cannot_be(settings: str, code: str, field: str) -> None:
    assert found(f"[settings]\n{settings}\n", RANGE) == [(code, field)]


def test_a_plane_without_its_tilt_turns_no_angle() -> None:
    more = '[plane]\nname = "Camper"\n[settings]\nagainst = "Camper"\nright = { inclination_deg = 66 }\n'
    assert ("case.missing_field", "plane.tilt_deg") in found(more, RANGE)
    # Camper's plane 10 degrees lower in front: 45 against it are 55 on the instrument's scale, 55 are 65
    told = more.replace('name = "Camper"', 'name = "Camper"\ntilt_deg = 10')
    assert found(told.replace("66", "45"), RANGE) == []
    assert found(told.replace("66", "55"), RANGE) == [
        ("case.contradiction", "settings.right.inclination_deg")
    ]


def test_a_range_rises() -> None:
    assert found("", "takes.lateral = { lowest_deg = 30, highest_deg = 30 }") == [
        ("case.contradiction", "instrument.takes.lateral")
    ]


def test_a_tooth_has_one_wanted_thickness_and_is_there() -> None:
    two = "[space]\nwanted = [{ teeth = [16], thickness_mm = 1.5 }, { teeth = [16, 26], thickness_mm = 1 }]\n"
    assert found(two) == [("case.contradiction", "space.wanted.2.teeth.1")]
    gone = "[dentition]\nmissing = [16]\n[space]\nwanted = [{ teeth = [16], thickness_mm = 1.5 }]\n"
    assert [code for code, _ in found(gone)] == ["case.contradiction"]
    assert found("[space]\nwanted = [{ teeth = [19], thickness_mm = 1.5 }]\n")[0][0] == "case.tooth_number"
