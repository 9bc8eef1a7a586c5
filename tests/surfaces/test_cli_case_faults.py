"""Everything that can be wrong with a case file, at the command line: one clear message, nothing touched."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from case.test_case_file import FAULTS, PLACED, TEXT, scan
from surfaces.cli_bench import bench_case, bench_text, prints, refused, run, squeezed


@pytest.mark.parametrize(
    ("old", "new", "code", "field", "words"), FAULTS, ids=[f"{f[2]} {f[1][:30]}" for f in FAULTS]
)
def test_every_fault_of_a_case_file(
    tmp_path: Path, old: str, new: str, code: str, field: str, words: str
) -> None:
    faults = refused(bench_case(tmp_path / "c", TEXT.replace(old, new, 1)), code)
    own = next(f for f in faults if f["code"] == code)
    assert words in " ".join(str(v) for v in own.values() if v) or squeezed(words) in squeezed(
        f"{own['what']} (got {own['got']}; allowed: {own['allowed']}). {own['todo']}"
    )
    assert own["where"] == "case.toml"
    assert not field or own["field"] == field


def test_all_faults_are_told_at_once_each_with_its_line(tmp_path: Path) -> None:
    text = bench_text()
    for old, new in (
        ("powder_g = 116", "powder_g = -1"),
        ('kind = "straight"', 'kind = "strait"'),
        ("held = [15, 45]", "held = [15, 99]"),
    ):
        assert old in text
        text = text.replace(old, new, 1)
    faults = refused(bench_case(tmp_path / "c", text), "case.out_of_range", "99", "strait", "-1")
    lines = [f["line"] for f in faults]
    assert len(faults) == 3 and lines == sorted(lines) and all(lines)


@pytest.mark.parametrize("command", ["answer", "report"])
def test_a_fault_is_told_by_every_command_that_reads_a_case(tmp_path: Path, command: str) -> None:
    folder = bench_case(tmp_path / "c", bench_text().replace("powder_g = 116", "powder_g = -1"))
    refused(folder, "case.out_of_range", command=(command, folder))
    refused(folder, "case.out_of_range", command=("export", folder, folder / "out"))


def test_files_that_are_no_case(tmp_path: Path) -> None:
    empty = tmp_path / "empty"
    empty.mkdir()
    refused(empty, "case.missing", "holds no case.toml", "mountproof new")
    refused(empty, "case.missing", command=("answer", tmp_path / "nowhere"))
    folder = bench_case(tmp_path / "c")
    for data, code in (
        (b"#" * 2_000_001, "case.too_large"),
        (bench_text().encode("utf-16"), "case.not_text"),
        (b"\x89PNG\r\n\x1a\n" + bytes(100), "case.not_text"),
        (bench_text().replace("bench hand 2", "bench h\u00e4nd").encode("latin-1"), "case.not_text"),
        (b"", "case.missing_field"),
        (b"a = " + b"[" * 50_000, "case.syntax"),
    ):
        (folder / "case.toml").write_bytes(data)
        refused(folder, code)
    (folder / "case.toml").unlink()
    os.mkfifo(folder / "case.toml")
    refused(folder, "case.not_text")


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("../outside.stl", "outside the case folder"),
        ("/etc/passwd", "outside the case folder"),
        ("link.stl", "outside the case folder"),
        ("C:\\\\u.stl", "outside the case folder"),
        ("nowhere.stl", "no such file"),
        ("sub", "no such file"),
    ],
)
def test_scan_files_that_are_not_there_or_lie_outside(tmp_path: Path, name: str, words: str) -> None:
    (tmp_path / "outside.stl").write_bytes(b"x")
    folder = bench_case(tmp_path / "c", 'code = "x"\n' + scan(file=name).replace("'", '"'))
    (folder / "link.stl").symlink_to(tmp_path / "outside.stl")
    (folder / "sub").mkdir()
    (fault,) = refused(folder, "case.reference", words)
    assert (fault["line"], fault["field"]) == (4, "scans.1.file")


def test_a_scan_that_is_not_placed_yet_is_asked_about(tmp_path: Path) -> None:
    folder = bench_case(tmp_path / "how", 'code = "x"\n' + scan(placement=""))
    (folder / "u.stl").write_bytes(b"x")
    asked = run("answer", folder, "contacts")
    assert asked.status == 5
    assert "scan of the lower cast" in asked.out


def test_scan_entries_that_do_not_fit(tmp_path: Path) -> None:
    for name, text, code, words in (
        ("twice", scan() + scan(), "case.reference", "two scans of the upper"),
        (
            "two ways",
            scan(placement=PLACED + "\nwith_other_arch = true"),
            "case.reference",
            "more than one way",
        ),
        ("unit", scan().replace('unit = "mm"\n', ""), "case.missing_field", "unit"),
        ("unknown unit", scan().replace('unit = "mm"', 'unit = "yard"'), "case.out_of_range", "inch"),
        (
            "matrix",
            scan(placement=PLACED.replace("[0, 0, 0, 1]", "[5, 0, 0, 1]")),
            "case.out_of_range",
            "last row",
        ),
    ):
        folder = bench_case(tmp_path / name, 'code = "x"\n' + text)
        (folder / "u.stl").write_bytes(b"x")
        refused(folder, code, words)


def test_a_question_that_is_none_names_the_eight(tmp_path: Path) -> None:
    folder = bench_case(tmp_path / "c")
    refused(folder, "question.unknown", "'pins'", "pin, stone, record", command=("answer", folder, "pins"))


def test_a_reading_that_cannot_be_is_questioned_and_kept(tmp_path: Path) -> None:
    text = bench_text()
    assert "UCR-LCR  38.05" in text
    folder = bench_case(tmp_path / "c", text.replace("UCR-LCR  38.05", "UCR-LCR  30.85"))
    before = prints(folder)
    ran = run("answer", folder, "pin")
    assert ran.status == 3
    assert "Look again:" in ran.out and "30.85" in ran.out and "UCR-LCR" in ran.out
    assert prints(folder) == before
    asked = run("answer", folder, "pin", "--json").json
    assert any("30.85" in text for text in asked["questions"])


@pytest.mark.skipif(os.geteuid() == 0, reason="the administrator may read everything")
def test_a_case_that_may_not_be_read(tmp_path: Path) -> None:
    folder = bench_case(tmp_path / "c")
    (folder / "case.toml").chmod(0)
    ran = run("answer", folder)
    assert ran.status == 2 and "may read it" in ran.err
