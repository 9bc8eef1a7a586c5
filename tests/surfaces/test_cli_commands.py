"""What a person sees at the command line: help, a new case, answers folded and in full, sheet, exports, demo."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest

from mountproof.answers.result import Answer, Verdict
from mountproof.answers.words import BY_KEY, CAUTIONS, QUESTIONS
from mountproof.case.files import load_case
from mountproof.surfaces.demo_case import make_demo
from mountproof.surfaces.wording import EXIT_STATUS, verdict_text
from surfaces.cli_bench import (
    FORBIDDEN,
    INSIDE,
    bench_case,
    bench_text,
    prints,
    refused,
    run,
    scan_case,
    squeezed,
)

COMMANDS = (
    *("new", "answer", "report", "export", "demo"),
    *("cases", "bring-in", "take-out", "enter", "backup", "put-back"),
)


def fits(text: str, columns: int) -> None:
    """Nothing wider than the screen, nothing cut off, no words that have no place here."""
    assert not [line for line in text.splitlines() if len(line) > columns], text
    assert not [line for line in text.splitlines() if line != line.rstrip()]
    assert "…" not in text and "\x1b" not in text
    assert not FORBIDDEN.search(text) and not INSIDE.search(text), FORBIDDEN.search(text) or INSIDE.search(
        text
    )


def test_help_names_every_command_and_what_the_exit_status_says() -> None:
    for words in (["--help"], ["-h"]):
        shown = run(*words)
        assert shown.status == 0
        for command in COMMANDS:
            assert re.search(rf"^  {command} ", shown.out, re.MULTILINE)
        for text in ("0 agrees", "3 doubtful", "4 does not agree", "5 cannot tell", "130 stopped by you"):
            assert squeezed(text) in squeezed(shown.out)
        fits(shown.out, 80)
        assert "..." not in shown.out.replace("COMMAND [ARGS]...", "")
    assert {str(v): s for v, s in EXIT_STATUS.items()} == {
        "agrees": 0,
        "doubtful": 3,
        "does not agree": 4,
        "cannot tell": 5,
    }


@pytest.mark.parametrize("command", COMMANDS)
def test_help_of_each_command(command: str) -> None:
    shown = run(command, "--help")
    assert shown.status == 0 and "--json" in shown.out
    assert "<" not in shown.out  # types of a programming language say nothing at the bench
    fits(shown.out, 80)
    if command in ("answer", "report", "export"):
        assert "Exit status: 0 agrees" in shown.out


def test_without_a_command_the_help_is_shown() -> None:
    shown = run()
    assert shown.status == 2 and "Commands:" in shown.out + shown.err


def test_version() -> None:
    from mountproof.version import VERSION

    assert run("--version").out == f"mountproof {VERSION}\n"


# --- a new case -----------------------------------------------------------------------------------------------------------


def test_a_new_case_loads_and_every_answer_names_what_to_measure_first(tmp_path: Path) -> None:
    folder = tmp_path / "my case"
    made = run("new", folder)
    assert made.status == 0 and f"mountproof answer '{folder}'" in made.out
    assert tomllib.loads((folder / "case.toml").read_text())["code"] == "my case"
    assert [p.name for p in folder.iterdir()] == ["case.toml"]
    before = prints(folder)
    shown = run("answer", folder)
    assert shown.status == EXIT_STATUS[Verdict.CANNOT_TELL] and not shown.err
    assert shown.out.count("Next: ") == len(QUESTIONS)
    text = " ".join(shown.out.split())
    assert "instrument's lengths" in text and "Nothing was measured with a record in yet." in text
    fits(shown.out, 80)
    assert prints(folder) == before


def test_a_new_case_never_overwrites_one(tmp_path: Path) -> None:
    run("new", tmp_path / "c")
    (tmp_path / "c" / "case.toml").write_text('code = "MINE"\n')
    refused(tmp_path / "c", "case.exists", "another folder", command=("new", tmp_path / "c"))
    assert (tmp_path / "c" / "case.toml").read_text() == 'code = "MINE"\n'
    (tmp_path / "file").write_text("x")
    before = prints(tmp_path)
    ran = run("new", tmp_path / "file" / "c")
    assert ran.status == 2 and prints(tmp_path) == before


def test_filled_in_step_by_step_the_next_step_moves_on(tmp_path: Path) -> None:
    """The template with its own examples switched on: first the pin, then readings, each time without a stumble."""
    folder = tmp_path / "c"
    run("new", folder)
    text = (folder / "case.toml").read_text()
    start, end = text.index("#[instrument]"), text.index("# The plane that")
    pin = "\n".join(line[1:] if re.match(r"#(?! )", line) else line for line in text[start:end].split("\n"))
    text = text[:start] + re.sub(r"(?m)^#  \{", "  {", pin).replace("#]", "]") + text[end:]
    (folder / "case.toml").write_text(text)
    shown = run("answer", folder, "pin", "mounting")
    assert shown.status == 5 and "waits for marks measured in MIP and with the record in" in " ".join(
        shown.out.split()
    )
    spots = {"UR": (52, -20, 34), "UA": (92, -22, 0), "UL": (52, -20, -34)}
    spots |= {"LR": (50, -56, 33), "LA": (90, -61, 0), "LL": (50, -56, -33)}
    for name, (ahead, above, right) in spots.items():
        at = f"ahead_mm = {ahead}, above_mm = {above}, right_mm = {right}"
        arch = "upper" if name[0] == "U" else "lower"
        text = text.replace(f'{name} = {{ arch = "{arch}" }}', f'{name} = {{ arch = "{arch}", {at} }}')
    (folder / "case.toml").write_text(text)
    assert run("answer", folder).status == 5
    for pair, cells in (
        ("UR-LR", "36.10 38.05 38.10 36.55"),
        ("UA-LA", "39.10 42.60 42.70 39.95"),
        ("UL-LL", "36,05 38,10 38,20 36,60"),
    ):
        text = text.replace(f"{pair}   -       -       -       -", f"{pair} {cells}")
    (folder / "case.toml").write_text(text)
    shown = run("answer", folder, "pin")
    assert "Open the pin 4" in shown.out and "decimal comma" in " ".join(shown.out.split())
    assert run("answer", folder).status in EXIT_STATUS.values()


# --- answers ----------------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return bench_case(tmp_path_factory.mktemp("cli") / "bench")


@pytest.mark.parametrize("columns", [60, 80, 120])
def test_the_folded_sheet_has_headline_verdict_interval_and_next_step(bench: Path, columns: int) -> None:
    shown = run("answer", bench, columns=columns)
    sheet = run("answer", bench, "--json").json
    text = " ".join(shown.out.split())
    for key, answer in sheet["answers"].items():
        assert squeezed(answer["headline"]) in squeezed(shown.out), key
        assert squeezed(answer["question"])[:30] in squeezed(shown.out), key
        assert f" {key} " in shown.out
        assert answer["headline"].endswith(".")
    for caution in CAUTIONS:
        assert squeezed(caution) in squeezed(shown.out)
    assert "95 %:" in text and "Read:" not in text
    fits(shown.out, min(columns, 110))


@pytest.mark.parametrize("columns", [60, 80, 120])
@pytest.mark.parametrize("key", [q.key for q in QUESTIONS])
def test_a_question_in_full_shows_everything_the_answer_holds(bench: Path, key: str, columns: int) -> None:
    shown = run("answer", bench, key, columns=columns)
    answer = run("answer", bench, key, "--json").json["answers"][key]
    fits(shown.out, min(columns, 110))
    page = squeezed(shown.out)
    for q in answer["quantities"]:
        assert squeezed(q["unit"]) in page
    for table in answer["tables"]:
        for row in table["rows"]:
            for cell in row:
                # A cell of words may be broken over lines of a table; its words are there all the same.
                assert all(squeezed(word) in page for word in cell.split()), (table["title"], cell)
    for text in [
        *(r["text"] for r in answer["reasons"]),
        *(n["reading"] for n in answer["needs"]),
        *(a["source"] for a in answer["assumptions"]),
        *answer["notes"],
        *answer["cautions"],
        *answer["sources"],
    ]:
        assert squeezed(text) in page, text
    assert answer["digest"][:16] in page


def test_the_verdict_that_weighs_most_decides_the_exit_status(bench: Path, tmp_path: Path) -> None:
    sheet = run("answer", bench, "--json")
    for key, answer in sheet.json["answers"].items():
        one = run("answer", bench, key)
        if not any(r["why"] == "not-answered-yet" for r in answer["reasons"]):
            assert one.status == EXIT_STATUS[Verdict(answer["verdict"])], key
    assert sheet.status == run("answer", bench).status == 3
    outlier = bench_case(
        tmp_path / "c", bench_text().replace('mounted_on = "record 1"', 'mounted_on = "record 3"')
    )
    assert run("answer", outlier).status == 4
    assert run("answer", bench, "contacts").status == 5


def test_json_is_one_document_in_the_published_shape(bench: Path) -> None:
    from mountproof.surfaces.export.as_json import json_schema

    shown = run("answer", bench, "--json")
    assert set(shown.json) == set(json_schema()["required"])
    assert [BY_KEY[k].number for k in shown.json["answers"]] == [1, 2, 3, 4, 5, 6, 7, 8]
    assert list(run("answer", bench, "stone", "pin", "--json").json["answers"]) == ["stone", "pin"]
    assert not shown.err


def test_decimal_commas_are_echoed_and_stated_uncertainties_are_not(tmp_path: Path) -> None:
    text = bench_text().replace("36.10  38.05", "36,10  38.05").replace('"62 +- 0.5"', '"62,0 +- 0.5"')
    shown = run("answer", bench_case(tmp_path / "c", text))
    lines = [line for line in shown.out.splitlines() if line.startswith("Read:")]
    assert len(lines) == 2
    assert '"36,10" read as 36.10 mm' in shown.out and '"62,0 +- 0.5"' in shown.out


def test_every_verdict_has_its_mark_and_word() -> None:
    from mountproof.surfaces.wording import MARKS

    assert len(set(MARKS.values())) == len(Verdict)
    for verdict in Verdict:
        told = verdict_text(Answer("pin", "", "", verdict))
        assert told == f"{MARKS[verdict]} {verdict.value}" and len(told) <= 17


# --- report, export, demo -----------------------------------------------------------------------------------------------------


def test_a_report_is_written_beside_the_case_or_where_it_is_told(tmp_path: Path) -> None:
    folder = bench_case(tmp_path / "c")
    before = prints(folder)
    shown = run("report", folder)
    assert shown.status == 3 and shown.out == f"The sheet is in {folder / 'KESTREL-0417.pdf'}\n"
    after = prints(folder)
    first = (folder / "KESTREL-0417.pdf").read_bytes()
    assert first.startswith(b"%PDF-") and {k: after[k] for k in before} == before
    other = run("report", folder, "--out", tmp_path / "other.pdf", "--json")
    assert other.json == {"report": str(tmp_path / "other.pdf"), "status": 3}
    assert (tmp_path / "other.pdf").read_bytes() == first


def test_a_report_that_cannot_be_written_says_so_before_anything_is_computed(tmp_path: Path) -> None:
    folder = bench_case(tmp_path / "c")
    for out in (tmp_path / "nowhere" / "sheet.pdf", folder):
        refused(folder, "out.not-writable", command=("report", folder, "--out", out))


def test_an_export_needs_scans(tmp_path: Path) -> None:
    folder = bench_case(tmp_path / "c")
    refused(
        folder, "export.nothing", "a scan of the upper cast", command=("export", folder, tmp_path / "out")
    )
    assert not (tmp_path / "out").exists()


def test_an_export_lists_its_files_and_writes_commas_where_asked(tmp_path: Path) -> None:
    folder = scan_case(tmp_path / "c")
    before = prints(folder)
    shown = run("export", folder, tmp_path / "out", "--decimal-comma")
    files = [Path(line) for line in shown.out.splitlines()]
    assert len(files) == 6 and all(f.is_file() for f in files) and prints(folder) == before
    first = (tmp_path / "out" / "contacts.csv").read_text().splitlines()
    assert ";" in first[0] and re.search(r"\d,\d", "\n".join(first[1:]))
    plain = run("export", folder, tmp_path / "plain", "--json").json["files"]
    assert sorted(Path(p).name for p in plain) == sorted(f.name for f in files)
    (tmp_path / "file").write_text("x")
    refused(folder, "out.not-writable", command=("export", folder, tmp_path / "file" / "out"))


def test_the_demo_is_made_answered_and_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from mountproof.surfaces import demo_case

    monkeypatch.setitem(demo_case.make_demo.__kwdefaults__, "triangles", 12_000)
    out = tmp_path / "demo"
    shown = run("demo", "--out", out)
    assert shown.status == 0
    assert sorted(p.name for p in out.iterdir()) == [
        "KESTREL-0417.pdf",
        "case.toml",
        "lower.stl",
        "upper.stl",
    ]
    assert "First contact in CR at 15 / 45" in " ".join(shown.out.split())
    assert str(out / "KESTREL-0417.pdf") in shown.out
    again = run("demo", "--out", out, "--json")
    assert json.loads(again.out)["sheet"]["code"] == "KESTREL-0417"
    assert not (out / "earlier").exists()


def test_the_demo_keeps_what_was_changed_in_it_and_never_touches_another_case(tmp_path: Path) -> None:
    out = tmp_path / "demo"
    make_demo(out, triangles=5_000)
    changed = (out / "case.toml").read_text().replace("powder_g = 116", "powder_g = 120")
    (out / "case.toml").write_text(changed)
    make_demo(out, triangles=5_000)
    assert "powder_g = 116" in (out / "case.toml").read_text()
    assert (out / "earlier" / "case-0001.toml").read_text() == changed
    assert load_case(out).code == "KESTREL-0417"
    other = bench_case(tmp_path / "c", 'code = "MINE"\n')
    refused(other, "demo.other_case", "--out", command=("demo", "--out", other))
