"""Writing a case: nothing entered is lost, remarks and layout stay, a reader never sees half a file."""

from __future__ import annotations

import difflib
import itertools
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from case.case_strategies import cases
from mountproof.case import atomic
from mountproof.case.atomic import replace_file
from mountproof.case.cells import edit_cell
from mountproof.case.dump import dump
from mountproof.case.files import load_case, parse_case
from mountproof.case.grid import parse_grid
from mountproof.case.merge import merge
from mountproof.case.model import Case, Record
from mountproof.case.names import parse_field
from mountproof.case.writing import save_case, set_value
from mountproof.faults import FaultError

BENCH = Path(__file__).with_name("bench_case.toml")
TEXT = BENCH.read_text()
SLOW = settings(
    max_examples=30, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture]
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "case.toml").write_text(TEXT)
    return tmp_path


def names(folder: Path) -> list[str]:
    return [path.name for path in folder.iterdir()]


def changed_lines(old: str, new: str) -> list[tuple[str, str]]:
    """The lines that differ, as pairs; fails where lines were added or taken out."""
    before, after = old.splitlines(), new.splitlines()
    assert len(before) == len(after), "\n".join(difflib.unified_diff(before, after, lineterm="", n=0))
    return [(a, b) for a, b in zip(before, after, strict=True) if a != b]


# --- whole cases ------------------------------------------------------------------------------------------------


@SLOW
@given(case=cases())
def test_what_is_written_reads_back_equal(case: Case, tmp_path: Path) -> None:
    folder = tmp_path / "case"
    folder.mkdir(exist_ok=True)
    (folder / "sub").mkdir(exist_ok=True)
    for name in ("u.stl", "sub/l.stl"):
        (folder / name).write_bytes(b"solid")
    (folder / "case.toml").unlink(missing_ok=True)
    file = save_case(case, folder)
    assert file == folder / "case.toml"
    assert load_case(folder) == case


@SLOW
@given(old=cases(), new=cases())
def test_one_case_over_another_reads_back_as_the_other(old: Case, new: Case, tmp_path: Path) -> None:
    file = tmp_path / "one.toml"
    file.unlink(missing_ok=True)
    bare_old, bare_new = (case.model_copy(update={"scans": ()}) for case in (old, new))
    save_case(bare_old, file)
    first = file.read_bytes()
    save_case(bare_new, file)
    assert load_case(file) == bare_new
    if first != file.read_bytes():
        kept = [path.read_bytes() for path in (tmp_path / "earlier").iterdir()]
        assert first in kept


def test_saving_a_changed_case_keeps_remarks_and_layout(folder: Path) -> None:
    case = load_case(folder)
    assert case.bench is not None and case.instrument is not None
    pin = case.instrument.pin.model_copy(update={"mm_per_mark": 1.5})
    new = case.model_copy(
        update={
            "note": "Looked at again.",
            "bench": case.bench.model_copy(update={"powder_g": 120.0}),
            "instrument": case.instrument.model_copy(update={"pin": pin}),
        }
    )
    save_case(new, folder)
    assert load_case(folder) == new
    assert changed_lines(TEXT, (folder / "case.toml").read_text()) == [
        ('note = "No symptoms; wear of upper front teeth."', 'note = "Looked at again."'),
        ("mm_per_mark = 1", "mm_per_mark = 1.5"),
        ("powder_g = 116", "powder_g = 120.0"),
    ]


def test_saving_changed_readings_changes_only_their_cells(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text(COMMA_TABLE)
    case = load_case(tmp_path)
    assert case.marks is not None
    rows = {**case.marks.readings_mm.rows, "U-L": ((36.10,), (38.05, 38.1))}
    table = case.marks.readings_mm.model_copy(update={"rows": rows})
    new = case.model_copy(update={"marks": case.marks.model_copy(update={"readings_mm": table})})
    save_case(new, tmp_path)
    assert load_case(tmp_path) == new
    ((before, after),) = changed_lines(
        COMMA_TABLE, (tmp_path / "case.toml").read_text().replace('"""', "'''")
    )
    assert before == "U-L     36,10    38,05" and after == "U-L     36,10    38,05/38,10"


@settings(max_examples=40)
@given(data=st.data(), other=cases())
def test_remarks_stay_with_entries_that_stay(data: st.DataObject, other: Case) -> None:
    """Every line of a case gets a remark of its own; those of untouched top-level parts must all survive."""
    remark = itertools.count(1)
    inside, lines = False, []
    for line in TEXT.splitlines():
        quotes = line.count('"""')
        plain = line and not inside and not quotes and not line.endswith((",", "["))
        lines.append(f"{line} # remark {next(remark)}." if plain else line)
        inside ^= quotes % 2 == 1
    text = "\n".join(lines) + "\n"
    old = parse_case(text)
    part = data.draw(st.sampled_from(["note", "lab", "date", "caliper", "plane", "bench", "foils", "limits"]))
    new = old.model_copy(update={part: getattr(other, part)})
    if part == "foils":
        new = new.model_copy(
            update={
                "foils": tuple(f.model_copy(update={"held": (), "drags": (), "free": ()}) for f in new.foils)
            }
        )
    written = merge(text, old, new)
    assert written is not None and parse_case(written) == new
    if part in ("note", "lab", "date"):
        gone = sum(line.startswith(f"{part} =") for line in lines) * (getattr(new, part) in ("", None))
        assert written.count("# remark") >= text.count("# remark") - gone
    else:
        start = next(i for i, line in enumerate(lines) if line.lstrip("[").startswith(part))
        end = next(
            (i for i in range(start, len(lines)) if lines[i].startswith("[") and part not in lines[i]),
            len(lines),
        )
        own = "\n".join(lines[start:end])
        for number in range(1, text.count("# remark") + 1):
            word = f"# remark {number}."
            assert word in own or word in written, word


def test_saving_an_unchanged_case_changes_no_byte(folder: Path) -> None:
    save_case(load_case(folder), folder)
    assert (folder / "case.toml").read_text() == TEXT
    assert not (folder / "earlier").exists()


def test_parts_that_are_added_or_taken_out(folder: Path) -> None:
    case = load_case(folder)
    records = {**case.records, "record 5": Record(kind="CR")}
    new = case.model_copy(update={"plane": None, "records": records, "foils": case.foils[:2]})
    save_case(new, folder)
    text = (folder / "case.toml").read_text()
    assert load_case(folder) == new
    assert "# decimal comma or point, both are read" in text
    assert "# Invented bench case" in text
    assert "[plane]" not in text and text.count("[[foils]]") == 2 and '"record 5"' in text


def test_a_case_that_does_not_fit_together_is_not_written(tmp_path: Path) -> None:
    with pytest.raises(FaultError) as caught:
        save_case(Case(code="x", mounted_on="nothing"), tmp_path)
    assert caught.value.faults[0].field == "mounted_on"
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_no_case_is_replaced_and_kept(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_bytes(b"not a case \xff")
    save_case(Case(code="x"), tmp_path)
    assert load_case(tmp_path) == Case(code="x")
    assert (tmp_path / "earlier" / "case-0001.toml").read_bytes() == b"not a case \xff"


def test_the_bench_case_dumps_to_an_equal_case() -> None:
    case = parse_case(TEXT)
    assert parse_case(dump(case)) == case
    assert dump(parse_case(dump(case))) == dump(case)


# --- one entry --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("field", "value", "old", "new"),
    [
        ("code", "HERON-0002", 'code = "KESTREL-0417"', 'code = "HERON-0002"'),
        ("bench.powder_g", 120, "powder_g = 116", "powder_g = 120"),
        ("instrument.pin.ahead_mm", 111.5, '"110 +- 0,5"      # decimal', '"111,5"      # decimal'),
        ("caliper.sd_mm", 0.05, 'sd_mm = "0,045"', 'sd_mm = "0,05"'),
        ("foils.3.drags", [11], "drags = [11, 21]", "drags = [11]"),
        ("dentition.missing.2", 38, "[18, 28, 38, 48]", "[18, 38, 38, 48]"),
        ('records."record 2".material', "thin wax", '"record 2" = { kind = "CR", material = "hard wax" }',
         '"record 2" = { kind = "CR", material = "thin wax" }'),
        ("marks.places.UR.u_mm", 0.4, "above_mm = -20, right_mm = 34, u_mm = 0.5", "above_mm = -20, right_mm = 34, u_mm = 0.4"),
        ("pin_readings.2.reads", -0.5, "reads = 0.0", "reads = -0.5"),
        ("marks.readings_mm.UR-LR.B", 38.1, "UR-LR    36.10 38.05 38.20", "UR-LR    36.10 38.10 38.20"),
        ("marks.readings_mm.UR-LR.J", 38.123, "41.25 38.30", "41.25 38.123"),
        ("marks.readings_mm.UA-LA.A", 9.5, "UA-LA    39.10 42.60", "UA-LA    9.50  42.60"),
        ("marks.readings_mm.UA-LA.A", None, "UA-LA    39.10 42.60", "UA-LA    -     42.60"),
        ("marks.reseat_mm.UA-LA.1", [42.5, 42.55], "UA-LA    42.55 42.65", "UA-LA    42.50/42.55 42.65"),
    ],
)  # fmt: skip
def test_setting_one_entry_changes_one_line(
    folder: Path, field: str, value: object, old: str, new: str
) -> None:
    assert set_value(folder, field, value) == ()
    ((before, after),) = changed_lines(TEXT, (folder / "case.toml").read_text())
    assert TEXT.count(old) >= 1 and old in before and new in after and before.replace(old, new, 1) == after
    assert (folder / "earlier" / "case-0001.toml").read_text() == TEXT
    load_case(folder)


def test_entries_can_be_added_and_taken_out(folder: Path) -> None:
    set_value(folder, "bench.room_c", 21)
    set_value(folder, "bench.sheet.set_min", 5)
    set_value(folder, "plane.tilt_deg", {"value": 10, "u": 1})
    set_value(folder, "by", None)
    set_value(folder, "foils.4", None)
    set_value(folder, "limits.axis_cost", {"decent": 0.1, "redo": 0.2})
    case = load_case(folder)
    assert case.bench is not None and (case.bench.room_c, case.bench.sheet.set_min) == (21, 5)
    assert case.plane is not None and case.plane.tilt_deg is not None and case.plane.tilt_deg.u == 1
    assert (case.by, len(case.foils), case.limits.axis_cost.redo) == ("", 3, 0.2)
    assert len(list((folder / "earlier").iterdir())) == 6
    assert "# decimal comma or point, both are read" in (folder / "case.toml").read_text()


def test_a_part_that_was_not_there_can_be_begun(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text('# mine\ncode = "x" # the code\n')
    set_value(tmp_path, "bench.powder_g", 100)
    set_value(tmp_path, "note", "n")
    text = (tmp_path / "case.toml").read_text()
    assert "# mine" in text and "# the code" in text
    assert tomllib.loads(text) == {"code": "x", "note": "n", "bench": {"powder_g": 100}}


COMMA_TABLE = """code = "x"
[marks.places]
U = { arch = "upper" }
L = { arch = "lower" }
M = { arch = "lower" }
[marks.states]
A = { kind = "MIP by hand" }
B = { kind = "record in" }
[marks]
readings_mm = '''
pair    A        B       # by hand, then record 1
U-L     36,10    38,05
U-M     36,1/36,2   -    # slipped once
'''
"""


@pytest.mark.parametrize(
    ("field", "value", "old", "new"),
    [
        ("marks.readings_mm.U-L.A", 36.5, "U-L     36,10    38,05", "U-L     36,50    38,05"),
        (
            "marks.readings_mm.U-M.B",
            40.0,
            "36,1/36,2   -    # slipped once",
            "36,1/36,2   40,00 # slipped once",
        ),
        (
            "marks.readings_mm.U-M.A",
            [36.1, 36.3, 36.25],
            "U-M     36,1/36,2   -",
            "U-M     36,1/36,3/36,25 -",
        ),
    ],
)
def test_the_decimal_comma_of_a_table_is_kept(
    tmp_path: Path, field: str, value: object, old: str, new: str
) -> None:
    (tmp_path / "case.toml").write_text(COMMA_TABLE)
    set_value(tmp_path, field, value)
    ((before, after),) = changed_lines(COMMA_TABLE, (tmp_path / "case.toml").read_text())
    assert before.replace(old, new) == after != before


@settings(max_examples=150)
@given(
    data=st.data(),
    values=st.lists(st.integers(1, 25000).map(lambda i: i / 100) | st.floats(0.001, 250), max_size=3),
)
def test_a_cell_is_edited_and_no_other(data: st.DataObject, values: list[float]) -> None:
    text = tomllib.loads(COMMA_TABLE)["marks"]["readings_mm"]
    pair, state = data.draw(st.sampled_from(["U-L", "U-M"])), data.draw(st.sampled_from(["A", "B"]))
    before = parse_grid(text)
    edited = edit_cell(text, pair, state, values)
    assert edited is not None
    after = parse_grid(edited)
    before["rows"][pair] = tuple(
        tuple(values) if s == state else cell
        for s, cell in zip(before["states"], before["rows"][pair], strict=True)
    )
    assert after == before
    assert "." not in edited.replace("e-", "")
    assert edited.count("#") == text.count("#")


def test_line_ends_and_byte_mark_of_the_file_are_kept(tmp_path: Path) -> None:
    data = b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode()
    (tmp_path / "case.toml").write_bytes(data)
    set_value(tmp_path, "bench.powder_g", 117)
    set_value(tmp_path, "marks.readings_mm.UR-LR.B", 38.1)
    expected = data.replace(b"powder_g = 116", b"powder_g = 117").replace(
        b"36.10 38.05 38.20", b"36.10 38.10 38.20"
    )
    assert (tmp_path / "case.toml").read_bytes() == expected


@pytest.mark.parametrize(
    ("field", "value", "code"),
    [
        ("bench.powder_g", -1, "case.out_of_range"),
        ("bench.powder", 1, "case.unknown_field"),
        ("marks.readings_mm.UR-LR.B", 380, "case.out_of_range"),
        ("marks.readings_mm.UR-LR.Q", 38, "case.reference"),
        ("mounted_on", "record 9", "case.reference"),
        ("code", None, "case.missing_field"),
        ("foils.9.held", [11], "case.reference"),
        ("foils.x", 3, "case.reference"),
        ("code.x", 3, "case.unknown_field"),
        ("code.x.y", 3, "case.unknown_field"),
        ("a b", 3, "case.unknown_field"),
        ("", 3, "case.unknown_field"),
        ("a = 1\nb", 3, "case.unknown_field"),
    ],
)
def test_a_change_that_brings_a_fault_changes_nothing(
    folder: Path, field: str, value: object, code: str
) -> None:
    with pytest.raises(FaultError) as caught:
        set_value(folder, field, value)
    assert caught.value.faults[0].code == code
    assert (folder / "case.toml").read_text() == TEXT
    assert names(folder) == ["case.toml"]


def test_one_of_several_faults_can_be_mended(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text(
        'code = "x"\nmounted_on = "r"\n[bench]\npowder_g = -1\nwater_ml = -1\n'
    )
    left = set_value(tmp_path, "bench.powder_g", 100)
    assert sorted(fault.field for fault in left) == ["bench.water_ml", "mounted_on"]
    with pytest.raises(FaultError):
        set_value(tmp_path, "bench.room_c", 1000)
    left = set_value(tmp_path, "bench.water_ml", 26)
    assert [fault.field for fault in left] == ["mounted_on"]
    assert set_value(tmp_path, "mounted_on", None) == ()
    assert load_case(tmp_path).bench is not None


def test_a_text_that_is_no_toml_is_not_edited(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text("code = x\n")
    with pytest.raises(FaultError) as caught:
        set_value(tmp_path, "code", "y")
    assert caught.value.faults[0].code == "case.syntax"
    assert (tmp_path / "case.toml").read_text() == "code = x\n"


def test_names_of_entries_are_read_as_faults_write_them() -> None:
    assert parse_field('records."record 1".kind') == ("records", "record 1", "kind")
    assert parse_field("foils.2.held") == ("foils", "2", "held")


# --- the file itself --------------------------------------------------------------------------------------------


def test_every_text_that_ever_stood_in_the_file_is_kept(folder: Path) -> None:
    seen = [TEXT]
    for grams in (101, 102, 103):
        set_value(folder, "bench.powder_g", grams)
        seen.append((folder / "case.toml").read_text())
    kept = sorted((folder / "earlier").iterdir())
    assert [path.name for path in kept] == ["case-0001.toml", "case-0002.toml", "case-0003.toml"]
    assert [path.read_text() for path in kept] == seen[:-1]


def test_a_file_changed_meanwhile_is_not_overwritten(folder: Path) -> None:
    with pytest.raises(FaultError) as caught:
        replace_file(folder / "case.toml", b"mine", b"what I saw")
    assert caught.value.faults[0].code == "case.changed"
    assert (folder / "case.toml").read_text() == TEXT
    assert names(folder) == ["case.toml"]


@pytest.mark.parametrize("step", ["fsync", "write", "replace", "mkstemp"])
def test_a_write_that_fails_leaves_the_old_file(
    folder: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    if step == "fsync":
        monkeypatch.setattr(atomic.os, "fsync", full)
    elif step == "write":
        monkeypatch.setattr(atomic, "keep_earlier", full)
    elif step == "replace":
        monkeypatch.setattr(Path, "replace", full)
    else:
        monkeypatch.setattr(atomic.tempfile, "mkstemp", full)
    with pytest.raises(FaultError) as caught:
        set_value(folder, "bench.powder_g", 120)
    assert caught.value.faults[0].code == "case.not_written"
    assert (folder / "case.toml").read_text() == TEXT
    assert set(names(folder)) - {"earlier"} == {"case.toml"}


def test_permissions_and_links_stay(folder: Path) -> None:
    (folder / "case.toml").chmod(0o640)
    (folder / "real.toml").write_bytes((folder / "case.toml").read_bytes())
    link = folder / "link.toml"
    link.symlink_to("real.toml")
    set_value(folder, "bench.powder_g", 120)
    set_value(link, "bench.powder_g", 130)
    assert (folder / "case.toml").stat().st_mode & 0o777 == 0o640
    assert link.is_symlink() and "powder_g = 130" in (folder / "real.toml").read_text()
