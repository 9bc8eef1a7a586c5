"""The digest covers what an answer can read, and nothing but what it names."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from pathlib import Path

import pytest

from mountproof import __version__
from mountproof.case.digest import canonical, digest, only, scan_digests
from mountproof.case.files import load_case, parse_case
from mountproof.case.model import Case
from mountproof.faults import FaultError

BENCH = Path(__file__).with_name("bench_case.toml")
PARTS = tuple(Case.model_fields)


def test_a_part_that_is_not_named_does_not_count() -> None:
    case = load_case(BENCH)
    other = case.model_copy(update={"bench": None, "note": "x", "foils": ()})
    parts = ("marks", "instrument", "caliper")
    assert canonical(case, parts) == canonical(other, parts)
    assert digest(case, parts) == digest(other, parts)


#: What the bench case does not have: checks of casts and mounting.
MORE = """
[[casts.widths]]
arch = "upper"
between = [16, 26]
in_mouth_mm = [52.3]
[facebow]
axis = "ear rods"
[[proof.condyle_gaps]]
right_mm = 0.1
[few_teeth]
tracing = [{ ahead_mm = 0.1, right_mm = 0 }]
[settings]
right = { inclination_deg = 35 }
[prescription]
scheme = "even contact behind"
judged_at_pin = 0
[space]
wanted = [{ teeth = [16], thickness_mm = 1.5 }]
[push]
friction = 0.3
[doubt]
luting_mm = 0.06
source = { luting_mm = "own 14 cases" }
"""


def whole() -> Case:
    """The bench case, with checks of casts and mounting as well."""
    repeats = "record_repeat_dof = 24\nvisit_repeat_mm = 0.1\nrecord_repeat_mm"
    return parse_case(BENCH.read_text().replace("record_repeat_mm", repeats, 1) + MORE)


#: Parts that this case fills in; the others are at their defaults, so clearing them changes nothing.
FILLED = [
    name
    for name, field in Case.model_fields.items()
    if getattr(whole(), name) != field.get_default(call_default_factory=True)
]


def test_the_case_fills_in_nearly_every_part() -> None:
    assert set(PARTS) - set(FILLED) <= {"schema_version", "scans"}


@pytest.mark.parametrize("part", FILLED)
def test_each_part_that_is_named_counts(part: str) -> None:
    case = whole()
    kept = only(case, tuple(p for p in PARTS if p != part))
    cleared = kept.model_copy(update={"code": "other"}) if part == "code" else kept
    assert digest(case, PARTS) != digest(cleared, PARTS)
    assert digest(case, (part,)) != digest(cleared, (part,))
    rest = tuple(p for p in PARTS if p != part)
    assert digest(case, rest) == digest(cleared, rest)


def test_order_of_parts_does_not_count_but_order_of_rows_does() -> None:
    case = load_case(BENCH)
    assert canonical(case, ("marks", "bench")) == canonical(case, ("bench", "marks"))
    table = case.marks.readings_mm
    turned = table.model_copy(update={"rows": dict(reversed(table.rows.items()))})
    other = case.model_copy(update={"marks": case.marks.model_copy(update={"readings_mm": turned})})
    assert other == case
    assert canonical(case, ("marks",)) != canonical(other, ("marks",))


def test_seed_and_version_count_and_the_whole_is_a_sha256() -> None:
    case = load_case(BENCH)
    base = digest(case, ("marks",))
    assert digest(case, ("marks",), seed=1) != base
    assert digest(case, ("marks",), version="0") != base
    head = f'{{"program":"{__version__}","seed":0}}\n'.encode()
    assert base == hashlib.sha256(head + canonical(case, ("marks",))).hexdigest()


def test_canonical_bytes_are_json_that_can_be_read_back() -> None:
    case = load_case(BENCH)
    data = canonical(case, PARTS)
    read = json.loads(data)
    assert read["instrument"]["pin"]["ahead_mm"] == {"u": 0.5, "value": 110.0}
    assert read["bench"]["powder_met_water"] == "10:02:00"
    assert read["marks"]["readings_mm"]["rows"][0][0] == "UR-LR"
    assert data == json.dumps(read, sort_keys=True, separators=(",", ":")).encode("ascii")


def test_the_digest_is_the_same_in_another_process_with_other_hashing() -> None:
    code = (
        "from mountproof.case.files import load_case; from mountproof.case.digest import digest;"
        f"from mountproof.case.model import Case; print(digest(load_case({str(BENCH)!r}), tuple(Case.model_fields)))"
    )
    found = {
        subprocess.run(
            [sys.executable, "-c", code],
            env={"PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout.strip()
        for seed in ("1", "2")
    }
    assert found == {digest(load_case(BENCH), PARTS)}


def test_decimal_comma_and_point_give_the_same_digest() -> None:
    text = BENCH.read_text()
    pointed = text.replace('"110 +- 0,5"', "{ value = 110.0, u = 0.5 }").replace('"0,045"', "0.045")
    assert digest(parse_case(text), PARTS) == digest(parse_case(pointed), PARTS)


def test_only_keeps_the_named_parts_and_forgets_the_rest() -> None:
    case = load_case(BENCH)
    part = only(case, ("marks", "caliper"))
    assert (part.marks, part.caliper, part.code, part.folder) == (
        case.marks,
        case.caliper,
        case.code,
        case.folder,
    )
    assert part == Case(code=case.code, marks=case.marks, caliper=case.caliper)
    assert part.echoes == ()
    assert case.bench is not None
    assert digest(part, ("marks", "caliper")) == digest(case, ("marks", "caliper"))


def test_unknown_parts_are_an_error_of_the_program() -> None:
    case = Case(code="x")
    for call in (canonical, digest, only):
        with pytest.raises(KeyError):
            call(case, ("mark",))


SCANNED = """
code = "x"
[[scans]]
arch = "upper"
file = "u.stl"
unit = "mm"
teeth_file = "t.csv"
[scans.placement]
frame_from_scan = [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]]
"""


def test_the_content_of_scan_files_counts(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text(SCANNED)
    (tmp_path / "u.stl").write_bytes(b"one" * 1_000_000)
    (tmp_path / "t.csv").write_bytes(b"11\n")
    case = load_case(tmp_path)
    assert scan_digests(case) == {
        "u.stl": hashlib.sha256(b"one" * 1_000_000).hexdigest(),
        "t.csv": hashlib.sha256(b"11\n").hexdigest(),
    }
    before, bare = digest(case, ("scans",)), digest(case, ("marks",))
    (tmp_path / "u.stl").write_bytes(b"two")
    assert digest(case, ("scans",)) == before, "one case, one digest"
    again = load_case(tmp_path)
    assert digest(again, ("scans",)) != before
    assert digest(again, ("marks",)) == bare
    assert only(case, ("scans",))._scan_digests == case._scan_digests


def test_a_scan_file_that_went_away_is_a_fault(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text(SCANNED)
    (tmp_path / "u.stl").write_bytes(b"one")
    (tmp_path / "t.csv").write_bytes(b"11\n")
    case = load_case(tmp_path)
    (tmp_path / "u.stl").unlink()
    with pytest.raises(FaultError) as caught:
        digest(case, ("scans",))
    assert caught.value.faults[0].code == "case.reference"


EXTRA = """
code = "x"
[[casts.other_scans]]
arch = "upper"
file = "again.stl"
unit = "mm"
shows = "another cast"
[records."record 1"]
kind = "CR"
[records."record 1".scan]
file = "record.stl"
unit = "mm"
shows = "the record"
"""


def test_scans_of_records_and_further_scans_count_where_what_names_them_is_read(tmp_path: Path) -> None:
    (tmp_path / "case.toml").write_text(EXTRA)
    (tmp_path / "again.stl").write_bytes(b"a")
    (tmp_path / "record.stl").write_bytes(b"b")
    case = load_case(tmp_path)
    assert set(scan_digests(case)) == {"again.stl", "record.stl"}
    both, record = ("scans", "records", "casts"), ("scans", "records")
    before = digest(case, both), digest(case, record), digest(case, ("records",))
    (tmp_path / "again.stl").write_bytes(b"c")
    case = load_case(tmp_path)
    assert digest(case, both) != before[0] and digest(case, record) == before[1]
    (tmp_path / "record.stl").write_bytes(b"d")
    case = load_case(tmp_path)
    assert digest(case, record) != before[1]
    assert digest(case, ("records",)) == before[2], "who reads no scans does not depend on their files"
    (tmp_path / "again.stl").unlink()
    with pytest.raises(FaultError) as caught:
        load_case(tmp_path)
    assert [fault.field for fault in caught.value.faults] == ["casts.other_scans.1.file"]
