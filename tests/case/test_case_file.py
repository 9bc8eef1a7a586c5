# ruff: noqa: E501 - a table of faults reads best with one fault a line
"""Reading a case: what is read, how it is echoed, and every fault with its line, its entry and the next step."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from mountproof.case.files import load_case, parse_case
from mountproof.case.model import Case, StateKind
from mountproof.case.pairs import pair_marks
from mountproof.faults import Fault, FaultError

BENCH = Path(__file__).with_name("bench_case.toml")
TEXT = BENCH.read_text()


def faults_of(text: str, folder: Path | None = None) -> tuple[Fault, ...]:
    with pytest.raises(FaultError) as caught:
        parse_case(text, folder=folder)
    return caught.value.faults


def line_of(text: str, piece: str) -> int:
    """Line of the only place where ``piece`` stands."""
    assert text.count(piece) == 1, piece
    return text[: text.index(piece)].count("\n") + 1


# --- what is read ---------------------------------------------------------------------------------------------


def test_the_bench_case_is_read_whole() -> None:
    case = load_case(BENCH)
    assert case.folder == BENCH.parent
    assert case.instrument is not None and case.marks is not None and case.bench is not None
    assert (case.instrument.pin.ahead_mm.value, case.instrument.pin.ahead_mm.u) == (110.0, 0.5)
    assert case.marks.states["F"].kind is StateKind.RECORD_SET
    assert case.marks.readings_mm.get("UCL-LCL", "D") == (41.35,)
    assert len(case.marks.readings_mm.cells()) == 13 * 10
    assert case.marks.reseat_mm is not None and case.marks.reseat_mm.get("UA-LA", "5") == (42.70,)
    assert case.bench.powder_met_water is not None and case.bench.powder_met_water.isoformat() == "10:02:00"
    assert case.limits.reseat_sd.redo == 0.08 and case.limits.reseat_sd.source == "entered by the user"
    assert case.limits.reseat_sd.unit == "mm"
    assert case.limits.axis_cost.source != "entered by the user"


def test_a_folder_its_file_and_text_give_the_same_case(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text(TEXT)
    assert load_case(tmp_path) == load_case(str(tmp_path / "case.toml")) == parse_case(TEXT)


def test_the_smallest_case() -> None:
    assert parse_case('code = "x"') == Case(code="x")


@pytest.mark.parametrize("form", [TEXT.replace("\n", "\r\n"), "\ufeff" + TEXT])
def test_line_ends_and_marks_of_other_editors_change_nothing(form: str, tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_bytes(form.encode())
    assert load_case(tmp_path) == parse_case(TEXT)


# --- echoes ---------------------------------------------------------------------------------------------------


def test_decimal_commas_are_echoed_with_line_and_unit() -> None:
    text = TEXT.replace("UR-LR    36.10 38.05", "UR-LR    36.10 38,05")
    case = parse_case(text)
    assert case.marks is not None and case.marks.readings_mm.get("UR-LR", "B") == (38.05,)
    line = line_of(text, "38,05")
    assert f'line {line}: "38,05" read as 38.05 mm' in case.echoes
    assert f'line {line_of(text, "0,045")}: "0,045" read as 0.045 mm' in case.echoes
    pin = f'line {line_of(text, "110 +- 0,5")}: "110 +- 0,5" read as 110 mm with a standard uncertainty of 0.5 mm'
    assert case.echoes[0] == pin


def test_a_table_full_of_commas_is_echoed_in_one_line() -> None:
    head, table, tail = re.split(r'(readings_mm = """.*?""")', TEXT, maxsplit=1, flags=re.DOTALL)
    text = head + table.replace(".", ",") + tail
    case = parse_case(text)
    assert case == parse_case(TEXT)
    first, last = line_of(text, "UR-LR    36,10"), line_of(text, "UCL-LA   48,05")
    expected = f'lines {first} to {last}: 130 of 130 cells read with a decimal comma, such as "36,10" read as 36.10 mm'
    assert expected in case.echoes
    assert len(case.echoes) == 3


def test_repeats_are_echoed() -> None:
    text = TEXT.replace("UR-LR    36.10 38.05", "UR-LR    36.10/36.15/36.10 38.05")
    case = parse_case(text)
    assert case.marks is not None and case.marks.readings_mm.get("UR-LR", "A") == (36.10, 36.15, 36.10)
    assert f'line {line_of(text, "36.10/36.15/36.10")}: "36.10/36.15/36.10" read as 3 repeats' in case.echoes


def test_nothing_is_echoed_where_nothing_can_be_read_two_ways() -> None:
    text = (
        TEXT.replace('"110 +- 0,5"', "110")
        .replace('"0,045"', "0.045")
        .replace("{ value = 62, u = 0.5 }", "62")
    )
    assert parse_case(text).echoes == ()


# --- one fault at a time: (old, new, code, entry, words that must be in the message) --------------------------

FAULTS: list[tuple[str, str, str, str, str]] = [
    # syntax
    ("zero_reads = 0", "zero_reads = 0,5", "case.syntax", "instrument.pin.zero_reads", 'quotation marks: "0,5"'),
    ("zero_reads = 0", "zero_reads =", "case.syntax", "instrument.pin.zero_reads", "nothing stands behind"),
    ("zero_reads = 0", "zero_reads = 0 mm", "case.syntax", "instrument.pin.zero_reads", "Write only 0"),
    ("zero_reads = 0", "zero_reads: 0", "case.syntax", "", "name = value"),
    ("zero_reads = 0", "mm_per_mark = 1.5", "case.syntax", "", "twice"),
    ("zero_reads = 0", "zero_reads = .5", "case.syntax", "instrument.pin.zero_reads", "decimal point"),
    ("zero_reads = 0", "reads zero", "case.syntax", "", "neither"),
    ('by = "QP"', "by = QP", "case.syntax", "by", 'quotation marks: "QP"'),
    ('by = "QP"', 'by = "QP', "case.syntax", "by", "quotation mark is missing"),
    ('by = "QP"', "by = “QP”", "case.syntax", "by", "straight quotation marks"),
    ("date = 2026-03-02", "date = 02.03.2026", "case.syntax", "date", "year first"),
    ("date = 2026-03-02", "date = 2026-02-30", "case.syntax", "date", "no such date"),
    ("set_by_hand = true", "set_by_hand = True", "case.syntax", "pin_readings.1.set_by_hand", "small letters"),
    ('powder_met_water = "10:02"', "powder_met_water = 10:02", "case.syntax", "bench.powder_met_water", '"10:02"'),
    ("missing = [18, 28", "missing = [18 28", "case.syntax", "dentition.missing", "list"),
    ("ahead_mm = 52, above_mm = -20", "ahead_mm = 52,5, above_mm = -20", "case.syntax", "marks.places.UR", '"52,5"'),
    ("[plane]", "[caliper]", "case.syntax", "", "heading"),
    ("[plane]", "[plane", "case.syntax", "", "heading"),
    ('by = "QP"', 'by = "Q\\P"', "case.syntax", "by", "\\"),
    ('by = "QP"', 'by = "Q\x07P"', "case.syntax", "by", "invisible"),
    # unknown
    ("powder_g = 116", "powder = 116", "case.unknown_field", "bench.powder", "Did you mean powder_g?"),
    ("[plane]", "[plan]", "case.unknown_field", "plan", "Did you mean plane?"),
    ('by = "QP"', "powder_g = 116.0", "case.unknown_field", "powder_g", "Move it to [bench]"),
    ("water_ml = 29", 'mounted_on = "record 1"', "case.unknown_field", "bench.mounted_on", "top of the file"),
    ('G = { kind = "record out', 'by = "QQ"\nG = { kind = "record out', "case.unknown_field", "marks.states.by", "top"),
    ('by = "QP"', "zzz = 1", "case.unknown_field", "zzz", "Take it out"),
    # ranges
    ("powder_g = 116", "powder_g = -1", "case.out_of_range", "bench.powder_g", "more than 0, at most 5000 g"),
    ("powder_g = 116", "powder_g = 116000", "case.out_of_range", "bench.powder_g", "got 116000 g"),
    ("intercondylar_mm = 110", "intercondylar_mm = 1100", "case.out_of_range", "instrument.intercondylar_mm", "200 mm"),
    ("intercondylar_mm = 110", 'intercondylar_mm = "11,0 +- 1"', "case.out_of_range", "instrument.intercondylar_mm", "50"),
    ('"110 +- 0,5"', '"110 +- -0,5"', "case.out_of_range", "instrument.pin.ahead_mm.u", "more than 0"),
    ("water_ml_per_100g = 24", "water_ml_per_100g = 0.24", "case.out_of_range", "bench.sheet.water_ml_per_100g", "24 mL"),
    ('"0,045"', '"0,0144"', "case.out_of_range", "caliper.sd_mm", "0.0144"),
    ('name = "axis-orbital"', 'name = "axis orbital"', "case.out_of_range", "plane.name", 'mean "axis-orbital"?'),
    ("UR-LR    36.10 38.05", "UR-LR    36.10 0", "case.out_of_range", "marks.readings_mm.UR-LR.B", "more than nothing"),
    ("UR-LR    36.10 38.05", "UR-LR    361.0 38.05", "case.out_of_range", "marks.readings_mm.UR-LR.A", "361 mm"),
    ("UR-LR    38.00 38.05", "UR-LR    38.00 -38.05", "case.out_of_range", "marks.reseat_mm.UR-LR.2", "-38.05 mm"),
    ("redo = 0.08 }", "redo = 0.04 }", "case.wrong_type", "limits.reseat_sd", "below the decent"),
    ("redo = 0.08 }", 'redo = 0.08, unit = "um" }', "case.out_of_range", "limits.reseat_sd.unit", "keeps its unit"),
    ("sd_mm =", "block_mm = 10\nblock_reads_mm = 12.5\nsd_mm =", "case.out_of_range", "caliper.block_reads_mm", "12.5"),
    # kinds of value
    ('code = "KESTREL-0417"', "code = 417", "case.wrong_type", "code", 'quotation marks: "417"'),
    ('code = "KESTREL-0417"', 'code = ""', "case.wrong_type", "code", "empty"),
    ('code = "KESTREL-0417"', 'code = "a\\nb"', "case.wrong_type", "code", "one line"),
    ("powder_g = 116", 'powder_g = "1,250"', "case.wrong_type", "bench.powder_g", "two ways"),
    ("powder_g = 116", 'powder_g = "1.250,5"', "case.wrong_type", "bench.powder_g", "more than one separator"),
    ("powder_g = 116", "powder_g = inf", "case.wrong_type", "bench.powder_g", "finite"),
    ("powder_g = 116", "powder_g = true", "case.wrong_type", "bench.powder_g", "not true or false"),
    ("powder_g = 116", "powder_g = [116]", "case.wrong_type", "bench.powder_g", "number"),
    ("held = [15, 45]\n\n[[foils]]\nwhere = \"mounting", "held = 15\n\n[[foils]]\nwhere = \"mounting", "case.wrong_type", "foils.1.held", "[15]"),
    ("set_by_hand = true", 'set_by_hand = "yes"', "case.wrong_type", "pin_readings.1.set_by_hand", "true or false"),
    ('released = "10:47"', "released = 10.47", "case.wrong_type", "bench.released", '"10:02"'),
    ('released = "10:47"', 'released = "24:47"', "case.wrong_type", "bench.released", "no time of day"),
    ("date = 2026-03-02", "date = 20260302", "case.wrong_type", "date", "year first"),
    ("missing = [18, 28", "missing = [18, 2.8", "case.wrong_type", "dentition.missing.2", "tooth number"),
    ('by = "QP"', "scans = 3", "case.wrong_type", "scans", "square brackets"),
    ('name = "axis-orbital"', 'name = "axis-orbital"\n[limits.axis_cost]\ndecent = 1', "case.missing_field", "limits.axis_cost.redo", "redo"),
    ("UR-LR    36.10 38.05", "UR-LR    36.10 38.o5", "case.wrong_type", "marks.readings_mm", "'38.o5'"),
    ("UR-LR    36.10 38.05", "UR-LR    36.10", "case.wrong_type", "marks.readings_mm", "9 readings for 10 states"),
    ("UCR-LR   45.60", "UR-LR   45.60", "case.wrong_type", "marks.readings_mm", "stands twice"),
    ("           A     B     C", "           A     A     C", "case.wrong_type", "marks.readings_mm", "twice"),
    # missing
    ('code = "KESTREL-0417"', "", "case.missing_field", "code", 'code = "KESTREL-0417"'),
    ('kind = "straight"', "", "case.missing_field", "instrument.pin.kind", '"straight", "curved"'),
    ('state = "F"', "", "case.missing_field", "pin_readings.1.state", "[pin_readings.1]"),
    ("sd_mm =", "block_mm = 10\nsd_mm =", "case.missing_field", "caliper.block_mm", "block_reads_mm"),
    # references
    ("UR-LR    36.10", "UR-LX    36.10", "case.reference", "marks.readings_mm.UR-LX", "'LX'"),
    ("UR-LR    36.10", "LR-UR    36.10", "case.reference", "marks.readings_mm.LR-UR", "UR-LR"),
    ("UR-LR    36.10", "UR-UA    36.10", "case.reference", "marks.readings_mm.UR-UA", "both marks are on the upper"),
    ("UR-LR    36.10", "URLR    36.10", "case.reference", "marks.readings_mm.URLR", "no pair"),
    ("           A     B     C", "           A     B     X", "case.reference", "marks.readings_mm.X", "'X'"),
    ('"record in", record = "record 2"', '"record in", record = "record 7"', "case.reference", "marks.states.C.record", "record 7"),
    ('mounted_on = "record 1"', 'mounted_on = "recor 1"', "case.reference", "mounted_on", "Did you mean record 1?"),
    ('reseat_record = "record 1"', 'reseat_record = "x"', "case.reference", "marks.reseat_record", "'x'"),
    ('state = "G"', 'state = "Q"', "case.reference", "pin_readings.2.state", "'Q'"),
    # tooth numbers
    ("missing = [18, 28", "missing = [18, 9", "case.tooth_number", "dentition.missing.2", '"universal"'),
    ("missing = [18, 28", "missing = [18, 99", "case.tooth_number", "dentition.missing.2", "11 to 18"),
    ("drags = [11, 21]", "drags = [11, 18]", "case.contradiction", "foils.3.drags.2", "listed as missing"),
    ("drags = [11, 21]", "drags = [11, 17]", "case.contradiction", "foils.3.drags.2", "held and under drags"),
    # contradictions
    ("{ block_mm = 6.00, reads = 6.0 }", "{ block_mm = 6.00, reads = -2.0 }", "case.contradiction", "instrument.pin.calibration", "down on opening"),
    ("{ block_mm = 6.00, reads = 6.0 }", "{ block_mm = 6.00, reads = 2.0 }", "case.contradiction", "instrument.pin.calibration", "same"),
    ('hands_off = "10:06"', 'hands_off = "10:01"', "case.contradiction", "bench.hands_off", "before"),
    # version
    ("schema_version = 1", "schema_version = 2", "case.version", "schema_version", "newer"),
    ("schema_version = 1", 'schema_version = "one"', "case.version", "schema_version", "schema_version = 1"),
    ("schema_version = 1", "schema_version = 0", "case.version", "schema_version", "schema_version = 1"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "code", "field", "words"), FAULTS, ids=[f"{f[2]} {f[1][:30]}" for f in FAULTS]
)
def test_one_fault_is_named_alone_with_its_line_and_next_step(
    old: str, new: str, code: str, field: str, words: str
) -> None:
    assert TEXT.count(old) >= 1, old
    text = TEXT.replace(old, new, 1)
    faults = faults_of(text)
    own = [fault for fault in faults if fault.code == code]
    assert own, faults
    fault = own[0]
    assert words in str(fault), str(fault)
    assert fault.todo and fault.what
    if field:
        assert fault.field == field
    start = TEXT[: TEXT.index(old)].count("\n") + 1
    if code == "case.missing_field":
        assert fault.line is None or fault.line <= start + new.count("\n")
    elif old not in ("[plane]", "           A     B     C"):
        assert fault.line is not None and start <= fault.line <= start + new.count("\n") + 1, (fault, start)


#: Faults that bring others with them: the second heading swallows entries, a missing table lacks its names.
_WITH_OTHERS = (
    "[plan]",
    "[caliper]",
    "records = 3\n[record]",
    "           A     B     X",
    "[plane",
    "UR-LX",
    "LR-UR",
)


@pytest.mark.parametrize(
    ("old", "new", "code", "field", "words"), FAULTS, ids=[f"{f[2]} {f[1][:30]}" for f in FAULTS]
)
def test_no_fault_that_is_not_there(old: str, new: str, code: str, field: str, words: str) -> None:
    faults = faults_of(TEXT.replace(old, new, 1))
    if not new.startswith(_WITH_OTHERS):
        assert [fault.code for fault in faults] == [code], faults


def test_all_faults_at_once_in_the_order_of_the_file() -> None:
    wanted = (
        "by = QP", "zero_reads = 0,5", "powder_g = 116000", "UR-LX    36.10", "missing = [18, 99", 'state = "Q"',
        'hands_off = "10:01"', 'mounted_on = "recor 1"', 'name = "axis orbital"', "block_mm = 10\nsd_mm =",
    )  # fmt: skip
    text, chosen = TEXT, [f for f in FAULTS if f[1] in wanted]
    assert len(chosen) == len(wanted)
    for old, new, _code, _field, _words in chosen:
        text = text.replace(old, new, 1)
    faults = faults_of(text)
    assert sorted(fault.code for fault in faults) == sorted(f[2] for f in chosen)
    assert [fault.line for fault in faults] == sorted(fault.line or 0 for fault in faults)


def test_every_unquoted_decimal_comma_is_reported_not_only_the_first() -> None:
    text = TEXT.replace("zero_reads = 0", "zero_reads = 0,5").replace("powder_g = 116", "powder_g = 116,5")
    assert [(f.code, f.got) for f in faults_of(text)] == [("case.syntax", "0,5"), ("case.syntax", "116,5")]


def test_what_fits_together_is_checked_beside_what_cannot_be_read() -> None:
    """The first foil lacks an entry and is left out; what is wrong with the third is still named as the third."""
    text = TEXT.replace('where = "mouth"\nrelation = "CR"', 'relation = "CR"').replace(
        "drags = [11, 21]", "drags = [11, 17]"
    )
    faults = faults_of(text)
    assert [(f.code, f.field) for f in faults] == [
        ("case.missing_field", "foils.1.where"),
        ("case.contradiction", "foils.3.drags.2"),
    ]
    assert faults[1].line == line_of(text, "drags = [11, 17]")


def test_nothing_is_said_of_what_was_left_out() -> None:
    """A mark that cannot be read is not reported a second time by each of its pairs, nor a record by its states."""
    text = TEXT.replace('UR  = { arch = "upper"', 'UR  = { arch = "uper"').replace(
        '"record 1" = { kind = "CR"', '"record 1" = { kin = "CR"'
    )
    assert [(f.code, f.field) for f in faults_of(text)] == [
        ("case.out_of_range", "marks.places.UR.arch"),
        ("case.missing_field", 'records."record 1".kind'),
        ("case.unknown_field", 'records."record 1".kin'),
    ]


def test_reading_a_caliper_only_case_imports_nothing_slow() -> None:
    code = (
        "import sys; from mountproof.case.files import load_case; "
        f"load_case({str(BENCH)!r}); print(*sorted(sys.modules))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = set(done.stdout.split())
    slow = {"tomlkit", "numpy", "scipy", "numba", "trimesh", "difflib", "rich", "typer", "json.tool"}
    assert not loaded & slow
    assert "mountproof.case.wording" not in loaded and "mountproof.case.merge" not in loaded


def test_faults_name_the_file(tmp_path: Path) -> None:
    (tmp_path / "other.toml").write_text("codd = 1")
    with pytest.raises(FaultError) as caught:
        load_case(tmp_path / "other.toml")
    assert {fault.where for fault in caught.value.faults} == {"other.toml"}


# --- universal numbering (trade trap: both systems share numbers, so nothing is inferred) ----------------------


def test_universal_numbers_only_when_the_case_says_so() -> None:
    text = 'code = "x"\n[dentition]\nnumbering = "universal"\nmissing = [1, 16, 17, 32]\n'
    assert parse_case(text).dentition.missing == (1, 16, 17, 32)
    faults = faults_of(text.replace("16", "48"))
    assert [f.code for f in faults] == ["case.tooth_number"]
    assert '"iso3950"' in faults[0].todo
    assert (
        len(faults_of(text.replace('numbering = "universal"\n', ""))) == 1
    )  # only 1: the others are teeth in both
    assert "universal" not in faults_of(text.replace("16", "99"))[0].todo


# --- mark names with hyphens -----------------------------------------------------------------------------------

HYPHENS = """
code = "x"
[marks.places]
U-1 = { arch = "upper" }
1-L = { arch = "lower" }
%s
[marks.states]
A = { kind = "MIP by hand" }
[marks]
readings_mm = '''
A
U-1-L 30.0
'''
"""


def test_a_pair_of_names_with_hyphens_is_read_when_it_can_be_read_one_way() -> None:
    text = HYPHENS.replace("U-1-L", "U-1-1-L") % ""
    case = parse_case(text)
    assert case.marks is not None
    assert pair_marks(case.marks, "U-1-1-L") == ("U-1", "1-L")
    with pytest.raises(ValueError, match="names no upper"):
        pair_marks(case.marks, "U-1")


def test_a_pair_that_can_be_read_two_ways_is_refused() -> None:
    text = HYPHENS % 'U = { arch = "upper" }\nL = { arch = "lower" }'
    faults = faults_of(text)
    assert [f.code for f in faults] == ["case.reference"]
    assert "U with 1-L or U-1 with L" in faults[0].what
    marks = Case.model_validate({"code": "x", **tomllib.loads(text)}).marks
    assert marks is not None
    with pytest.raises(ValueError, match="2 ways"):
        pair_marks(marks, "U-1-L")
    assert faults[0].line == line_of(text, "U-1-L 30.0")


# --- scans -----------------------------------------------------------------------------------------------------

PLACED = "frame_from_scan = [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]]"
LANDMARK = '{ name = "a", scan = [1, 2, 3], ahead_mm = 1, above_mm = 2, right_mm = 3 }'
HINGE = '{ name = "a", scan = [1, 2, 3], from_right_hinge_mm = 60 }'


def scan(arch: str = "upper", file: str = "u.stl", placement: str = PLACED, extra: str = "") -> str:
    return f'[[scans]]\narch = "{arch}"\nfile = \'{file}\'\nunit = "mm"\n{extra}\n[scans.placement]\n{placement}\n'


def with_scans(tmp_path: Path, *scans: str) -> tuple[Fault, ...]:
    (tmp_path / "u.stl").write_bytes(b"x")
    (tmp_path / "l.stl").write_bytes(b"x")
    (tmp_path.parent / "outside.stl").write_bytes(b"x")
    if not (tmp_path / "link.stl").exists():
        (tmp_path / "link.stl").symlink_to(tmp_path.parent / "outside.stl")
        (tmp_path / "loop.stl").symlink_to(tmp_path / "loop.stl")
        (tmp_path / "inner.stl").symlink_to(tmp_path / "u.stl")
    try:
        parse_case('code = "x"\n' + "".join(scans), folder=tmp_path)
    except FaultError as error:
        return error.faults
    return ()


@pytest.mark.parametrize("name", ["u.stl", "./u.stl", "a/../u.stl", "inner.stl"])
def test_scan_files_inside_the_folder_are_taken(tmp_path: Path, name: str) -> None:
    (tmp_path / "a").mkdir()
    assert with_scans(tmp_path, scan(file=name)) == ()


@pytest.mark.parametrize(
    "name",
    [
        "../outside.stl",
        "/etc/passwd",
        "link.stl",
        "a/../../outside.stl",
        "C:\\u.stl",
        "\\\\host\\u.stl",
        "loop.stl",
    ],
)
def test_scan_files_outside_the_folder_are_refused(tmp_path: Path, name: str) -> None:
    (fault,) = with_scans(tmp_path, scan(file=name))
    assert (fault.code, fault.field) == ("case.reference", "scans.1.file")
    assert fault.line == 4
    if name != "loop.stl":
        assert "outside" in fault.what


@pytest.mark.parametrize("name", ["v.stl", "sub\\u.stl", ".", "u.stl/x", "x" * 200])
def test_scan_files_that_are_not_there(tmp_path: Path, name: str) -> None:
    (fault,) = with_scans(tmp_path, scan(file=name))
    assert (fault.code, fault.field) == ("case.reference", "scans.1.file")
    if "\\" in name:
        assert "sub/u.stl" in fault.todo


@pytest.mark.parametrize(
    ("scans", "code", "field", "words"),
    [
        ([scan(), scan(file="l.stl")], "case.reference", "scans.2.arch", "two scans of the upper"),
        ([scan(placement=PLACED + "\nwith_other_arch = true"), scan("lower", "l.stl")], "case.reference", "scans.1.placement", "more than one way"),
        ([scan(placement="with_other_arch = true")], "case.reference", "scans.1.placement.with_other_arch", "no scan of the other"),
        ([scan(placement="with_other_arch = true"), scan("lower", "l.stl", "with_other_arch = true")], "case.reference", "scans.2.placement.with_other_arch", "each of the two"),
        ([scan(placement=f"hinge_distances = [{HINGE}, {HINGE}, {HINGE.replace('right', 'left').replace('_left_hinge', '_third_point')}]")], "case.missing_field", "scans.1.placement.hinge_distances.3.from_third_point_mm", "third point"),
        ([scan(placement=PLACED.replace("[0, 0, 0, 1]", "[5, 0, 0, 1]"))], "case.out_of_range", "scans.1.placement.frame_from_scan.4", "last row"),
        ([scan(placement=PLACED.replace("[0, 0, 1, 0]", "[0, 0, 1]"))], "case.wrong_type", "scans.1.placement.frame_from_scan.3", "too few"),
        ([scan(placement=PLACED.replace("[0, 0, 1, 0]", "[0, 0, 1, 0, 0]"))], "case.wrong_type", "scans.1.placement.frame_from_scan.3", "items"),
        ([scan(extra='teeth_file = "t.csv"')], "case.reference", "scans.1.teeth_file", "no such file"),
        ([scan().replace('unit = "mm"\n', "")], "case.missing_field", "scans.1.unit", '"inch"'),
    ],
)  # fmt: skip
def test_scan_entries_that_do_not_fit(
    tmp_path: Path, scans: list[str], code: str, field: str, words: str
) -> None:
    (fault,) = with_scans(tmp_path, *scans)
    assert (fault.code, fault.field) == (code, field), fault
    assert words in str(fault)


def test_a_placement_that_is_not_whole_yet_is_kept_for_the_answers_to_ask(tmp_path: Path) -> None:
    for placement in (
        "",
        f"landmarks = [{LANDMARK}]",
        f"landmarks = [{', '.join([LANDMARK] * 3)}]",
        f"hinge_distances = [{', '.join([HINGE] * 2)}]",
        f"hinge_distances = [{', '.join([HINGE] * 3)}]",
    ):
        assert (
            with_scans(tmp_path, scan(placement=placement), scan("lower", "l.stl", "with_other_arch = true"))
            == ()
        )


# --- files that are no case -------------------------------------------------------------------------------------


def refused(path: Path) -> Fault:
    with pytest.raises(FaultError) as caught:
        load_case(path)
    (fault,) = caught.value.faults
    assert fault.todo
    return fault


def test_a_missing_file_or_folder(tmp_path: Path) -> None:
    assert refused(tmp_path).code == "case.missing"
    assert "no case.toml" in refused(tmp_path).what
    assert refused(tmp_path / "nowhere").code == "case.missing"
    assert refused(Path("a\0b")).code == "case.missing"
    (tmp_path / "file").write_text("x")
    assert refused(tmp_path / "file" / "case.toml").code == "case.missing"


@pytest.mark.skipif(os.geteuid() == 0, reason="the administrator may read everything")
def test_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text(TEXT)
    (tmp_path / "case.toml").chmod(0)
    assert refused(tmp_path).code == "case.missing"


def test_a_file_that_is_no_plain_text(tmp_path: Path) -> None:
    file = tmp_path / "case.toml"
    file.write_bytes(TEXT.replace("QP", "Q\u00fc").encode("latin-1"))
    fault = refused(tmp_path)
    assert (fault.code, fault.line, fault.got) == ("case.not_text", line_of(TEXT, 'by = "QP"'), "byte 0xfc")
    file.write_bytes(TEXT.encode("utf-16"))
    assert "UTF-16" in refused(tmp_path).what
    file.write_bytes(b'code = "x"\n\0')
    assert (refused(tmp_path).code, refused(tmp_path).line) == ("case.not_text", 2)
    os.mkfifo(tmp_path / "pipe")
    assert refused(tmp_path / "pipe").code == "case.not_text"


def test_a_file_that_is_too_large(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_bytes(b"#" * 2_000_001)
    fault = refused(tmp_path)
    assert (fault.code, fault.got, fault.allowed) == ("case.too_large", "2.0 MB", "at most 2 MB")


@pytest.mark.parametrize(
    "text",
    ["a = " + "[" * 50_000, "a = " + "{a=" * 20_000, "a" + ".a" * 100_000 + " = 1", "[a" + ".a" * 100_000 + "]",
     ("[" + "a." * 400 + "a]\n") * 2000, "a = " + "[" * 60 + "]" * 60, "x = " + "1" * 5000, "d = 0000-01-01",
     'a = """' + '"" ' * 300_000, "\\" * 1_000_000, "#\n" * 900_000, "a = 1\n" * 300_000, "x" * 1_900_000,
     'a = "' + "\\\\" * 900_000, "[[a]]\n" * 300_000],
    ids=lambda text: text[:12].strip() + str(len(text)),
)  # fmt: skip
def test_hostile_texts_are_refused_in_bounded_time(text: str) -> None:
    faults = faults_of(text)
    assert len(faults) <= 100
    assert all(len(str(fault)) < 2000 for fault in faults)
