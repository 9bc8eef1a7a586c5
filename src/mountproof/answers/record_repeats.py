"""Part of question 3: whether several records of centric relation agree, which stands out, and which to mount on."""

from __future__ import annotations

import math

import numpy as np

from mountproof.answers.axis_doubt import AxisDoubt, axis_doubt
from mountproof.answers.bench_inputs import MarksInput, States, record_repeat, visit_repeat
from mountproof.answers.finds import Found
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import Dots, Scatter
from mountproof.answers.progress import Progress, quiet
from mountproof.answers.record_gathered import Gathered, from_marks, from_scans
from mountproof.answers.record_visits import visits_of, within_and_between
from mountproof.answers.result import Table, Verdict, Why
from mountproof.bench.same_opening import axis_cost_mm
from mountproof.case.model import Case
from mountproof.records.compare import Comparison, compare_records
from mountproof.records.joint import Spread
from mountproof.records.repeats import sd_factors
from mountproof.said import capital, figure, joined, say

#: An axis that parts the records by less than this does not enter: no caliper and no scanner sees it.
_UNSEEN_MM = 0.005
#: Rows of the table of numbers compared: the condyles and the front in full, of the molars only their height.
_FULL_ROWS = 9
_HEIGHTS = (10, 13)


def repeats(
    case: Case,
    marks: MarksInput | None,
    states: States | None,
    ledger: Ledger,
    progress: Progress = quiet,
) -> list[str]:
    """Compare all records of centric relation, by their scans and by the marks measured before stone."""
    found = [from_scans(case, ledger, progress)]
    if marks is not None and states is not None:
        found.append(from_marks(case, marks, states, ledger))
    sets = sorted((g for g in found if g is not None), key=lambda g: -len(g.wording))
    if not sets:
        if not any(need.field in ("marks.states", "marks.readings_mm") for need in ledger.needs[-1:]):
            ledger.need(
                say("a second and a third CR record, measured at the same marks"),
                say("one record shows no spread"),
                "marks.states",
            )
        return []
    told = [_judged(case, one, ledger, first=i == 0) for i, one in enumerate(sets)]
    if len(told) == 1:
        return told
    ways = (say("by scans") if one.scanned else say("by marks") for one in sets)
    return [joined(": ", (capital(way), text)) for way, text in zip(ways, told, strict=True)]


def _judged(case: Case, given: Gathered, ledger: Ledger, *, first: bool) -> str:
    """Compare one set of records and tell what it comes to; ``first`` of the sets is the one that is drawn."""
    features, names = given.features, list(given.wording)
    spread = _spread(case, given, ledger)
    limit = case.limits.records_at_condyle

    def compared(by: Spread) -> Comparison:
        return compare_records(names, features.values, features.covs, features.names, by, limit.redo)

    plain = found = compared(spread)
    apart_rad = float(np.ptp(features.openings_rad))
    axis = axis_doubt(case, Ledger(ledger.key))
    wide = spread
    if axis_cost_mm(axis.u_mm, apart_rad) > _UNSEEN_MM:
        wide = spread._replace(
            axis=features.axis_cov(axis.u_mm, given.width_mm),
            closings=tuple(float(o) for o in features.openings_rad),
        )
    explained = False
    if wide is not spread and plain.agreement not in ("same", "cannot tell"):
        axis_doubt(case, ledger)
        found = compared(wide)
        explained = found.agreement in ("same", "cannot tell")
    ledger.tables.append(_compared_table(found, given.wording, given.what, short=bool(given.points)))
    if first:
        _picture(case, given, found, spread, ledger)
        _find(case, given, ledger)
    within_and_between(case, given, wide, ledger)
    _three_say_little(len(names), spread, ledger)
    if explained:
        return _axis_or_record(given, axis, apart_rad, ledger)
    if given.blind and found.agreement == "same":
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.NOT_CARRIED,
            say(
                "the {count} records agree as far as these pairs see; a difference fore-aft, to a side or in yaw "
                "would not show",
                count=len(names),
            ),
        )
        return say(
            "The records agree as far as these pairs see; nearest the middle is {best}",
            best=given.wording[found.mount_on],
        )
    return _tell(found, given, spread, ledger, case)


def _spread(case: Case, given: Gathered, ledger: Ledger) -> Spread:
    """Return how honest records vary: the practice's repeatability, with another visit's part where there is one."""
    s = record_repeat(case, ledger)
    dof = math.inf
    if case.record_repeat_mm is not None:
        if case.record_repeat_dof is not None:
            dof = float(case.record_repeat_dof)
        else:
            ledger.notes.append(
                say(
                    "How well your records repeat ({s:g} mm) is taken as exact: nobody said how many records "
                    "stand behind it.",
                    s=s,
                )
            )
    visits = visits_of(case, given)
    if len(set(visits)) < 2:
        return Spread(s, given.features.repeat, dof)
    other = visit_repeat(case, s, ledger)
    return Spread(s, given.features.repeat, dof, visits, other)


def _three_say_little(n: int, spread: Spread, ledger: Ledger) -> None:
    low, high = sd_factors(n)
    ledger.notes.append(
        say(
            "{count} records find a blunder; they do not show how well records repeat: the true SD may be "
            "{low:.2f} to {high:.1f} times theirs. They are held against {s:g} mm.",
            count=n,
            low=low,
            high=high,
            s=spread.s,
        )
    )


def _axis_or_record(given: Gathered, axis: AxisDoubt, apart_rad: float, ledger: Ledger) -> str:
    ledger.because(
        Verdict.CANNOT_TELL,
        Why.NOT_CARRIED,
        say(
            "the records differ, and they open the jaw by unequal amounts ({deg:.1f} deg apart): with a hinge axis "
            "known to {u:.1f} mm (1 SD) that alone parts honest records by {mm:.2f} mm; unequal thickness with "
            "such an axis cannot be told from disagreement",
            deg=math.degrees(apart_rad),
            u=axis.u_mm,
            mm=axis_cost_mm(axis.u_mm, apart_rad),
        ),
        value=axis_cost_mm(axis.u_mm, apart_rad),
        unit="mm",
    )
    ledger.need(
        say("records of one thickness, or the axis located"),
        say("then what is left between them is the records' own"),
        "facebow.axis",
    )
    return say(
        "The {count} records differ, but not by more than their unequal thickness and the doubt of the axis explain",
        count=len(given.wording),
    )


def _tell(found: Comparison, given: Gathered, spread: Spread, ledger: Ledger, case: Case) -> str:
    wording = given.wording
    best = wording[found.mount_on]
    mounted = case.mounted_on
    used = say("; mounted on {record}", record=mounted) if mounted else ""
    if found.agreement == "same":
        ledger.because(
            Verdict.AGREES,
            Why.INSIDE,
            say(
                "the {count} records agree; a difference above {detectable:.2f} mm would show more often than not",
                count=len(wording),
                detectable=found.detectable,
            ),
        )
        return say("The records agree; nearest the middle is {best}{used}", best=best, used=used)
    if found.agreement == "one stands out" and found.outlier is not None:
        return _outlier(found, wording, wording[found.outlier], best, used, ledger, mounted)
    if found.agreement in ("scattered", "differ"):
        ledger.because(
            Verdict.DISAGREES, Why.OUTSIDE, say("the records lie farther apart than honest repeats would")
        )
        ledger.need(
            say("another record, after a rest or on another day"), say("these do not agree"), "records"
        )
        return say("The records do not agree with each other")
    ledger.because(
        Verdict.CANNOT_TELL,
        Why.GUARD_BAND,
        say(
            "no difference was found, but one of {detectable:.2f} mm would not show in half of the cases",
            detectable=found.detectable,
        ),
        limit=found.detectable,
        unit="mm",
    )
    _need_sharper(case, given, spread, ledger)
    return say(
        "No difference between the records was found, but {detectable:.1f} mm would not show",
        detectable=found.detectable,
    )


def _need_sharper(case: Case, given: Gathered, spread: Spread, ledger: Ledger) -> None:
    """Ask for what hides most: the readings, how well records repeat, or that there are few of them."""
    read = np.diag(given.features.cov)
    honest = spread.s**2 * np.diag(spread.shape)
    if float(np.max(read)) > float(np.max(honest)) and not given.scanned:
        ledger.need(
            say("every pair three times with each record in"),
            say("smaller differences then show"),
            "marks.readings_mm",
        )
    elif case.record_repeat_mm is None:
        ledger.need(
            say("how well your own records repeat, from the records of your cases"),
            say("an assumed {s:g} mm hides smaller differences", s=spread.s),
            "record_repeat_mm",
        )
    else:
        ledger.need(say("a further CR record"), say("smaller differences then show"), "records")


def _outlier(
    found: Comparison,
    wording: dict[str, str],
    odd: str,
    best: str,
    used: str,
    ledger: Ledger,
    mounted: str | None,
) -> str:
    tail = found.tails[list(wording.values()).index(odd)]
    ledger.notes.append(
        capital(
            say(
                "{odd} is told by all compared numbers together: an honest record lies so far from the "
                "others in {chance}.",
                odd=odd,
                chance=_chance(tail),
            )
        )
    )
    ledger.notes.append(
        say(
            "Mean values would hide it: use a real record, the one nearest the median ({best}).",
            best=best,
        )
    )
    if mounted == odd:
        ledger.because(
            Verdict.DISAGREES,
            Why.OUTSIDE,
            say("{odd} stands out from the others, and the cast is mounted on it", odd=odd),
        )
        ledger.need(
            say("mount on {best}, or take another record", best=best),
            say("{odd} stands out", odd=odd),
            "mounted_on",
        )
    else:
        ledger.because(
            Verdict.AGREES,
            Why.INSIDE,
            say("{odd} stands out and must not be used; the others agree", odd=odd),
        )
    return capital(
        say(
            "{odd} stands out; nearest the middle of the others is {best}{used}",
            odd=odd,
            best=best,
            used=used,
        )
    )


def _chance(tail: float) -> str:
    return say("fewer than 1 of 1000") if tail < 0.001 else say("{count:.0f} of 1000", count=1000 * tail)


def _picture(case: Case, given: Gathered, found: Comparison, spread: Spread, ledger: Ledger) -> None:
    """Note where the places lie with each record in, for the picture of the scatter."""
    if not given.points:
        return
    n = len(given.wording)
    places = given.features.values.reshape(n, -1, 3)
    places = places - np.median(places, axis=0)
    cov = given.features.cov
    dots = []
    for i, point in enumerate(given.points):
        own = slice(3 * i, 3 * i + 3)
        usual = spread.s * math.sqrt(float(np.mean(np.diag(spread.shape)[own])))
        dots.append(Dots(point.name, places[:, i], cov[own, own], usual, case.record_repeat_mm is None))
    words = given.wording
    mounted = case.mounted_on if case.mounted_on in words.values() else None
    odd = words[found.outlier] if found.outlier is not None else None
    ledger.pictures.append(Scatter(tuple(words.values()), tuple(dots), mounted, odd, words[found.mount_on]))


#: Rows of the compared numbers that a check of the mounting goes by, as signs and words of answers.finds have them.
_FOUND = (
    (1, -1.0, "right condyle down"),
    (4, -1.0, "left condyle down"),
    (0, 1.0, "right condyle ahead"),
    (3, 1.0, "left condyle ahead"),
    (2, 1.0, "right"),
)


def _find(case: Case, given: Gathered, ledger: Ledger) -> None:
    """Note how the record that the cast is mounted on lies against the mean of the others, at the condyles."""
    records = list(given.wording.values())
    if not given.points or case.mounted_on not in records:
        return
    i, n = records.index(case.mounted_on), len(records)
    f = given.features
    off = f.values[i] - np.delete(f.values, i, axis=0).mean(axis=0)
    cov = f.covs[i] + np.delete(f.covs, i, axis=0).sum(axis=0) / (n - 1) ** 2
    take = np.zeros((len(_FOUND), len(off)))
    for row, (column, sign, _) in enumerate(_FOUND):
        take[row, column] = sign
    ledger.finds.append(
        Found(
            "repeats",
            say("{record} against the other records", record=case.mounted_on),
            tuple(part for _, _, part in _FOUND),
            take @ off,
            take @ cov @ take.T,
        )
    )


def _compared_table(found: Comparison, wording: dict[str, str], what: str, *, short: bool) -> Table:
    keep = (*range(_FULL_ROWS), *_HEIGHTS) if short else range(len(found.features))
    rows = tuple(
        (
            f.name,
            *(figure(v - min(f.values), ".2f") for v in f.values),
            figure(f.range, ".2f"),
            figure(f.critical, ".2f"),
            say("beyond") if f.beyond else "",
        )
        for f in (found.features[i] for i in keep)
    )
    return Table(
        say("Records compared: {what}, mm", what=what),
        ("", *wording.values(), say("range"), say("allowed"), ""),
        rows,
        say(
            "Each row from its smallest value; allowed: the range honest records keep (critical range, ISO "
            "5725-6)."
        ),
    )
