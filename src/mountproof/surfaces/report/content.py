"""What stands on the sheet: answers and case turned into plain text for the template. Nothing is computed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, NamedTuple, TypeVar

from mountproof.answers.result import Answer, Quantity, Sheet, Table, Verdict, Why
from mountproof.answers.words import BY_KEY, CAUTIONS
from mountproof.case.digest import scan_digests
from mountproof.case.model import Case
from mountproof.faults import FaultError
from mountproof.surfaces.report import figures
from mountproof.surfaces.report.inputs import Grid, all_inputs
from mountproof.surfaces.report.steps import gate_lines
from mountproof.surfaces.report.text import clean

_T = TypeVar("_T")


class _Box(NamedTuple):
    """A question whose numbers stand large in a box: those of ``first``, where there are, then in order."""

    title: str
    first: tuple[str, ...]
    most: int
    most_close: int
    table: str


_BENCH = {
    "pin": _Box(
        "On the pin", ("pin_mip", "pin_mip_reads", "record_out_if_slide", "record_out_if_mip"), 4, 4, ""
    ),
    "stone": _Box("In the bowl", (), 3, 2, "Times"),
}
#: Which kinds of reason carry which verdict.
_CARRIES: dict[Verdict, frozenset[Why]] = {
    Verdict.DISAGREES: frozenset({Why.OUTSIDE}),
    Verdict.DOUBTFUL: frozenset({Why.BETWEEN, Why.GUARD_BAND, Why.QUESTIONED}),
    Verdict.CANNOT_TELL: frozenset(Why) - {Why.INSIDE, Why.BETWEEN, Why.OUTSIDE},
}
#: Numbers shown in the line of any other question, and how many when space is short.
_IN_LINE, _IN_LINE_CLOSE, _IN_LINE_TERSE = 3, 2, 1


def content(
    sheet: Sheet, case: Case, *, version: str, back: bool, dense: bool, terse: bool = False
) -> dict[str, Any]:
    """Return the sheet as the plain data the template reads.

    ``back`` puts the inputs on the page's back; ``dense`` sets the answers closer; ``terse`` shows one number a line, and
    assumptions without where each comes from (screen and JSON have that).
    """
    answers = [sheet.answers[key] for key in BY_KEY if key in sheet.answers]
    return {
        "title": f"Mounting sheet {clean(case.code, at_most=120)}",
        "code": clean(case.code, at_most=120),
        "kind": "Mounting sheet",
        "subtitle": "Ranges are 95 % intervals.",
        "dense": dense,
        "date": _date(case),
        "meta": _meta(case),
        "answers": [_question(a, dense=dense, terse=terse) for a in answers],
        "bench": [_bench(a, _BENCH[a.key], dense=dense) for a in answers if a.key in _BENCH and a.quantities],
        "sign": {
            "title": "Checked",
            "rows": [
                [{"name": "name", "share": 1}],
                [{"name": "date", "share": 2}, {"name": "signature", "share": 3}],
            ],
            "room": 4.6 if dense else 6.4,
        },
        "gates": {
            "title": "Gates not met",
            "lines": [
                {"words": clean(line["words"]), "why": clean(line["why"])} for line in gate_lines(sheet.gates)
            ],
        },
        "pictures": None,
        "cautions": {"title": "Before anybody acts on this", "columns": _halves(_cautions(answers), len)},
        "inputs": _inputs(sheet, case, answers, back=back, dense=dense, terse=terse),
        "foot": _foot(answers, version),
    }


def _foot(answers: list[Answer], version: str) -> str:
    """Program version, and the digest of what each answer read."""
    digests = [f"{BY_KEY[a.key].number} {a.digest[:8]}" for a in answers if a.digest]
    read = f". Digests of what each answer read: {' '.join(digests)}" if digests else ""
    return f"mountproof {clean(version, at_most=40)}{read}"


def _date(case: Case) -> dict[str, int] | None:
    if case.date is None:
        return None
    return {"year": case.date.year, "month": case.date.month, "day": case.date.day}


def _meta(case: Case) -> list[list[str]]:
    entries = (
        ("date", case.date.isoformat() if case.date is not None else "not given"),
        ("measured by", clean(case.by, at_most=80) or "not given"),
        ("at", clean(case.lab, at_most=120)),
        ("instrument", clean(case.instrument.name) if case.instrument is not None else "not given"),
        ("angles to the", f"{case.plane.name.value} plane" if case.plane is not None else ""),
        ("mounted on", clean(case.mounted_on) if case.mounted_on is not None else ""),
    )
    return [[name, text] for name, text in entries if text]


def _quantity(quantity: Quantity) -> dict[str, Any]:
    return {
        "label": clean(quantity.label),
        "value": figures.size(quantity),
        "unit": clean(quantity.unit),
        "interval": figures.interval(quantity),
        "assumed": quantity.assumed,
    }


def _question(answer: Answer, *, dense: bool, terse: bool) -> dict[str, Any]:
    most = _IN_LINE_TERSE if terse else _IN_LINE_CLOSE if dense else _IN_LINE
    most = 0 if answer.key in _BENCH else most
    numbers = answer.quantities[:most]
    return {
        "number": BY_KEY[answer.key].number,
        "question": clean(answer.question),
        "verdict": answer.verdict.value,
        "headline": clean(answer.headline),
        "answered": all(reason.why is not Why.NOT_BUILT for reason in answer.reasons),
        "numbers": [_quantity(q) for q in numbers],
        "reason": _reason(answer),
        "need": _need(answer, why=not dense),
    }


def _reason(answer: Answer) -> str:
    """The reason that carries the verdict, unless the answer agrees or the headline says the same already."""
    if answer.verdict is Verdict.AGREES:
        return ""
    fitting = [reason for reason in answer.reasons if reason.why in _CARRIES[answer.verdict]]
    reasons = fitting or [reason for reason in answer.reasons if reason.why is not Why.INSIDE]
    if not reasons:
        return ""
    text = clean(reasons[0].text)
    return "" if text.casefold() in answer.headline.casefold() else text


def _need(answer: Answer, *, why: bool) -> str:
    if not answer.needs:
        return ""
    need = answer.needs[0]
    more = len(answer.needs) - 1
    text = clean(need.reading)
    if need.why and why:
        text += f" ({clean(need.why)})"
    return text + (f"; and {more} more" if more > 0 else "")


def _bench(answer: Answer, box: _Box, *, dense: bool) -> dict[str, Any]:
    first = [q for key in box.first for q in answer.quantities if q.key == key]
    ordered = [*first, *(q for q in answer.quantities if q not in first)]
    rows = [_quantity(q) for q in ordered[: box.most_close if dense else box.most]]
    for rank, row in enumerate(rows):
        row["size"] = 19 if rank == 0 else 13
        row["label"] = row["label"][:1].upper() + row["label"][1:]
    tables = [t for t in answer.tables if box.table and t.title.startswith(box.table)]
    return {
        "title": box.title,
        "rows": rows,
        "table": _table(tables[0], columns=3) if tables else None,
    }


def _table(table: Table, columns: int) -> dict[str, Any]:
    return {
        "title": clean(table.title),
        "columns": [clean(c) for c in table.columns[:columns]],
        "rows": [[clean(cell) for cell in row[:columns]] for row in table.rows],
    }


def _cautions(answers: Iterable[Answer]) -> list[str]:
    own = [caution for answer in answers for caution in answer.cautions]
    return [clean(text) for text in dict.fromkeys([*CAUTIONS, *own])]


def _inputs(
    sheet: Sheet, case: Case, answers: list[Answer], *, back: bool, dense: bool, terse: bool
) -> dict[str, Any]:
    entered = all_inputs(case, close=dense)
    lines = [{"title": clean(line.title), "text": clean(line.text, at_most=20000)} for line in entered.lines]
    lines += _extra_lines(sheet, case, answers, terse=terse)
    return {
        "title": "What was entered: the sheet can be computed again from this",
        "back": back,
        "grids": [_grid(g, close=dense) for g in entered.grids],
        "lines": lines,
    }


def _halves(items: list[_T], size: Callable[[_T], int]) -> list[list[_T]]:
    """Split a list in two columns of about the same length, order kept."""
    sizes = [size(item) for item in items]
    best = min(range(len(items) + 1), key=lambda at: max(sum(sizes[:at]), sum(sizes[at:])))
    return [items[:best], items[best:]]


def _grid(grid: Grid, *, close: bool) -> dict[str, Any]:
    """One table of entries; set close, its title goes and the first column names the unit."""
    first = f"{grid.columns[0]}, mm" if close else grid.columns[0]
    return {
        "title": "" if close else clean(grid.title),
        "columns": [clean(c) for c in (first, *grid.columns[1:])],
        "rows": [[clean(cell) for cell in row] for row in grid.rows],
        "note": clean(grid.note),
    }


def _extra_lines(sheet: Sheet, case: Case, answers: list[Answer], *, terse: bool) -> list[dict[str, str]]:
    """Assumptions, readings that were questioned, entries read one of two ways, sources, digests."""
    lines: list[tuple[str, str]] = []
    by_source: dict[str, dict[str, None]] = {}
    for assumption in (a for answer in answers for a in answer.assumptions):
        by_source.setdefault(assumption.source, {})[f"{assumption.what} {assumption.value}"] = None
    if by_source:
        groups = [
            "; ".join(values) + ("" if terse else f" ({source})") for source, values in by_source.items()
        ]
        lines.append(("Assumed, nobody measured it", ("; " if terse else ". ").join(groups)))
    if sheet.faults:
        lines.append(("Could not be used", "; ".join(str(fault) for fault in sheet.faults)))
    if sheet.questions:
        lines.append(("Readings to look at again", "; ".join(sheet.questions)))
    if sheet.echoes:
        lines.append(("Read as", "; ".join(sheet.echoes)))
    sources = dict.fromkeys(source for answer in answers for source in answer.sources)
    if sources:
        lines.append(("Rests on", "; ".join(sources)))
    scans = _scan_digests(case)
    if scans:
        lines.append(("Scans begin with SHA-256", scans))
    return [{"title": clean(title), "text": clean(text, at_most=20000)} for title, text in lines]


def _scan_digests(case: Case) -> str:
    """The digests that are known from the answers; a file that cannot be read has none."""
    try:
        return "; ".join(f"{name} {value[:16]}" for name, value in scan_digests(case).items())
    except FaultError:
        return ""
