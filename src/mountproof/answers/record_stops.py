"""Part of question 3: what the stops of a record carry, and where teeth went through it, as entered by hand."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from mountproof.answers.finds import Found
from mountproof.answers.foils import iso, written
from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Table, Verdict, Why
from mountproof.answers.usual_sites import usual_sites
from mountproof.case.model import Case, Record, RecordKind
from mountproof.geometry.poses import Array
from mountproof.geometry.support import amplification, outline_area, support
from mountproof.said import capital, figure, joined, say

#: Stops whose outline is narrower than this share of its length lie in a line. Our choice.
IN_LINE = 0.02


class _Carried(NamedTuple):
    """What stops carry: growth (n,) of an error at each of the teeth, inf in a line; the outline in mm2."""

    growth: Array
    area_mm2: float


def stops(case: Case, ledger: Ledger) -> list[str]:
    """Judge the stops and the perforations of every CR record that has some; return a sentence for each that matters."""
    says: list[str] = []
    for name, record in case.records.items():
        if record.kind is RecordKind.CR:
            says += _perforated(case, ledger, name, record)
            if record.stops:
                says += _carried(case, ledger, name, record)
    return says


def _perforated(case: Case, ledger: Ledger, name: str, record: Record) -> list[str]:
    if not record.perforated_at:
        return []
    teeth = joined(", ", (written(case, iso(case, t)) for t in record.perforated_at))
    text = say(
        "{record} is perforated at {teeth}: teeth met through it and may have led the jaw",
        record=name,
        teeth=teeth,
    )
    ledger.because(Verdict.DOUBTFUL, Why.BETWEEN, text)
    ledger.need(
        say("a thicker record, so that no teeth meet through it"), text, f"records.{name}.perforated_at"
    )
    return [capital(say("{record} is perforated at {teeth}", record=name, teeth=teeth))]


def _carried(case: Case, ledger: Ledger, name: str, record: Record) -> list[str]:
    says: list[str] = []
    gone = {iso(case, t) % 10 for t in case.dentition.missing if iso(case, t) // 10 in (1, 2)}
    absent = {iso(case, t) for t in case.dentition.missing}
    sites = {
        t: at
        for t, at in usual_sites(case, ledger).items()
        if t not in absent and not (t % 10 == 8 and 8 in gone)
    }
    if not sites:
        return []
    teeth = list(sites)
    found = _of([(s.ahead_mm, s.right_mm) for s in record.stops], [sites[t] for t in teeth])
    worst = int(np.argmax(found.growth))
    growth, tooth = float(found.growth[worst]), written(case, teeth[worst])
    rows = tuple(
        (written(case, t), figure(g, ".1f") if math.isfinite(g) else "")
        for t, g in zip(teeth, found.growth, strict=True)
    )
    ledger.tables.append(
        Table(
            say(
                "What the stops of {record} carry (outline {area:.0f} mm²)", record=name, area=found.area_mm2
            ),
            (say("tooth"), say("an error at the stops grows, times")),
            rows,
        )
    )
    entry = f"records.{name}.stops"
    words = say("an error at the stops of {record} grows at {tooth}", record=name, tooth=tooth)
    ledger.finds.append(
        Found("stops", words, ("amount",), np.array([min(growth, 1e3)]), np.array([[1e-4]]), name)
    )
    if not math.isfinite(growth):
        few = len(record.stops) < 3
        text = (
            say(
                "{record} has {count} stops: three that do not lie in a line are needed",
                record=name,
                count=len(record.stops),
            )
            if few
            else say("the stops of {record} lie in a line: it tips about it", record=name)
        )
        ledger.because(Verdict.DISAGREES, Why.NOT_CARRIED, text)
        ledger.need(say("a further stop, well off the line of the others"), text, entry)
        says.append(capital(text))
    elif judge_against(ledger, words, growth, 0.0, case.limits.stop_amplification, 1) is not Verdict.AGREES:
        ledger.need(say("a further stop near {tooth}", tooth=tooth), words, entry)
        says.append(
            capital(
                say(
                    "the stops of {record} do not hold {tooth}: errors grow {times:.1f} times",
                    record=name,
                    tooth=tooth,
                    times=growth,
                )
            )
        )
    soft = [s for s in record.stops if s.tooth is None]
    if soft:
        text = say("{record} bears on gum or a base at {count} of its stops", record=name, count=len(soft))
        ledger.because(Verdict.DOUBTFUL, Why.BETWEEN, text)
        ledger.need(say("the record trimmed so that only teeth bear"), text, entry)
        amount = np.array([float(len(soft))])
        ledger.finds.append(Found("soft_tissue", text, ("amount",), amount, np.array([[0.01]]), name))
        says.append(text)
    return says


def _of(places: list[tuple[float, float]], at: list[tuple[float, float]]) -> _Carried:
    where = np.array(places, dtype=np.float64)
    if len(where) < 3 or support(where).slenderness < IN_LINE:
        return _Carried(np.full(len(at), np.inf), outline_area(where))
    return _Carried(amplification(where, np.array(at)), outline_area(where))
