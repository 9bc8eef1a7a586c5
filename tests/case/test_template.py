"""The file a new case begins with can be read as it stands, and its examples can be read when they are used."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from mountproof.case.fields import is_model, plain
from mountproof.case.files import load_case, parse_case
from mountproof.case.model import Case
from mountproof.case.numbers import Readings
from mountproof.case.template import template, write_template
from mountproof.case.writing import set_value
from mountproof.faults import FaultError

TEXT = template("HERON-0002")
#: The same with every example in use: entries begin with # and no space, explanations with # and a space.
USED = re.sub(r"^#(?=[^ \n]|  \{ block)", "", TEXT, flags=re.MULTILINE)


def test_a_new_case_is_a_case_with_nothing_measured() -> None:
    case = parse_case(TEXT)
    assert case.echoes == ()
    assert case.code == "HERON-0002"
    assert case.instrument is None and case.bench is None and case.records == {} and case.teeth_at == {}
    assert case.caliper.sd_mm is None
    assert case.marks is not None and case.marks.readings_mm.cells() == ()
    assert all(place.ahead_mm is None for place in case.marks.places.values())
    assert {state.kind.value for state in case.marks.states.values()} >= {"MIP by hand", "record in"}


def test_every_example_can_be_used(tmp_path: Path) -> None:
    assert len(TEXT) - len(USED) >= 80, "the examples were not taken into use"
    (tmp_path / "case.toml").write_text(USED)
    (tmp_path / "upper.stl").write_bytes(b"solid")
    (tmp_path / "upper_teeth.csv").write_bytes(b"11")
    (tmp_path / "upper_again.stl").write_bytes(b"solid")
    (tmp_path / "record2.stl").write_bytes(b"solid")
    # Two examples contradict the smallest case by design: tooth 46 is an implant, state E names record 1.
    case = load_case(tmp_path)
    assert case.instrument is not None and len(case.instrument.pin.calibration) == 2
    assert case.scans[0].placement.frame_from_scan is not None
    assert case.foils[0].held == (15, 45)
    assert case.records["record 2"].scan is not None and case.records["record 2"].scan.points[0].name
    assert case.casts.widths[0].between == (16, 26) and case.casts.other_scans[0].points
    assert case.proof.split_casts[0].gaps[0].gap_mm == 0.15 and case.proof.attempts[0].kept
    assert case.few_teeth.pushes[0].pressed_mm == 42.3 and case.facebow.photo_cant_deg == 0.5


@pytest.mark.parametrize("at", range(len(re.findall(r"^#[^ \n].*", TEXT, flags=re.MULTILINE))))
def test_each_example_alone_is_read_or_says_what_it_lacks(at: int) -> None:
    """Taking one # away never ends in words that do not help: the heading above, or what belongs to it."""
    line = re.findall(r"^#[^ \n].*", TEXT, flags=re.MULTILINE)[at]
    try:
        parse_case(TEXT.replace(line, line[1:], 1))
    except FaultError as error:
        for fault in error.faults:
            assert fault.line is not None or fault.code == "case.missing_field"
            assert fault.todo


def names_of(model: type) -> set[str]:
    """Every field name of a part and of the parts inside it."""
    found: set[str] = set()
    for name, field in model.model_fields.items():
        found.add(name)
        inside = plain(field.annotation)
        for inner in (inside, *getattr(inside, "__args__", ())):
            part = is_model(inner)
            if part is not None and name != "limits":
                found |= names_of(part)
    return found


def test_every_field_is_in_the_template() -> None:
    missing = {name for name in names_of(Case) if not re.search(rf"\b{name}\b", TEXT)}
    assert missing == set()
    assert Readings.model_fields  # a table has its own explanation


def test_lines_fit_a_narrow_window() -> None:
    assert max(len(line) for line in TEXT.splitlines()) <= 120


def test_write_template_makes_the_folder_and_never_overwrites(tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "HERON 0003"
    file = write_template(folder)
    assert file == folder / "case.toml"
    assert load_case(folder).code == "HERON 0003"
    set_value(folder, "note", "filled in")
    before = file.read_bytes()
    with pytest.raises(FaultError) as caught:
        write_template(folder)
    assert caught.value.faults[0].code == "case.exists"
    assert file.read_bytes() == before


@pytest.mark.parametrize("name", ['qu"ote', "back\\slash", "ümläut", "x" * 200, "a\tb"])
def test_any_folder_name_gives_a_case(tmp_path: Path, name: str) -> None:
    assert load_case(write_template(tmp_path / name)).code


def test_a_file_in_the_place_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "f").write_text("x")
    with pytest.raises(FaultError) as caught:
        write_template(tmp_path / "f")
    assert caught.value.faults[0].code == "case.not_written"
    assert (tmp_path / "f").read_text() == "x"


def test_a_new_case_can_be_filled_in_entry_by_entry(tmp_path: Path) -> None:
    write_template(tmp_path)
    set_value(tmp_path, "marks.readings_mm.UR-LR.A", [36.1, 36.15])
    set_value(tmp_path, "marks.places.UR", {"arch": "upper", "ahead_mm": 52, "above_mm": -20, "right_mm": 34})
    set_value(
        tmp_path,
        "instrument",
        {"name": "no. 2", "pin": {"kind": "straight", "ahead_mm": 110, "below_mm": 62}},
    )
    set_value(tmp_path, 'records."record 1"', {"kind": "CR"})
    set_value(tmp_path, "caliper.resolution_mm", 0.05)
    case = load_case(tmp_path)
    assert case.marks is not None and case.marks.readings_mm.get("UR-LR", "A") == (36.1, 36.15)
    assert case.instrument is not None and case.instrument.pin.below_mm.value == 62
    text = (tmp_path / "case.toml").read_text()
    before, after = template(case.code).splitlines(), text.splitlines()
    gone = [line for line in before if line not in after]
    # What was entered stands in the place of its example, the remark beside it stays; nothing else is touched.
    assert [line.split("=")[0].strip("# ") for line in gone] == [
        "[instrument]", "name", "[instrument.pin]", "kind", "ahead_mm", "below_mm", "resolution_mm", "UR",
        "UR-LR   -       -       -       -", '"record 1"',
    ]  # fmt: skip
    for line in gone[1:-2]:
        assert any(line.rpartition("#")[2] in new for new in after), line
    assert "resolution_mm = 0.05                # smallest step it shows" in after
    assert (
        'UR = { arch = "upper", ahead_mm = 52, above_mm = -20, right_mm = 34 }             # upper right'
        in after
    )
    assert after.index('"record 1" = { kind = "CR" }') == after.index("[records]") + 1
