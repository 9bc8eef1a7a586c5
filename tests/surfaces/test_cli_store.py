"""The store at the command line: cases in and out without loss, entries changed, backups, and which case is meant."""

from __future__ import annotations

import json
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from mountproof.case.store import CaseState, ConflictError, Store
from mountproof.surfaces.cli.status import FAULTY_INPUT
from surfaces.cli_bench import FORBIDDEN, INSIDE, Ran, bench_case, bench_text, prints, run, scan_case

PROGRAM = [sys.executable, "-c", "from mountproof.surfaces.cli import main; main()"]


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A data folder of one's own, and a folder to stand in."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("MOUNTPROOF_WHO", "QP")
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    return tmp_path / "data" / "mountproof"


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    return bench_case(tmp_path / "bench")


def small(folder: Path, code: str = "WREN-3", more: str = "") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "case.toml").write_text(f'code = "{code}"   # mine\n{more}', encoding="utf-8")
    return folder


def ok(*words: str | Path) -> Ran:
    ran = run(*words)
    assert ran.status == 0, ran.err
    assert not [line for line in ran.out.splitlines() if line != line.rstrip()]
    return ran


def codes(ran: Ran) -> list[str]:
    assert ran.status == FAULTY_INPUT
    return [fault["code"] for fault in ran.json["faults"]]


def test_a_case_folder_comes_in_and_goes_out_byte_for_byte(tmp_path: Path) -> None:
    folder = scan_case(tmp_path / "SCANS")
    (folder / "notes").mkdir()
    (folder / "notes" / "photo.txt").write_bytes(b"\x00\xff anything")
    before = prints(folder)
    assert "case 1 of the store, with 1 revision" in ok("bring-in", folder).out
    assert prints(folder) == before
    ok("take-out", "SCANS", "--to", tmp_path / "out")
    assert prints(tmp_path / "out") == before


def test_a_bundle_carries_every_revision(tmp_path: Path, bench: Path) -> None:
    ok("bring-in", bench, "--who", "AA")
    ok("enter", "1", "note", "second", "--who", "BB")
    ok("take-out", "1", "--to", tmp_path / "case.zip")
    ok("take-out", "1", "--to", tmp_path / "old", "--revision", "1")
    assert (tmp_path / "old" / "case.toml").read_bytes() == (bench / "case.toml").read_bytes()
    other = tmp_path / "other"
    brought = ok("bring-in", tmp_path / "case.zip", "--who", "NN", "--store", other, "--json").json
    assert (brought["revisions"], brought["case"]["who"]) == (2, "BB")
    with Store(other) as store, store.snapshot() as seen:
        assert [one.who for one in seen.history(1)] == ["AA", "BB"]
        assert [one.who for one in seen.brought_in(1)] == ["NN"]
    # It goes on here and there: refused, unless it is to be a case of its own.
    ok("enter", "1", "note", "here")
    ok("enter", "1", "note", "there", "--store", other)
    ok("take-out", "1", "--to", tmp_path / "here.zip")
    again = ("bring-in", tmp_path / "here.zip", "--store", other)
    assert codes(run(*again, "--json")) == ["bundle.diverged"]
    assert ok(*again, "--as-new", "--json").json["case"]["number"] == 2


def test_the_list_of_cases(tmp_path: Path) -> None:
    for n in range(12):
        ok(
            "bring-in",
            small(tmp_path / f"{n}", f"CODE-{n:02d}", f'lab = "Bench {"xyz"[n % 3]}"\nnote = "n {n}"\n'),
        )
    with Store() as store, store.change("RS") as change:
        change.set_state(3, CaseState.DONE)
        change.edit(5, {"note": "changed last"}, 1)
    for columns in (60, 80, 110):
        shown = run("cases", columns=columns)
        assert shown.status == 0
        assert not [line for line in shown.out.splitlines() if len(line) > columns]
        assert not FORBIDDEN.search(shown.out) and not INSIDE.search(shown.out)
    lines = shown.out.splitlines()
    assert lines[0].split() == ["no.", "code", "laboratory", "state", "changed", "by", "revision"]
    assert lines[1].split()[:2] == ["5", "CODE-04"] and lines[1].split()[-2:] == ["RS", "2"]
    assert len(lines) == 13
    found = ok("cases", "--search", "bench Y CODE", "--order", "code", "--json").json
    assert [one["number"] for one in found["cases"]] == [2, 5, 8, 11] and found["more"] is False
    assert [one["code"] for one in ok("cases", "--state", "done", "--json").json["cases"]] == ["CODE-02"]
    few = ok("cases", "--most", "5")
    assert "the first 5" in few.out and len(few.out.splitlines()) == 7
    assert ok("cases", "--most", "5", "--json").json["more"] is True
    assert ok("cases", "--search", "nothing like it").out == "No case fits.\n"
    assert codes(run("cases", "--state", "lost", "--json")) == ["cases.option"]
    assert codes(run("cases", "--order", "age", "--json")) == ["cases.option"]
    assert codes(run("cases", "--most", "0", "--json")) == ["cases.option"]


def test_where_there_is_no_store_none_is_begun(home: Path, tmp_path: Path) -> None:
    for words in (
        ["cases"],
        ["enter", "1", "note", "x"],
        ["take-out", "1", "--to", tmp_path / "x"],
        ["backup", "--to", tmp_path / "b"],
    ):
        assert codes(run(*words, "--json")) == ["store.none"]
    assert codes(run("answer", "WREN-3", "--json")) == ["case.missing"]
    assert codes(run("bring-in", tmp_path / "nothing", "--json")) == ["case.missing"]
    assert codes(run("bring-in", tmp_path / "nothing.zip", "--json")) == ["case.missing"]
    assert codes(run("bring-in", small(tmp_path / "bad", more="bench = 3\n"), "--json")) == [
        "case.wrong_type"
    ]
    assert codes(run("put-back", tmp_path / "bad", "--json")) == ["store.not_a_store"]
    assert not home.exists()


def test_what_is_entered_is_kept_as_typed_and_said(bench: Path) -> None:
    ok("bring-in", bench)
    shown = ok("enter", "KESTREL-0417", "bench.powder_g", "38,05")
    assert "bench.powder_g: 116" in shown.out and "→ 38.05" in shown.out
    assert '"38,05" read as 38.05 g' in shown.out
    assert "case 1, revision 2 by QP" in shown.out
    ok("enter", "1", "marks.readings_mm.UR-LR.B", "38,05", "38.1")
    ok("enter", "1", "dentition.missing", "18", "28")
    ok(
        "enter",
        "1",
        "foils.+",
        '{ where = "mounting", relation = "MIP", thickness_um = 8, closure = "light" }',
    )
    ok("enter", "1", "foils.1.held", "11 21")
    ok("enter", "1", "pin_readings.2.reads", "-0,5")
    ok("enter", "1", "date", "2026-03-04")
    ok("enter", "1", "note", "--nothing")
    assert "Nothing changed" in ok("enter", "1", "date", "2026-03-04").out
    with Store() as store, store.snapshot() as seen:
        case, text = seen.case(1), seen.head(1).text.decode()
        assert len(seen.history(1)) == 9
    assert case.bench is not None and case.bench.powder_g == 38.05
    assert case.marks is not None and case.marks.readings_mm.get("UR-LR", "B") == (38.05, 38.1)
    assert case.dentition.missing == (18, 28) and case.note == "" and case.pin_readings[1].reads == -0.5
    assert (
        '"38,05"' in text
        and "38,05/38.1" in text
        and 'reads = "-0,5"' in text
        and "date = 2026-03-04" in text
    )
    for typed in [line for line in bench_text().splitlines() if line.startswith("#")]:
        assert typed in text, "remarks stay"


def test_what_somebody_else_changed_is_shown_and_not_overwritten(bench: Path) -> None:
    ok("bring-in", bench)
    ok("enter", "1", "bench.powder_g", "100", "--who", "AA")
    ok("enter", "1", "note", "mine", "--who", "BB", "--based-on", "1")
    refused = run("enter", "1", "bench.powder_g", "120", "--who", "BB", "--based-on", "1")
    assert refused.status == FAULTY_INPUT
    assert "Changed meanwhile by AA in revision 2 to 100" in " ".join(refused.err.split())
    with Store() as store, store.snapshot() as seen:
        case = seen.case(1)
        assert case.bench is not None and (case.bench.powder_g, case.note) == (100, "mine")


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["enter", "1", "bench.powder_g"], "enter.value"),
        (["enter", "1", "bench.powder_g", "3", "--nothing"], "enter.value"),
        (["enter", "1", "bench.powder_g", "--woh"], "enter.value"),
        (["enter", "1", "note", "-x"], "enter.value"),
        (["enter", "1", "bench.powder_g", "-3"], "case.out_of_range"),
        (["enter", "1", "bench.powder", "3"], "case.unknown_field"),
        (["enter", "1", "not a name", "3"], "case.unknown_field"),
        (["enter", "1", "bench.powder_g", "3", "4"], "case.wrong_type"),
        (["enter", "9", "note", "x"], "store.missing"),
        (["enter", "1", "note", "x", "--based-on", "9"], "store.missing"),
        (["enter", "1", "note", "x", "--based-on", "0"], "store.missing"),
        (["take-out", "1", "--to", "x.zip", "--revision", "1"], "out.revision"),
        (["take-out", "1", "--to", "x", "--revision", "9"], "store.missing"),
        (["take-out", "1", "--to", "."], "out.exists"),
        (["enter", "1", "note", "x", "--who", "a\tb"], "store.who"),
    ],
)
def test_what_cannot_be_done_says_why_and_changes_nothing(bench: Path, words: list[str], code: str) -> None:
    ok("bring-in", bench)
    Path("something").write_text("here", encoding="utf-8")
    before = ok("cases", "--json").json
    ran = run(*words, "--json")
    assert codes(ran) == [code]
    for fault in ran.json["faults"]:
        assert fault["what"] and fault["todo"]
        assert not FORBIDDEN.search(fault["what"] + fault["todo"])
    assert ok("cases", "--json").json == before
    assert [file.name for file in Path().iterdir()] == ["something"]


def test_a_folder_that_is_there_is_meant_and_else_a_case_of_the_store(tmp_path: Path) -> None:
    bench_case(tmp_path / "kept", bench_text().replace('code = "KESTREL-0417"', 'code = "KEPT"'))
    ok("bring-in", tmp_path / "kept")
    shown = run("answer", "kept", "pin")
    assert "KEPT  case 1, revision 1 by QP" in shown.out
    assert run("answer", "1", "pin").out == shown.out
    # A folder of that name is there now: it is meant, unless the store is named.
    bench_case(Path("kept"), bench_text().replace('code = "KESTREL-0417"', 'code = "FOLDER"'))
    assert "FOLDER\n" in run("answer", "kept", "pin").out
    place = tmp_path / "data" / "mountproof"
    assert run("answer", "kept", "pin", "--store", place).out == shown.out
    neither = run("answer", "nothing", "--json")
    assert codes(neither) == ["store.missing"]
    assert "no such file or folder" in neither.json["faults"][0]["what"]


def test_several_cases_of_one_code_are_told_apart_by_their_number(tmp_path: Path) -> None:
    for n in range(2):
        ok("bring-in", small(tmp_path / f"{n}", "SAME"))
    ok("bring-in", small(tmp_path / "2", "2"))
    refused = run("enter", "same", "note", "x", "--json")
    assert codes(refused) == ["store.several"] and refused.json["faults"][0]["allowed"] == "1, 2"
    assert ok("enter", "2", "note", "a number goes before a code", "--json").json["case"]["code"] == "SAME"
    assert ok("enter", "3", "note", "x", "--json").json["case"]["code"] == "2"


def test_report_and_export_of_a_case_of_the_store_go_where_one_stands(tmp_path: Path) -> None:
    ok("bring-in", scan_case(tmp_path / "c"))
    kept = prints(tmp_path / "data" / "mountproof" / "scans")
    ran = run("report", "SCANS", "--json")
    assert ran.json["report"] == "SCANS.pdf" and Path("SCANS.pdf").read_bytes().startswith(b"%PDF")
    ran = run("export", "scans", "out", "--json")
    assert len(ran.json["files"]) > 2 and all(Path(file).is_file() for file in ran.json["files"])
    assert prints(tmp_path / "data" / "mountproof" / "scans") == kept


def test_accepted_answers_that_an_entry_puts_out_of_date_are_named(bench: Path) -> None:
    ok("bring-in", bench)
    from mountproof.case.digest import digest

    with Store() as store, store.change("RS") as change:
        for question, reads in (("stone", ("bench",)), ("pin", ("instrument",))):
            change.accept(1, question, digest(change.case(1), reads), reads)
    assert "Accepted, now out of date: stone" in ok("enter", "1", "bench.powder_g", "100").out
    assert ok("enter", "1", "note", "x", "--json").json["out_of_date"] == ["stone"]


def test_a_backup_goes_back(home: Path, tmp_path: Path, bench: Path) -> None:
    ok("bring-in", bench)
    said = ok("backup", "--to", tmp_path / "b").out
    assert "1 case with every revision" in said and "mountproof put-back" in said
    ok("enter", "1", "note", "after the backup")
    assert codes(run("backup", "--to", home, "--json")) == ["store.in_use"]
    back = ok("put-back", tmp_path / "b", "--who", "RR", "--json").json
    assert back["cases"] == 1 and Path(back["kept"]).is_file()
    assert ok("cases", "--json").json["cases"][0]["revision"] == 1
    assert ok("enter", "1", "note", "new", "--json").json["case"]["revision"] == 3
    ok("backup", "--to", tmp_path / "b")
    # A database that cannot be opened any more: the fault says what to do, and it can be done.
    (home / "cases.sqlite").write_bytes(b"\xa5" * 100_000)
    broken = run("cases", "--json")
    assert codes(broken) == ["store.damaged"] and "backup" in broken.json["faults"][0]["todo"]
    ok("put-back", tmp_path / "b")
    assert [one["code"] for one in ok("cases", "--json").json["cases"]] == ["KESTREL-0417"]


def test_a_folder_command_never_loads_the_database(bench: Path) -> None:
    """A fifth of a second of a caliper-only answer."""
    code = (
        "import sys; from mountproof.surfaces.cli.app import app\n"
        "try: app(['answer', sys.argv[1], 'pin'])\n"
        "except SystemExit: pass\n"
        "assert not [m for m in sys.modules if m.split('.')[0] in ('sqlalchemy', 'alembic', 'fastapi')]"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(bench)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr


def test_two_windows_and_a_command_line_at_once(home: Path, tmp_path: Path) -> None:
    """Two windows type in one process, a command line changes entries in processes of its own: all of it is kept."""
    ok("bring-in", small(tmp_path / "c", more='note = "0"\n'))
    shown: list[str] = []

    def window(who: str, field: str) -> None:
        for n in range(1, 16):
            with store.snapshot() as seen:
                looked_at = seen.head(1).number
            with store.change(who) as change:
                change.edit(1, [(field, f"{n}"), ("foils.+", FOIL)], looked_at)
            try:  # and the entry that everybody wants
                with store.change(who) as change:
                    change.edit(1, {"note": f"{who} {n}"}, looked_at)
            except ConflictError as error:
                shown.extend(one.field for one in error.conflicts)

    with Store(home) as store:
        windows = [
            threading.Thread(target=window, args=("AA", "bench.powder_g")),
            threading.Thread(target=window, args=("BB", "bench.water_ml")),
        ]
        for one in windows:
            one.start()
        for n in range(1, 6):
            words = ["enter", "WREN-3", "bench.volume_ml", f"{n}", "--who", "CC"]
            done = subprocess.run([*PROGRAM, *words], capture_output=True, text=True, check=False)
            assert done.returncode == 0, done.stderr
        for one in windows:
            one.join()
        assert store.check() == ()
        with store.snapshot() as seen:
            history, case = seen.history(1), seen.case(1)
    typed = [
        (one.who, c.field, c.new) for one in history for c in one.changes if c.field.startswith("bench.")
    ]
    for who, field, many in (("AA", "powder_g", 15), ("BB", "water_ml", 15), ("CC", "volume_ml", 5)):
        assert [float(new or 0) for w, f, new in typed if (w, f) == (who, f"bench.{field}")] == list(
            range(1, many + 1)
        )
    assert len(case.foils) == 30
    notes = sum(change.field == "note" for one in history for change in one.changes)
    assert notes + len(shown) == 30, "every change of the shared entry was kept or shown as a conflict"
    assert set(shown) <= {"note"} and shown, json.dumps(shown)


FOIL = {"where": "mounting", "relation": "MIP", "thickness_um": "8", "closure": "light"}
