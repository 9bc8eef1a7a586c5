"""Whole runs of ``mountproof answer``: a new process each time, start-up and output included.

The two cases are a bench case without scans, and one with two scans of some 85 000 triangles: the open arches where
MOUNTPROOF_OPEN_ARCHES names their folder, else the made-up casts.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path

from benchmarks.ratio import Row, median_s

ROUNDS = 9
BENCH_S, SCANS_S, HELP_S = 0.4, 1.5, 0.4
TRIANGLES = 85_000
_VERDICTS = (0, 3, 4, 5)


def run() -> list[Row]:
    with tempfile.TemporaryDirectory() as place:
        bench, scans = _bench_case(Path(place) / "bench"), Path(place) / "scans"
        what = _scan_case(scans)
        return [
            _row("mountproof --help", ["--help"], HELP_S),
            _row("mountproof answer, a case without scans", ["answer", str(bench)], BENCH_S),
            _row("mountproof answer --json, a case without scans", ["answer", str(bench), "--json"], BENCH_S),
            _row(f"mountproof answer, {what}", ["answer", str(scans)], SCANS_S),
        ]


def _row(what: str, words: Sequence[str], most_s: float) -> Row:
    seconds = median_s(lambda: _mountproof(words), ROUNDS)
    return Row(what, seconds, None, "", None, f"whole process, at most {most_s:g} s", seconds < most_s)


def _mountproof(words: Sequence[str]) -> str:
    done = subprocess.run(
        [sys.executable, "-c", "from mountproof.surfaces.cli import main; main()", *words],
        env={k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"},
        capture_output=True,
        text=True,
    )
    assert done.returncode in _VERDICTS, done.stderr
    return done.stdout


def _text() -> str:
    return files("mountproof.phantom").joinpath("kestrel.toml").read_text(encoding="utf-8")


def _bench_case(folder: Path) -> Path:
    folder.mkdir()
    text = _text()
    start, end = text.index("[[scans]]"), text.index('[records."record 1"]')
    (folder / "case.toml").write_text(text[:start] + text[end:], encoding="utf-8")
    answers = json.loads(_mountproof(["answer", str(folder), "--json"]))["answers"]
    # The work that is timed is the whole work.
    assert len(answers) == 8 and answers["pin"]["verdict"] == "agrees" and answers["mounting"]["quantities"]
    return folder


def _scan_case(folder: Path) -> str:
    arches = os.environ.get("MOUNTPROOF_OPEN_ARCHES", "")
    if arches and (Path(arches) / "placement.json").exists():
        _open_arches(Path(arches), folder)
        what = "two real arches (OBJ)"
    else:
        from mountproof.surfaces.demo_case import make_demo

        make_demo(folder, triangles=TRIANGLES)
        what = f"two casts of {TRIANGLES} triangles"
    answers = json.loads(_mountproof(["answer", str(folder), "--json"]))["answers"]
    assert "First contact in CR at" in answers["contacts"]["headline"], answers["contacts"]["headline"]
    return what


def _open_arches(arches: Path, folder: Path) -> None:
    placement = json.loads((arches / "placement.json").read_text())
    folder.mkdir()
    lines = ['code = "OPEN-ARCHES"', "[dentition]", "missing = [18, 28, 38, 48]"]
    for arch in ("upper", "lower"):
        (folder / f"{arch}.obj").write_bytes((arches / f"case0_{arch}.obj").read_bytes())
        lines += [
            "[[scans]]",
            f'arch = "{arch}"',
            f'file = "{arch}.obj"',
            'unit = "mm"',
            "sides_compared = true",
        ]
        lines.append(f"placement = {{ frame_from_scan = {json.dumps(placement['frame_from_scan'])} }}")
    lines += ["[records.made]", 'kind = "CR"']
    lines.append(f"upper_from_lower = {json.dumps(placement['upper_from_lower_record'])}")
    (folder / "case.toml").write_text("\n".join([*lines, ""]), encoding="utf-8")
