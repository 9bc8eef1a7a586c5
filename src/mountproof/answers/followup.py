"""Part of question 8: whether the mouth agreed afterwards, visit by visit, and whether CR moved over the months."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from mountproof.answers.bench_inputs import record_repeat, visit_repeat
from mountproof.answers.foils import iso, written
from mountproof.answers.followup_counts import adjusted_um, compared, found_at, teeth_told
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import ContactChances, ToothChance
from mountproof.answers.progress import Progress
from mountproof.answers.record_all import gathered_records
from mountproof.answers.record_gathered import Gathered
from mountproof.answers.record_visits import visits_of
from mountproof.answers.result import K95, WIDTH_95, Quantity, Table, Verdict, Why
from mountproof.case.model import Case, FollowUp
from mountproof.faults import FaultError
from mountproof.geometry.carry import measured
from mountproof.geometry.quantile import binomial_interval
from mountproof.records.compare import groups_apart
from mountproof.records.joint import Spread
from mountproof.said import figure, joined, say
from mountproof.teeth import name

#: Honest visits would lie so far apart in fewer than one of so many cases: then CR has moved.
_MOVED, _PERHAPS = 0.01, 0.05
#: Heights and fore-aft of both condyles among the compared numbers, and to the right, which both share.
_CONDYLES: Final = (0, 1, 3, 4, 2)


def follow_up(case: Case, chances: ContactChances | None, ledger: Ledger, progress: Progress) -> None:
    """Hold every visit against what was predicted, and the records of visits against each other; note it on the page."""
    if not case.followups:
        return
    _visits_table(case, ledger)
    _by_foil(case, ledger)
    if chances is not None:
        _by_chance(case, chances, ledger)
        _first_contact(case, chances, ledger)
    _moved(case, ledger, progress)


def _called(visit: FollowUp, at: int) -> str:
    day = visit.date.isoformat() if visit.date else figure(at + 1, "d")
    return joined(", ", (day, visit.delivered)) if visit.delivered else day


def _visits_table(case: Case, ledger: Ledger) -> None:
    rows = []
    for at, visit in enumerate(case.followups):
        um = adjusted_um(visit)
        rows.append(
            (
                _called(visit, at),
                "-" if visit.minutes is None else figure(visit.minutes, "g"),
                joined(", ", (written(case, iso(case, a.tooth)) for a in visit.adjusted)) or "-",
                "-" if um is None else figure(um, "g"),
                joined(", ", (written(case, iso(case, t)) for t in visit.first_contact)) or "-",
            )
        )
    columns = (say("visit"), say("minutes"), say("teeth adjusted"), say("um in all"), say("met first"))
    ledger.tables.append(Table(say("Afterwards in the mouth"), columns, tuple(rows)))


def _by_foil(case: Case, ledger: Ledger) -> None:
    """Count the teeth that held the foil in the mouth as on the mounting, at each visit; the first is the number told."""
    told = [(at, visit, compared(case, visit)) for at, visit in enumerate(case.followups)]
    told = [one for one in told if one[2]]
    if not told:
        ledger.need(
            say("at delivery: which teeth hold the foil in CR that was tried on the mounting"),
            say("it tells whether the casts were right"),
            "followups",
        )
        return
    for at, visit, rows in told:
        agree = sum(1 for r in rows if r.predicted == r.found)
        odd = [r.tooth for r in rows if r.predicted != r.found]
        low, high = binomial_interval(agree, len(rows))
        if at == told[0][0]:
            share = agree / len(rows)
            ledger.quantities.append(
                Quantity(
                    "followup_agreement",
                    say("teeth that held the foil afterwards as predicted"),
                    100.0 * share,
                    "%",
                    100.0 * (high - low) / WIDTH_95,
                    100.0 * low,
                    100.0 * high,
                    0,
                )
            )
        text = say(
            "{visit}: {agree} of {all} teeth held the foil as on the mounting (95 % interval of the share {low:.0f} to "
            "{high:.0f} %).",
            visit=_called(visit, at),
            agree=agree,
            all=len(rows),
            low=100.0 * low,
            high=100.0 * high,
        )
        if odd:
            teeth = joined(", ", (written(case, t) for t in odd))
            text = joined(" ", (text, say("Otherwise at {teeth}.", teeth=teeth)))
        ledger.notes.append(text)


def _by_chance(case: Case, chances: ContactChances, ledger: Ledger) -> None:
    """Hold the chance that each tooth had to hold the foil against what held: the table, and the mean square of the miss."""
    by_tooth = {one.tooth: one for one in chances.teeth}
    for at, visit in enumerate(case.followups):
        if visit.thickness_um not in (None, chances.foil_um):
            continue
        found: list[tuple[ToothChance, bool]] = []
        for tooth in teeth_told(case, visit):
            held, one = found_at(case, visit, tooth), by_tooth.get(tooth)
            if held is not None and one is not None and not one.unknown:
                found.append((one, held))
        if not found:
            continue
        score = brier([one.holds for one, _ in found], [held for _, held in found])
        share = sum(held for _, held in found) / len(found)
        ledger.tables.append(
            Table(
                say("{visit}: chance of holding the foil, and what held", visit=_called(visit, at)),
                (say("tooth"), "", say("chance, %"), say("found")),
                tuple(
                    (
                        written(case, one.tooth),
                        name(one.tooth),
                        figure(100.0 * one.holds, ".0f"),
                        say("held") if held else say("free"),
                    )
                    for one, held in found
                ),
                say(
                    "Mean square miss {score:.3f}: 0 is perfect, and saying {share:.0f} % of every tooth would miss by "
                    "{plain:.3f} (G. Brier 1950).",
                    score=score,
                    share=100.0 * share,
                    plain=share * (1.0 - share),
                ),
            )
        )


def brier(chances: list[float], found: list[bool]) -> float:
    """Return the mean square of chance less outcome (G. Brier 1950): 0 where every chance was 0 or 1 and right.

    ValueError for none, or lists of unequal length.
    """
    if not chances or len(chances) != len(found):
        raise ValueError("one outcome for each chance")
    return float(np.mean((np.asarray(chances) - np.asarray(found, dtype=np.float64)) ** 2))


def _first_contact(case: Case, chances: ContactChances, ledger: Ledger) -> None:
    by_tooth = {one.tooth: one for one in chances.teeth}
    for at, visit in enumerate(case.followups):
        for tooth in (iso(case, t) for t in visit.first_contact):
            one = by_tooth.get(tooth)
            if one is not None:
                ledger.notes.append(
                    say(
                        "{visit}: {tooth} met first; the casts gave it a chance of {percent:.0f} %.",
                        visit=_called(visit, at),
                        tooth=written(case, tooth),
                        percent=100.0 * one.first,
                    )
                )


def _moved(case: Case, ledger: Ledger, progress: Progress) -> None:
    """Tell whether CR moved between visits by more than visits usually differ."""
    try:
        given = gathered_records(case, progress)
    except FaultError:  # a scan that cannot be used: question 3 says what to do
        return
    if given is None or not given.points or len(set(visits_of(case, given))) < 2:
        ledger.need(
            say("CR records at a later visit, each with its visit entered"),
            say("without them nobody can say whether CR moved"),
            "records",
        )
        return
    visits = visits_of(case, given)
    s = record_repeat(case, ledger)
    dof = float(case.record_repeat_dof) if case.record_repeat_dof and case.record_repeat_mm else math.inf
    other = visit_repeat(case, s, ledger)
    f = given.features
    tail = groups_apart(f.values, f.covs, visits, Spread(s, f.repeat, dof, visits, other))
    last = _change_table(given, visits, s, other, ledger)
    words = say("from {first} to {last}", first=visits[0] or "-", last=last or "-")
    if tail < _MOVED:
        ledger.notes.append(
            say(
                "CR has moved {words}: honest visits would lie so far apart in fewer than 1 of 100 cases.",
                words=words,
            )
        )
        ledger.because(
            Verdict.DOUBTFUL,
            Why.BETWEEN,
            say("CR moved between the visits: casts mounted by the earlier records may no longer hold"),
        )
        ledger.need(
            say("a record at a further visit, when joints and muscles are at rest"),
            say("what is recorded has not settled yet"),
            "records",
        )
    elif tail < _PERHAPS:
        ledger.notes.append(say("Perhaps CR has moved {words}: a further visit would tell.", words=words))
    else:
        ledger.notes.append(
            say(
                "CR {words}: no change beyond what visits usually differ by ({percent:.0f} of 100 honest pairs differ as much).",
                words=words,
                percent=100.0 * tail,
            )
        )


def _change_table(given: Gathered, visits: tuple[str, ...], s: float, other: float, ledger: Ledger) -> str:
    """Note how far the condyles lie from the first visit to the last, each with its doubt; return the last visit."""
    f = given.features
    labels = list(dict.fromkeys(visits))
    first, last = ([i for i, v in enumerate(visits) if v == label] for label in (labels[0], labels[-1]))
    rows = []
    for j in _CONDYLES:
        change = float(f.values[last, j].mean() - f.values[first, j].mean())
        variance = 2.0 * other**2 * f.repeat[j, j]
        for g in (first, last):
            variance += (s**2 * f.repeat[j, j] + float(f.covs[g, j, j].mean())) / len(g)
        u = math.sqrt(variance)
        rows.append((f.names[j], figure(change, "+.2f"), figure(K95 * u, ".2f")))
        if j == 1:
            ledger.quantity(
                "cr_change",
                say("CR, right condyle up, first visit to last"),
                measured(change, u, "visits"),
                "mm",
            )
    ledger.tables.append(
        Table(
            say("CR from the first visit to the last, mm"),
            ("", say("change"), say("± (95 %)")),
            tuple(rows),
            say("The doubt counts how records repeat within a visit and what another visit adds."),
        )
    )
    return labels[-1]
