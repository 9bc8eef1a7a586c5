"""Question 4, the casts themselves: do they rock by hand, meet as the mouth does, and are they as wide?

What is wrong with a cast is said of the casts, never of the mounting: no remount takes it away.
"""

from __future__ import annotations

import math

import numpy as np

from mountproof.answers.bench_inputs import caliper_sd
from mountproof.answers.finds import Found
from mountproof.answers.foils import iso, written
from mountproof.answers.hand_foils import hand_foils
from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.result import Verdict, Why
from mountproof.bench.hand_casts import width_change
from mountproof.case.model import Arch, Case, WidthCheck
from mountproof.geometry.carry import Carried
from mountproof.said import joined, say

#: A jaw that opens so wide for an impression bends inward by what shows. Our choice: wide openings were measured.
_WIDE_MM = 20.0
#: Teeth move in months: a scan farther from the day of the measurements than this is asked about. Our choice.
_OLD_DAYS = 90
#: So well ought a mean of readings to be known that half the decent limit shows.
_SEEN = 2.0


def casts_checks(case: Case, ledger: Ledger) -> list[str]:
    """Judge what was checked on the casts before they were mounted; return what to say of it."""
    return [*_rock(case, ledger), *hand_foils(case, ledger), *_widths(case, ledger), *_ages(case, ledger)]


def _rock(case: Case, ledger: Ledger) -> list[str]:
    seats = case.casts.seats_by_hand
    if seats is None:
        return []
    ledger.finds.append(
        Found(
            "rock",
            say("ways in which the casts come to rest by hand, less one"),
            ("amount",),
            np.array([seats - 1.0]),
            np.zeros((1, 1)),
        )
    )
    if seats == 1:
        ledger.because(Verdict.AGREES, Why.INSIDE, say("the casts have one firm seat by hand in MIP"))
        return []
    ledger.because(
        Verdict.DISAGREES,
        Why.OUTSIDE,
        say(
            "the casts come to rest by hand in {seats} ways: they rock, before anything is mounted",
            seats=seats,
        ),
    )
    ledger.need(
        say("nodules and bubbles looked for where the casts rock, then by hand again; else a new impression"),
        say("it is the casts that rock: no mounting takes that away"),
        "casts.seats_by_hand",
    )
    return [say("the casts rock by hand in MIP: the casts are at fault, whatever the mounting")]


def _widths(case: Case, ledger: Ledger) -> list[str]:
    says = []
    for check in case.casts.widths:
        between = joined("-", (written(case, iso(case, t)) for t in check.between))
        if not (check.in_mouth_mm and check.on_cast_mm):
            where = say("on the cast") if check.in_mouth_mm else say("in the mouth")
            ledger.need(
                say("the width {between} {where}, with the same caliper", between=between, where=where),
                say("it is compared only where both were measured"),
                "casts.widths",
            )
            continue
        says += _width(case, ledger, check, between)
    return says


def _width(case: Case, ledger: Ledger, check: WidthCheck, between: str) -> list[str]:
    sd, step = _caliper(case, ledger)
    change = width_change(
        check.in_mouth_mm,
        check.on_cast_mm,
        sd,
        step,
        f"width/{check.arch}/{'-'.join(map(str, check.between))}",
    )
    ledger.quantity(
        f"width_{check.arch.value}",
        say("{between}: width on the cast less that in the mouth", between=between),
        change,
        "mm",
    )
    what = say("width {between} of the {arch} cast against the mouth", between=between, arch=check.arch)
    ledger.finds.append(Found("width", what, ("width",), change.values, change.cov))
    verdict = judge_against(ledger, what, change.value, change.u, case.limits.cross_arch_width)
    if verdict is Verdict.CANNOT_TELL:
        more = _more_readings(check, change, case.limits.cross_arch_width.decent)
        ledger.need(
            say("{between} {count} times in the mouth and on the cast", between=between, count=more),
            say("the width is known to {u:.2f} mm so far (1 SD)", u=change.u),
            "casts.widths",
        )
    if not abs(change.value) > _SEEN * change.u:
        return []
    how = say("narrower") if change.value < 0.0 else say("wider")
    out = say(
        "the {arch} cast is {mm:.2f} mm {how} than the mouth at {between}",
        arch=check.arch,
        mm=abs(change.value),
        how=how,
        between=between,
    )
    if verdict is Verdict.AGREES:
        return []
    ledger.notes.append(
        say("A cast that is too narrow or too wide cannot be mounted right: the same gap goes round with it.")
    )
    if check.arch is Arch.LOWER and change.value < 0.0:
        return [_flexure(case, ledger, out)]
    ledger.need(
        say("a new impression of the {arch} arch, or the width measured once more", arch=check.arch),
        say("it is the cast that is off: no mounting takes that away"),
        "casts.widths",
    )
    return [say("{cast}: a matter of the casts, not of the mounting", cast=out)]


def _flexure(case: Case, ledger: Ledger, out: str) -> str:
    """Say what a narrow lower cast means: a jaw that was open wide for its impression bends inward."""
    opening = case.casts.impression_opening_mm
    if opening is None:
        ledger.need(
            say("how wide the front teeth stood open when the lower impression was taken"),
            say("a lower jaw narrows when it opens wide, and the impression keeps that"),
            "casts.impression_opening_mm",
        )
        return say("{cast}: a matter of the casts, not of the mounting", cast=out)
    if opening < _WIDE_MM:
        ledger.need(
            say("a new impression of the lower arch, or the width measured once more"),
            say(
                "the jaw was open by {mm:g} mm only: it does not bend so much; tray, material or stone do",
                mm=opening,
            ),
            "casts.widths",
        )
        return say("{cast}: a matter of the casts, not of the mounting", cast=out)
    ledger.notes.append(
        say(
            "A lower jaw narrows when it opens wide: some 0.15 mm on average, up to half a millimetre in single "
            "people (Int J Prosthodont 2006;19:177-182). The impression was taken at {mm:g} mm.",
            mm=opening,
        )
    )
    ledger.need(
        say("a new lower impression with the jaw nearly closed (a tray for both arches, or opened little)"),
        say("the lower cast carries the bend of a jaw that was open wide; no mounting takes that away"),
        "casts.impression_opening_mm",
    )
    return say(
        "{cast}: the jaw bent while it stood open by {mm:g} mm for the impression; a matter of the casts, not of "
        "the mounting",
        cast=out,
        mm=opening,
    )


def _more_readings(check: WidthCheck, change: Carried, decent_mm: float) -> int:
    """Return how many readings of each would make two standard uncertainties half the decent limit."""
    have = min(len(check.in_mouth_mm), len(check.on_cast_mm))
    wanted = max(decent_mm, 1e-6) / 4.0
    return min(20, max(have + 1, math.ceil(have * (change.u / wanted) ** 2)))


def _caliper(case: Case, ledger: Ledger) -> tuple[float, float]:
    """Return the SD of one reading and the step of the caliper (mm), without asking for more readings of marks."""
    own = Ledger(ledger.key)
    cells = case.marks.readings_mm.cells() if case.marks is not None else ()
    found = caliper_sd(case.caliper, cells, own)
    ledger.assumptions += own.assumptions
    return found


def _ages(case: Case, ledger: Ledger) -> list[str]:
    """Ask about a further scan that was taken months away from the measurements of the case."""
    for scan in case.casts.other_scans:
        if scan.taken is None or case.date is None:
            continue
        days = abs((case.date - scan.taken).days)
        if days > _OLD_DAYS:
            ledger.notes.append(
                say(
                    "{file} was scanned on {day}, {days} days from the measurements: teeth move, and fillings change.",
                    file=scan.file,
                    day=scan.taken,
                    days=days,
                )
            )
            ledger.need(
                say("the casts held against the mouth again: foil in MIP, by hand and in the mouth"),
                say("{days} days lie between a scan and the measurements", days=days),
                "foils",
            )
    return []
