"""Many cases of one practice: is the bench in control, what carries the spread, how well records repeat, and how courses went."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.case_numbers import CaseNumbers
from mountproof.answers.many_courses import Course, course_table, courses_of
from mountproof.answers.result import Table
from mountproof.doubt.control_chart import FEWEST, RUN, Chart, control_chart, seen_within
from mountproof.doubt.nested_variance import nested_variance
from mountproof.geometry.quantile import binomial_interval
from mountproof.records.pooled import Between, Cell, Pooled, pooled, visit_variance
from mountproof.said import capital, figure, joined, say

#: What is watched from case to case: key, words, unit, decimals, and the shift that a chart is asked to find.
WATCHED: Final = (
    ("found_minus_predicted", say("pin found less predicted"), "mm", 2, 0.3),
    ("lift", say("movement during set"), "mm", 2, 0.1),
    ("record_spread", say("spread of CR records at a condyle"), "mm", 2, 0.1),
    ("foil_agreement", say("foil agreement, mounting with mouth"), "%", 0, 10.0),
    ("deviation", say("water against the sheet"), "%", 1, 5.0),
    ("followup_minutes", say("minutes adjusted at delivery"), "min", 0, 5.0),
)
#: An SD is charted by its two-thirds power, which is nearly normal (E. Wilson and M. Hilferty 1931).
_BY_POWER: Final = {"record_spread": 2.0 / 3.0}
#: Who or what may carry a spread, the coarsest first; a material is told within an instrument, that within a person.
FACTORS: Final = (
    ("by", say("person")),
    ("instrument", say("instrument")),
    ("material", say("stone")),
)
#: So many cases a chart's power is told for.
_AHEAD: Final = 10
_SEEN: Final = 0.05


class Charted(NamedTuple):
    """One watched number over all cases that have it, in the order of their days; ``power`` is that of the chart's scale."""

    key: str
    label: str
    unit: str
    decimals: int
    codes: tuple[str, ...]
    dates: tuple[str, ...]
    values: tuple[float, ...]
    chart: Chart
    power: float
    sentences: tuple[str, ...]


class Part(NamedTuple):
    """What one level carries of a spread: groups, share of the variance, SD with its interval, and words where it is not told."""

    level: str
    groups: int
    variance: float | None
    share: float
    sd: float
    low: float
    high: float
    told: str


class Split(NamedTuple):
    """The spread of one number, taken apart by who and what, the coarsest first; the last part is from case to case."""

    key: str
    label: str
    unit: str
    parts: tuple[Part, ...]
    sentence: str


class Repeat(NamedTuple):
    """The practice's own repeatability, which a case may take over: entries of a case and their values."""

    pooled: Pooled
    visit_mm: float | None
    visit_dof: int
    visit_seen: bool
    sentences: tuple[str, ...]


class ManyCases(NamedTuple):
    """Everything told of many cases. Surfaces show it; they compute nothing."""

    cases: int
    charts: tuple[Charted, ...]
    splits: tuple[Split, ...]
    repeat: Repeat | None
    courses: tuple[Course, ...]
    sentences: tuple[str, ...]
    tables: tuple[Table, ...]


def many_cases(rows: Sequence[CaseNumbers]) -> ManyCases:
    """Return the charts, the split of the spread, the pooled repeatability and the courses of all ``rows``.

    Cases count in the order of their days, those without one last; of one day by their codes. The cases of a course
    are no work for patients: they enter the courses only.
    """
    inside = sorted((r for r in rows if not r.course), key=lambda r: (r.date is None, r.date or "", r.code))
    charts = tuple(c for one in WATCHED if (c := _charted(inside, *one)) is not None)
    splits = tuple(s for one in WATCHED[:3] if (s := _split(inside, *one[:3])) is not None)
    repeat = _repeat(inside)
    courses = courses_of([r for r in rows if r.course], [one[:3] for one in WATCHED[:3]])
    sentences = [_summary(len(inside), charts), *_remounts(inside), *_afterwards(inside)]
    sentences += [s.sentence for s in splits]
    sentences += repeat.sentences if repeat is not None else ()
    tables = (
        *_chart_tables(charts),
        *(_split_table(s) for s in splits),
        *(course_table(c) for c in courses),
    )
    return ManyCases(len(inside), charts, splits, repeat, courses, tuple(sentences), tables)


def _charted(
    rows: Sequence[CaseNumbers], key: str, label: str, unit: str, decimals: int, shift: float
) -> Charted | None:
    found = [(r, v) for r in rows if (v := r.value(key)) is not None]
    if not found:
        return None
    power = _BY_POWER.get(key, 1.0)
    values = [v for _, v in found]
    chart = control_chart([abs(v) ** power if power != 1.0 else v for v in values])
    codes = tuple(r.code for r, _ in found)
    says = _chart_says(label, unit, decimals, codes, tuple(values), chart, power, shift)
    days = tuple(r.date or "" for r, _ in found)
    return Charted(key, label, unit, decimals, codes, days, tuple(values), chart, power, says)


def _chart_says(
    label: str,
    unit: str,
    decimals: int,
    codes: tuple[str, ...],
    values: tuple[float, ...],
    chart: Chart,
    power: float,
    shift: float,
) -> tuple[str, ...]:
    if chart.limits is None:
        if len(values) < FEWEST:
            return (
                say(
                    "{what}: no limits before {fewest} cases, so far there are {count}.",
                    what=capital(label),
                    count=len(values),
                    fewest=FEWEST,
                ),
            )
        return (say("{what}: the first cases are all alike, no limits can be drawn.", what=capital(label)),)
    says = [
        say(
            "{what} lies outside its limits in {case} ({value:.{decimals}f} {unit}).",
            what=capital(label),
            case=codes[i],
            value=values[i],
            decimals=decimals,
            unit=unit,
        )
        for i in chart.outside
    ]
    for a, b in chart.runs:
        side = say("above") if chart.values[a] > chart.limits.mean else say("below")
        says.append(
            say(
                "{what} lies {side} its mean in {count} cases in a row, {first} to {last}: something changed there.",
                what=capital(label),
                side=side,
                count=b - a + 1,
                first=codes[a],
                last=codes[b],
            )
        )
    says += [
        say(
            "{what} jumps from {before} to {case} by more than cases usually differ.",
            what=capital(label),
            before=codes[i - 1],
            case=codes[i],
        )
        for i in chart.jumps
        if i not in chart.outside
    ]
    if not says:
        says.append(say("{what}: in control over {count} cases.", what=capital(label), count=len(values)))
    if power == 1.0:
        says.append(
            say(
                "A lasting shift of {shift:g} {unit} would show within {ahead} cases in {found:.0f} of 100 practices with this "
                "scatter; where nothing changed, {false:.0f} of 100 show a sign in {ahead} cases all the same.",
                shift=shift,
                unit=unit,
                ahead=_AHEAD,
                found=100.0 * seen_within(round(shift / chart.limits.sd, 1), _AHEAD),
                false=100.0 * seen_within(0.0, _AHEAD),
            )
        )
    return tuple(says)


def _split(rows: Sequence[CaseNumbers], key: str, label: str, unit: str) -> Split | None:
    """Take the spread of a number apart by person, instrument and stone, as far as the cases differ in these."""
    found = [(r, v) for r in rows if (v := r.value(key)) is not None]
    used = [(name, words) for name, words in FACTORS if len({getattr(r, name) for r, _ in found}) > 1]
    if len(found) < FEWEST or not used:
        return None
    labels = [tuple(getattr(r, name) for name, _ in used) for r, _ in found]
    if len(set(labels)) == len(labels):
        return None
    nested = nested_variance([v for _, v in found], labels)
    names = [*(words for _, words in used), say("case to case")]
    parts = []
    for words, level, share in zip(names, nested.levels, nested.shares, strict=True):
        told = ""
        if level.variance is None:
            told = say("cannot be told from the level above")
        elif level.variance < 0.0:
            told = say("came out below zero: nothing seen")
        sd = math.sqrt(level.seen)
        parts.append(Part(words, level.groups, level.variance, share, sd, level.low_sd, level.high_sd, told))
    best = max(parts, key=lambda p: p.share)
    sentence = say(
        "Of the spread of {what}, {percent:.0f} % is {level} (SD {sd:.2f} {unit}, 95 % interval {low:.2f} to {high:.2f}).",
        what=label,
        percent=100.0 * best.share,
        level=best.level,
        sd=best.sd,
        unit=unit,
        low=best.low,
        high=best.high,
    )
    return Split(key, label, unit, tuple(parts), sentence)


def _repeat(rows: Sequence[CaseNumbers]) -> Repeat | None:
    """Pool how records of one visit repeat, and what another visit adds, over all cases that have several."""
    cells = [
        Cell(r.code, variance, int(dof))
        for r in rows
        if (variance := r.value("record_variance")) is not None and (dof := r.value("record_dof"))
    ]
    if not cells:
        return None
    found = pooled(cells)
    says = [
        say(
            "Your CR records repeat to {sd:.2f} mm at a condyle, one axis (95 % interval {low:.2f} to {high:.2f}, {dof} degrees "
            "of freedom, {count} cases): enter record_repeat_mm and record_repeat_dof.",
            sd=found.sd,
            low=found.low,
            high=found.high,
            dof=found.dof,
            count=found.cells,
        )
        if found.variance > 0.0
        else say("Your CR records scatter no more than the readings do: how well they repeat is not seen.")
    ]
    if found.beyond:
        says.append(
            say("Left out, as they scatter beyond all others: {cases}.", cases=joined(", ", found.beyond))
        )
    between = [
        Between(ms, int(r.value("visit_dof") or 0), r.value("visit_size") or 0.0)
        for r in rows
        if (ms := r.value("visit_mean_square")) is not None and r.code not in found.beyond
    ]
    visit, dof, seen = None, 0, False
    if between and found.variance > 0.0:
        variance, dof = visit_variance(found.variance, between)
        seen = variance > 0.0
        visit = math.sqrt(max(0.0, variance))
        says.append(
            say(
                "Another visit adds {sd:.2f} mm ({dof} degrees of freedom): visit_repeat_mm.",
                sd=visit,
                dof=dof,
            )
            if seen
            else say("Between visits nothing is seen beyond that ({dof} degrees of freedom).", dof=dof)
        )
    return Repeat(found, visit, dof, seen, tuple(says))


def _remounts(rows: Sequence[CaseNumbers]) -> list[str]:
    tried = [v for r in rows if (v := r.value("attempts")) is not None]
    if not tried:
        return []
    again = sum(1 for v in tried if v > 1.0)
    low, high = binomial_interval(again, len(tried))
    return [
        say(
            "Remounted: {again} of {all} cases (95 % interval of the share {low:.0f} to {high:.0f} %).",
            again=again,
            all=len(tried),
            low=100.0 * low,
            high=100.0 * high,
        )
    ]


def _afterwards(rows: Sequence[CaseNumbers]) -> list[str]:
    """Tell over all cases how many teeth held foil at delivery as predicted; cases count by their teeth."""
    pairs = [
        (int(a), int(n))
        for r in rows
        if (a := r.value("followup_agree")) is not None and (n := r.value("followup_compared"))
    ]
    if not pairs:
        return []
    agree, n = sum(a for a, _ in pairs), sum(k for _, k in pairs)
    low, high = _share_interval(pairs)
    return [
        say(
            "Afterwards in the mouth {agree} of {all} teeth held the foil as predicted (cases: {cases}){range}.",
            agree=agree,
            all=n,
            cases=len(pairs),
            range=say(" (95 % interval {low:.0f} to {high:.0f} %)", low=100.0 * low, high=100.0 * high)
            if len(pairs) > 1
            else "",
        )
    ]


def _share_interval(pairs: Sequence[tuple[int, int]]) -> tuple[float, float]:
    """Return the interval of a share over cases: teeth of one case resemble each other, so cases are drawn, not teeth."""
    rng = np.random.default_rng(18)
    got, of = np.array([a for a, _ in pairs]), np.array([n for _, n in pairs])
    drawn = rng.integers(0, len(pairs), (4000, len(pairs)))
    shares = got[drawn].sum(axis=1) / of[drawn].sum(axis=1)
    low, high = np.quantile(shares, [0.025, 0.975])
    return float(low), float(high)


def _summary(cases: int, charts: Sequence[Charted]) -> str:
    odd = [c.label for c in charts if not c.chart.in_control]
    drawn = [c for c in charts if c.chart.limits is not None]
    if not drawn:
        return say("Cases: {cases}. No chart has limits yet (from {fewest} on).", cases=cases, fewest=FEWEST)
    if not odd:
        return say("Cases: {cases}. Everything that has limits is in control.", cases=cases)
    return say("Cases: {cases}. Look at {what}.", cases=cases, what=joined(", ", odd))


def _chart_tables(charts: Sequence[Charted]) -> list[Table]:
    if not charts:
        return []
    rows = []
    for c in charts:
        lim = c.chart.limits
        ends = ("-", "-", "-")
        if lim is not None:
            back = [_back(v, c.power) for v in (lim.mean, lim.low, lim.high)]
            ends = tuple(figure(v, f".{c.decimals}f") for v in back)  # type: ignore[assignment]
        state = say("no limits yet") if lim is None else say("in control")
        if not c.chart.in_control:
            state = say("look")
        rows.append((c.label, c.unit, figure(len(c.values), "d"), *ends, state))
    columns = ("", say("unit"), say("cases"), say("mean"), say("low limit"), say("high limit"), "")
    note = say(
        "Limits from the first {fewest} cases: mean ± 2.66 mean moving ranges (NIST/SEMATECH e-Handbook 6.3.2.2). Looked for: a "
        "case outside, {run} in a row on one side, a jump above 3.267 mean moving ranges.",
        fewest=FEWEST,
        run=RUN,
    )
    return [Table(say("Charts"), columns, tuple(rows), note)]


def _back(value: float, power: float) -> float:
    return value if power == 1.0 else max(0.0, value) ** (1.0 / power)


def limits_shown(charted: Charted) -> tuple[float, float, float] | None:
    """Return mean, low and high limit of a chart in the unit of its values; None where there are no limits."""
    lim = charted.chart.limits
    if lim is None:
        return None
    return (
        _back(lim.mean, charted.power),
        _back(lim.low, charted.power),
        _back(lim.high, charted.power),
    )


def _split_table(split: Split) -> Table:
    rows = tuple(
        (
            p.level,
            figure(p.groups, "d"),
            figure(100.0 * p.share, ".0f"),
            "-" if p.variance is None else figure(p.sd, ".2f"),
            "-" if not math.isfinite(p.high) else say("{low:.2f} to {high:.2f}", low=p.low, high=p.high),
            p.told,
        )
        for p in split.parts
    )
    title = say("What carries the spread of {what}, {unit}", what=split.label, unit=split.unit)
    columns = ("", say("groups"), say("share, %"), "SD", say("its 95 % interval"), "")
    return Table(
        title, columns, rows, say("Each within the one above; a stone of two persons counts as two.")
    )
