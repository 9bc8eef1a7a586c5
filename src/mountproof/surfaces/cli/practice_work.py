"""What the command on many cases does. Imported late, so that help is quick."""

from __future__ import annotations

import math
import sys
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.text import Text

from mountproof.answers.many_cases import Charted, ManyCases, limits_shown, many_cases
from mountproof.answers.store_rows import Rows, rows_of_store
from mountproof.case.store.find import opened
from mountproof.faults import Fault, FaultError, refusal
from mountproof.said import render, say
from mountproof.surfaces.cli.progress import on_stderr
from mountproof.surfaces.cli.tables import indented, lines_of, table_of
from mountproof.surfaces.cli.work import print_json
from mountproof.surfaces.outfile import write_whole
from mountproof.surfaces.pictures.control import control_plate
from mountproof.surfaces.pictures.course import course_plate
from mountproof.surfaces.pictures.svg import plate_svg


def practice(folder: Path | None, out: Path | None, as_json: bool, lang: str) -> None:
    """Print what the cases of a store come to together; write the pictures to ``out`` where it is named."""
    with opened(folder) as store, on_stderr(lang) as progress:
        rows = rows_of_store(store, progress)
    found = many_cases(rows.rows)
    written = _pictures(found, out, lang) if out is not None else []
    if as_json:
        print_json({**as_dict(found), "left_out": _left_out(rows), "pictures": [str(p) for p in written]})
        return
    _show(found, rows, written, lang)


def _pictures(found: ManyCases, out: Path, lang: str) -> list[Path]:
    written = []
    _make(out)
    for charted in found.charts:
        file = out / f"chart-{charted.key}.svg"
        write_whole(file, plate_svg(control_plate(charted, lambda text: render(text, lang))))
        written.append(file)
    for n, course in enumerate(found.courses, start=1):
        file = out / f"course-{n}.svg"
        write_whole(file, plate_svg(course_plate(course, lambda text: render(text, lang))))
        written.append(file)
    return written


def _make(out: Path) -> None:
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        what = say("the pictures cannot be written here: {why}", why=refusal(error))
        raise FaultError(
            [Fault("out.not-writable", what, say("Name another folder with --out"), str(out))]
        ) from error


def _show(found: ManyCases, rows: Rows, written: list[Path], lang: str) -> None:
    console = Console(highlight=False, file=sys.stdout)
    width = min(console.width, 110)

    def speak(text: str) -> str:
        return render(text, lang)

    console.print(lines_of([speak(s) for s in found.sentences]), width=width)
    for charted in found.charts:
        console.print(indented(lines_of([speak(s) for s in charted.sentences], mark=" "), 2))
    for table in found.tables:
        console.print()
        console.print(Text(speak(table.title), style="bold"))
        cells = [[speak(c) for c in row] for row in table.rows]
        console.print(indented(table_of([speak(c) for c in table.columns], cells, width - 2), 2))
        if table.note:
            console.print(indented(Text(speak(table.note), style="dim"), 2))
    for code, why in rows.left_out:
        console.print(speak(say("Left out: {code}: {why}", code=code, why=why)))
    for file in written:
        console.print(speak(say("Written: {file}", file=str(file))))


def as_dict(found: ManyCases) -> dict[str, Any]:
    """Return all that is told of many cases for another program."""
    return {
        "cases": found.cases,
        "sentences": list(found.sentences),
        "charts": [_chart(c) for c in found.charts],
        "splits": [
            {
                "key": s.key,
                "unit": s.unit,
                "parts": [{n: _number(v) for n, v in p._asdict().items()} for p in s.parts],
                "sentence": s.sentence,
            }
            for s in found.splits
        ],
        "repeat": None
        if found.repeat is None
        else {
            "record_repeat_mm": found.repeat.pooled.sd,
            "record_repeat_dof": found.repeat.pooled.dof,
            "low_mm": found.repeat.pooled.low,
            "high_mm": found.repeat.pooled.high,
            "left_out": list(found.repeat.pooled.beyond),
            "visit_repeat_mm": found.repeat.visit_mm,
            "visit_repeat_dof": found.repeat.visit_dof,
        },
        "courses": [
            {
                "course": c.course,
                "key": c.key,
                "unit": c.unit,
                "participants": [s._asdict() for s in c.standings],
                "between_sd": None if c.between is None else [_number(v) for v in c.between],
                "within_sd": None if c.within is None else [_number(v) for v in c.within],
                "sentence": c.sentence,
            }
            for c in found.courses
        ],
    }


def _chart(charted: Charted) -> dict[str, Any]:
    shown = limits_shown(charted)
    return {
        "key": charted.key,
        "label": charted.label,
        "unit": charted.unit,
        "cases": [
            {"code": code, "date": day or None, "value": value}
            for code, day, value in zip(charted.codes, charted.dates, charted.values, strict=True)
        ],
        "limits": None if shown is None else {"mean": shown[0], "low": shown[1], "high": shown[2]},
        "outside": [charted.codes[i] for i in charted.chart.outside],
        "jumps": [charted.codes[i] for i in charted.chart.jumps],
        "runs": [[charted.codes[a], charted.codes[b]] for a, b in charted.chart.runs],
        "sentences": list(charted.sentences),
    }


def _number(value: object) -> object:
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _left_out(rows: Rows) -> list[dict[str, str]]:
    return [{"code": code, "why": why} for code, why in rows.left_out]
