"""The pages that are read off the program itself: its commands, and everything an answer can say."""

from __future__ import annotations

import ast
import re
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import typer.main

from answers import kestrel
from docs.console import HERE, prepare
from mountproof.answers import words
from mountproof.answers.result import Sheet, Verdict, Why
from mountproof.answers.sheet import answer
from mountproof.case.files import load_case
from mountproof.case.limits import Limits
from mountproof.surfaces.cli.app import app
from mountproof.surfaces.cli.status import BROKEN, STOPPED
from mountproof.surfaces.wording import EXIT_STATUS, FAULTY_INPUT, MARKS

ROOT = HERE.parents[1]
SRC = ROOT / "src" / "mountproof"
_MADE = "<!-- Made by tools/pages from the program itself; change the program, not this page. -->\n"

#: What each verdict word says to a reader. A word without an entry here fails the test.
VERDICTS: dict[Verdict, str] = {
    Verdict.AGREES: "The whole interval lies inside the limit. Go on.",
    Verdict.DOUBTFUL: "Something is seen that may be too much, and is surely not beyond what can stay. Look at the reason.",
    Verdict.DISAGREES: "The whole interval lies beyond the limit. Do the step again.",
    Verdict.CANNOT_TELL: "The readings do not decide it, or are missing. *Measure next* names the one to take.",
}

#: What each reason code says. A code without an entry here fails the test.
WHYS: dict[Why, str] = {
    Why.INSIDE: "the value with its doubt lies inside the decent limit",
    Why.BETWEEN: "something is seen between the decent and the redo limit, or a finding wants a look",
    Why.OUTSIDE: "the value with its doubt lies beyond the redo limit",
    Why.GUARD_BAND: "the interval reaches across a limit: these readings are too uncertain for it",
    Why.MISSING: "a reading that the answer rests on was not entered",
    Why.NOT_CARRIED: "the readings do not see this direction of motion at all",
    Why.QUESTIONED: "all other readings together contradict this one; it is kept and asked about",
    Why.UNKNOWN_SURFACE: "a hole or a border of a scan lies where the answer was looked for",
    Why.NOT_SETTLED: "a computation did not come to rest; its numbers are not used",
    Why.NOT_BUILT: "this version does not answer the question yet",
    Why.FAULTY: "something in the input cannot be used; what and where is said",
}


class Entry(NamedTuple):
    """One quantity as it occurred: question, key, label and unit."""

    question: str
    key: str
    label: str
    unit: str


def commands_page() -> str:
    """docs/commands.md: every command, argument and option with its help."""
    group = typer.main.get_command(app)
    out = ["# Commands\n", _MADE, f"{_sentence(group.help)}\n", f"{group.epilog}\n"]
    for name in sorted(group.commands):  # type: ignore[attr-defined]
        command = group.commands[name]  # type: ignore[attr-defined]
        out.append(f"## mountproof {name}\n")
        out.append(f"{_sentence(command.help)}\n")
        rows = [_parameter(p) for p in command.params if p.name != "help"]
        out += [_table(("", "what it is", "if not given"), rows)]
    return "\n".join(out)


def _parameter(p: object) -> tuple[str, str, str]:
    kind = p.param_type_name  # type: ignore[attr-defined]
    if kind == "argument":
        name = p.name.upper() + ("..." if p.nargs == -1 else "")  # type: ignore[attr-defined]
        told = p.show_default  # type: ignore[attr-defined]
        without = "needed" if p.required else told if isinstance(told, str) else "all"  # type: ignore[attr-defined]
    else:
        name = ", ".join([*p.opts, *p.secondary_opts])  # type: ignore[attr-defined]
        default = p.default  # type: ignore[attr-defined]
        without = "no" if default is False else str(default) if default not in (None, "") else "-"
        without = "needed" if p.required else without  # type: ignore[attr-defined]
    return f"`{name}`", (p.help or "").strip(), without  # type: ignore[attr-defined]


def _sentence(text: str | None) -> str:
    return re.sub(r"\s*\n\s*\n\s*", "\n\n", (text or "").strip())


def answers_page(entries: Sequence[Entry]) -> str:
    """docs/answers.md: questions, quantities, verdicts, reasons, cautions, limits, exit statuses."""
    out = ["# What an answer can say\n", _MADE, _INTRO]
    out.append("## Verdict words\n")
    out.append(
        _table(
            ("", "word", "exit status", "what it says"),
            [(MARKS[v], f"`{v.value}`", str(EXIT_STATUS[v]), VERDICTS[v]) for v in Verdict],
        )
    )
    out.append(
        f"Exit status {FAULTY_INPUT}: something in the input cannot be used; {STOPPED}: stopped by a person; "
        f"{BROKEN}: the program itself went wrong.\n"
    )
    out.append("## Reasons\n")
    rows = [(f"`{w.value}`", WHYS[w] + ("" if _used(rf"Why\.{w.name}\b") else _NOT_USED)) for w in Why]
    out.append(_table(("code", "what it says"), rows))
    for question in words.QUESTIONS:
        out.append(f"## {question.number} {question.key}\n")
        out.append(f"*{question.words}*\n")
        out.append(f"Reads of the case: {', '.join(f'`{part}`' for part in question.reads)}.\n")
        rows = [(f"`{e.key}`", e.label, e.unit) for e in entries if e.question == question.key]
        out.append(
            _table(("key", "label, as it stood in an example", "unit"), rows)
            if rows
            else "No numbers: this version does not answer it yet.\n"
        )
        out += [f"Caution: {caution}\n" for caution in words.CAUTION_BY_KEY.get(question.key, ())]
    out.append("## Cautions on every sheet\n")
    out += [f"{i}. {caution}" for i, caution in enumerate(words.CAUTIONS, start=1)]
    out.append("\n## Limits\n")
    out.append(_LIMITS)
    out.append(
        _table(("limit", "what it judges", "decent up to", "redo above", "unit", "source"), _limit_rows())
    )
    out.append("## What the answers rest on\n")
    out += [f"- `{key}`: {text}" for key, text in words.SOURCES.items()]
    return "\n".join(out) + "\n"


_INTRO = """Every question gives one answer of one shape: a headline, a verdict with its reasons, numbers with their standard
uncertainty and 95 % interval, what to measure next, what was assumed, cautions, sources, and a digest of the inputs it
read. `--json` gives the same as data (its schema: [answer.schema.json](answer.schema.json)). How to read a sheet:
[reading the sheet](how-to/reading-the-sheet.md).
"""

_LIMITS = """Each limit is a pair, judged with a guard band of two standard uncertainties (see
[uncertainty](theory/uncertainty.md)). Every one can be changed under `[limits]` in the case file
([case file](case-file.md)).
"""


#: What this version holds ready and does not use.
_NOT_USED = " (not used by this version)"


def _used(pattern: str) -> bool:
    """Whether some answer names it."""
    files = [f for f in sorted((SRC / "answers").glob("*.py")) if f.name != "result.py"]
    return any(re.search(pattern, f.read_text(encoding="utf-8")) for f in files)


def _limit_rows() -> Iterator[tuple[str, ...]]:
    for name, field in Limits.model_fields.items():
        limit = field.default
        yield (
            f"`{name}`",
            (field.description or "") + ("" if _used(rf'limits\.{name}\b|"{name}"') else _NOT_USED),
            f"{limit.decent:g}",
            f"{limit.redo:g}",
            limit.unit or "-",
            limit.source,
        )


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    lines += ["| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in rows]
    return "\n".join(lines) + "\n"


def example_sheets() -> list[Sheet]:
    """Sheets of every example case: together they must show every quantity there is."""
    sheets = [answer(kestrel.case())]
    bench = kestrel.data()["bench"] | {"base_area_mm2": 2400.0, "volume_ml": None}
    sheets.append(answer(kestrel.case(bench={k: v for k, v in bench.items() if v is not None}), ["stone"]))
    seated = {"kind": "record in, after set", "record": "record 2"}
    sheets.append(answer(kestrel.with_copy("K", seated, "C"), ["mounting"]))
    joint = {"inclination_deg": 35, "lateral_deg": 10, "shift_mm": 0.3}
    wanted = {
        "settings": {"right": joint, "left": joint},
        "space": {"wanted": [{"teeth": [16], "thickness_mm": 1.5}]},
    }
    sheets.append(answer(kestrel.case(**wanted), ["guidance", "change"]))
    later = {
        name: record | {"visit": str(1 + (name == "record 4"))}
        for name, record in kestrel.data()["records"].items()
    }
    held = {"date": "2026-05-04", "thickness_um": 8, "held": [15, 16, 45], "others_free": True}
    sheets.append(answer(kestrel.case(records=later, followups=[held]), ["doubt"]))
    place = Path(tempfile.mkdtemp(prefix="mountproof-pages-"))
    try:
        for folder in sorted((HERE / "cases").iterdir()):
            prepare(folder.name, place / folder.name)
            sheets.append(answer(load_case(place / folder.name)))
    finally:
        shutil.rmtree(place)
    return sheets


def entries_of(sheets: Iterable[Sheet]) -> list[Entry]:
    """Every quantity of the sheets, the first label seen for each, in the order of the questions and of sight."""
    found: dict[tuple[str, str], Entry] = {}
    for sheet in sheets:
        for key, one in sheet.answers.items():
            for q in one.quantities:
                found.setdefault((key, q.key), Entry(key, q.key, q.label, q.unit))
    return list(found.values())


def key_patterns() -> dict[str, list[str]]:
    """What the program's text calls quantities: for each module of answers, patterns that their keys match."""
    out: dict[str, list[str]] = {}
    for file in sorted((SRC / "answers").glob("*.py")):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.Call)
                and _called(node) in ("quantity", "Quantity", "_spread")
                and node.args
            ):
                pattern = _pattern(node.args[1] if _called(node) == "_spread" else node.args[0])
                if pattern is not None:
                    out.setdefault(file.stem, []).append(pattern)
    return out


def _called(node: ast.Call) -> str:
    return getattr(node.func, "attr", getattr(node.func, "id", ""))


def _pattern(node: ast.expr) -> str | None:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return re.escape(node.value)
    if isinstance(node, ast.JoinedStr):
        return "".join(
            re.escape(str(part.value)) if isinstance(part, ast.Constant) else r"\w+" for part in node.values
        )
    return None
