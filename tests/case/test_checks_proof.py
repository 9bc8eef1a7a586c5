"""Entries of casts and mounting that cannot be, or contradict each other, each named where it stands."""

from __future__ import annotations

import pytest

from mountproof.case.files import parse_case
from mountproof.faults import FaultError

HEAD = """
code = "x"
[dentition]
missing = [18]
{dentition}
[records."record 1"]
kind = "CR"
{record}
"""


def found(more: str = "", record: str = "", dentition: str = "") -> list[tuple[str, str | None]]:
    try:
        parse_case(HEAD.format(record=record, dentition=dentition) + more)
    except FaultError as error:
        assert all(fault.todo and fault.line is not None for fault in error.faults)
        return [(fault.code, fault.field) for fault in error.faults]
    return []


def width(arch: str, first: int, second: int) -> str:
    return f'[[casts.widths]]\narch = "{arch}"\nbetween = [{first}, {second}]\n'


def gap(more: str) -> str:
    return f"[[proof.split_casts]]\ngaps = [{{ ahead_mm = 60, right_mm = 25{more} }}]\n"


@pytest.mark.parametrize("field", ["seatings", "split_casts", "condyle_gaps", "attempts"])
def test_a_record_that_is_not_there(field: str) -> None:
    more = '\nfound = "rocks"' if field == "seatings" else ""
    assert found(f'[[proof.{field}]]\nrecord = "record 1"{more}') == []
    assert found(f'[[proof.{field}]]\nrecord = "record 2"{more}') == [
        ("case.reference", f"proof.{field}.1.record")
    ]


def test_widths_are_of_two_teeth_of_their_arch() -> None:
    assert found(width("upper", 16, 26)) == [] and found(width("lower", 36, 85)) == []
    assert found(width("upper", 16, 16)) == [("case.contradiction", "casts.widths.1.between")]
    assert found(width("upper", 16, 36)) == [("case.contradiction", "casts.widths.1.between.2")]
    assert found(width("lower", 16, 36)) == [("case.contradiction", "casts.widths.1.between.1")]
    assert found(width("upper", 16, 19)) == [("case.tooth_number", "casts.widths.1.between.2")]
    assert found(width("upper", 18, 26)) == [("case.contradiction", "casts.widths.1.between.1")]


def test_widths_in_the_other_numbering() -> None:
    universal = 'numbering = "universal"'
    assert found(width("upper", 3, 14), dentition=universal.replace("missing", "")) == []
    assert found(width("upper", 3, 30), dentition=universal) == [
        ("case.contradiction", "casts.widths.1.between.2")
    ]


def test_teeth_of_records_and_those_meant_free() -> None:
    stops = "stops = [{ ahead_mm = 60, right_mm = 25, tooth = %d }]\nperforated_at = [%d]"
    assert found(record=stops % (16, 17)) == []
    assert found(record=stops % (19, 17)) == [("case.tooth_number", 'records."record 1".stops.1.tooth')]
    assert found(record=stops % (16, 18)) == [("case.contradiction", 'records."record 1".perforated_at.1')]
    assert found(dentition="meant_free = [47]") == []
    assert found(dentition="meant_free = [40]") == [("case.tooth_number", "dentition.meant_free.1")]


def test_three_stops_in_a_line_are_left_to_the_answer() -> None:
    places = ", ".join(f"{{ ahead_mm = {a}, right_mm = 0 }}" for a in (40, 60, 80))
    assert found(record=f"stops = [{places}]") == []


def test_a_gap_of_a_split_cast_is_a_number_or_strips_that_agree() -> None:
    here = "proof.split_casts.1.gaps.1"
    for fine in (", gap_mm = 0", ", holds_um = 40", ", passes_um = 40", ", holds_um = 100, passes_um = 40"):
        assert found(gap(fine)) == []
    assert found(gap("")) == [("case.missing_field", here)]
    for holds in (40, 30):
        assert found(gap(f", holds_um = {holds}, passes_um = 40")) == [
            ("case.contradiction", f"{here}.holds_um")
        ]


def test_a_full_seat_is_off_nowhere_and_one_mounting_stands() -> None:
    seat = '[[proof.seatings]]\nrecord = "record 1"\nfound = "{}"\nwhere = "left"\n'
    assert found(seat.format("stands off")) == []
    assert found(seat.format("seats fully")) == [("case.contradiction", "proof.seatings.1.where")]
    kept = "[[proof.attempts]]\nkept = true\n"
    assert found(kept + "[[proof.attempts]]\n") == []
    assert found(kept + kept) == [("case.contradiction", "proof.attempts.2.kept")]


def test_no_more_cases_are_alike_than_were_looked_at() -> None:
    two = "[proof]\nother_cases_looked_at = {}\nother_cases_alike = {}\n"
    assert found(two.format(6, 6)) == [] and found("[proof]\nother_cases_looked_at = 6\n") == []
    assert found(two.format(6, 7)) == [("case.contradiction", "proof.other_cases_alike")]
    alone = "[proof]\nother_cases_alike = 2\n"
    assert found(alone) == [("case.missing_field", "proof.other_cases_alike")]
