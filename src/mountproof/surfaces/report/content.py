"""What stands on the sheet: answers and case turned into plain text for the template. Nothing is computed."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, NamedTuple, TypeVar

from mountproof.answers.paper_prescription import PLANES
from mountproof.answers.result import Answer, Quantity, Sheet, Table, Verdict, Why
from mountproof.answers.words import BY_KEY, CAUTIONS
from mountproof.case.digest import scan_digests
from mountproof.case.model import Case
from mountproof.case.tooth_numbers import system_of
from mountproof.faults import FaultError
from mountproof.said import render, rendered, say, term
from mountproof.said.catalogue import ENGLISH
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
        say("On the pin"), ("pin_mip", "pin_mip_reads", "record_out_if_slide", "record_out_if_mip"), 4, 4, ""
    ),
    "stone": _Box(say("In the bowl"), (), 3, 2, say("Times")),
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
    sheet: Sheet,
    case: Case,
    *,
    version: str,
    back: bool,
    dense: bool,
    terse: bool = False,
    language: str = ENGLISH,
) -> dict[str, Any]:
    """Return the sheet as the plain data the template reads.

    ``back`` puts the inputs on the page's back; ``dense`` sets the answers closer; ``terse`` shows one number a line, and
    assumptions without where each comes from (screen and JSON have that).
    """
    answers = [sheet.answers[key] for key in BY_KEY if key in sheet.answers]
    code = clean(case.code, at_most=120)
    return {
        "title": say("Mounting sheet {code}", code=code),
        "code": code,
        "lang": language,
        "kind": say("Mounting sheet"),
        "subtitle": say("Ranges are 95 % intervals."),
        "dense": dense,
        "date": _date(case),
        "meta": _meta(case),
        "answers": [_question(a, dense=dense, terse=terse) for a in answers],
        "bench": [
            _bench(a, _BENCH[a.key], dense=dense, language=language)
            for a in answers
            if a.key in _BENCH and a.quantities
        ],
        "sign": {
            "title": say("Checked"),
            "rows": [
                [{"name": say("name"), "share": 1}],
                [{"name": say("date"), "share": 2}, {"name": say("signature"), "share": 3}],
            ],
            "room": 4.6 if dense else 6.4,
        },
        "gates": {
            "title": say("Gates not met"),
            "lines": [
                {"words": clean(line["words"]), "why": clean(line["why"])} for line in gate_lines(sheet.gates)
            ],
        },
        "pictures": None,
        "cautions": {
            "title": say("Before anybody acts on this"),
            "columns": _halves(_cautions(answers, language), len),
        },
        "inputs": _inputs(sheet, case, answers, language, back=back, dense=dense, terse=terse),
        "foot": _foot(answers, version),
        "words": {
            "measure": say("Measure next:"),
            "because": say("Because:"),
            "assumed": say("assumed"),
            "page": say("page"),
            "of": say("of"),
        },
    }


def _foot(answers: list[Answer], version: str) -> str:
    """Program version, and the digest of what each answer read."""
    digests = [f"{BY_KEY[a.key].number} {a.digest[:8]}" for a in answers if a.digest]
    head = f"mountproof {clean(version, at_most=40)}"
    if not digests:
        return head
    return say(
        "{program}. Digests of what each answer read: {digests}", program=head, digests=" ".join(digests)
    )


def _date(case: Case) -> dict[str, int] | None:
    if case.date is None:
        return None
    return {"year": case.date.year, "month": case.date.month, "day": case.date.day}


def _meta(case: Case) -> list[list[str]]:
    entries = (
        (say("date"), say("{day}", day=case.date) if case.date is not None else say("not given")),
        (say("measured by"), clean(case.by, at_most=80) or say("not given")),
        (say("measured at"), clean(case.lab, at_most=120)),
        (
            say("articulator"),
            clean(case.instrument.name) if case.instrument is not None else say("not given"),
        ),
        (say("angles to the"), PLANES[case.plane.name] if case.plane is not None else ""),
        (say("mounted on"), clean(case.mounted_on) if case.mounted_on is not None else ""),
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
        "mark": answer.verdict.value,
        "verdict": term(answer.verdict.value),
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
    return say("{need}; and {n} more", need=text, n=more) if more > 0 else text


def _bench(answer: Answer, box: _Box, *, dense: bool, language: str) -> dict[str, Any]:
    first = [q for key in box.first for q in answer.quantities if q.key == key]
    ordered = [*first, *(q for q in answer.quantities if q not in first)]
    rows = [_quantity(q) for q in ordered[: box.most_close if dense else box.most]]
    for rank, row in enumerate(rows):
        row["size"] = 19 if rank == 0 else 13
        row["label"] = row["label"][:1].upper() + row["label"][1:]
    tables = [t for t in answer.tables if box.table and t.title.startswith(render(box.table, language))]
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


def _cautions(answers: Iterable[Answer], language: str) -> list[str]:
    own = [caution for answer in answers for caution in answer.cautions]
    return [clean(text) for text in dict.fromkeys([*rendered(CAUTIONS, language), *own])]


def _inputs(
    sheet: Sheet, case: Case, answers: list[Answer], language: str, *, back: bool, dense: bool, terse: bool
) -> dict[str, Any]:
    entered = rendered(all_inputs(case, close=dense), language, numbering=system_of(case))
    lines = [{"title": line.title, "text": clean(line.text, at_most=20000)} for line in entered.lines]
    lines += _extra_lines(sheet, case, answers, terse=terse)
    return {
        "title": say("What was entered: the sheet can be computed again from this"),
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
        lines.append((say("Assumed, nobody measured it"), ("; " if terse else ". ").join(groups)))
    if sheet.faults:
        lines.append((say("Could not be used"), "; ".join(str(fault) for fault in sheet.faults)))
    if sheet.questions:
        lines.append((say("Readings to look at again"), "; ".join(sheet.questions)))
    if sheet.echoes:
        lines.append((say("Read as"), "; ".join(sheet.echoes)))
    sources = dict.fromkeys(source for answer in answers for source in answer.sources)
    if sources:
        lines.append((say("Rests on"), "; ".join(sources)))
    scans = _scan_digests(case)
    if scans:
        lines.append((say("Scans begin with SHA-256"), scans))
    return [{"title": title, "text": clean(text, at_most=20000)} for title, text in lines]


def _scan_digests(case: Case) -> str:
    """The digests that are known from the answers; a file that cannot be read has none."""
    try:
        return "; ".join(f"{name} {value[:16]}" for name, value in scan_digests(case).items())
    except FaultError:
        return ""
