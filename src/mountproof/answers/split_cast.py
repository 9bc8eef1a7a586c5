"""Part of question 4: the gaps of a split cast with a further record in, carried to condyles and teeth."""

from __future__ import annotations

import math

import numpy as np

from mountproof.answers.bench_inputs import record_repeat
from mountproof.answers.finds import Found
from mountproof.answers.implants import held_to
from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import SplitPlane
from mountproof.answers.pin import front_tooth, tooth_places
from mountproof.answers.poses import half_width
from mountproof.answers.result import Table, Verdict, Why
from mountproof.bench.split_cast import Gap, InLine, SplitFit, expected_sd_mm, gap_between, split_plane
from mountproof.case.model import Case, SplitCast, SplitGap
from mountproof.geometry.carry import stack
from mountproof.said import joined, say

#: SD of reading one gap, or of telling whether a strip is held, where it was not stated. Common practice, no source.
_READ_MM = 0.03
#: The middle of the teeth (ahead, right; mm), where the finds of all checks are told.
_MIDDLE = (70.0, 0.0)
#: How far beside the middle the second molars stand. An average arch, no source.
_ASIDE_MM = 28.0


def split_casts(case: Case, ledger: Ledger) -> list[str]:
    """Judge every split cast that was read; return what each comes to, with the record that was in."""
    says = []
    for n, one in enumerate(case.proof.split_casts):
        gaps = _read(one, ledger)
        if gaps:
            name = one.record or say("a second record")
            says += _told(case, name, one, split_plane(gaps), gaps, n, ledger)
    return says


def _read(one: SplitCast, ledger: Ledger) -> list[Gap]:
    """Return the gaps as numbers; strips as the middle of what they leave open."""
    sd = one.gap_sd_mm
    if sd is None:
        sd = ledger.assume(
            say("SD of reading one gap of a split cast"),
            _READ_MM,
            "mm",
            say("common practice, no source"),
            "proof.split_casts.gap_sd_mm",
        )
    found = []
    for gap in one.gaps:
        told = _gap(gap, sd)
        if told is not None:
            found.append(Gap(gap.ahead_mm, gap.right_mm, *told))
    return found


def _gap(gap: SplitGap, sd: float) -> tuple[float, float] | None:
    if gap.gap_mm is not None:
        return gap.gap_mm, sd
    if gap.holds_um is not None:
        passes = None if gap.passes_um is None else gap.passes_um / 1000.0
        if passes is not None and passes >= gap.holds_um / 1000.0:
            return passes, sd  # one strip that both just passes and just holds
        return gap_between(passes, gap.holds_um / 1000.0, sd)
    return None


def _told(
    case: Case, name: str, one: SplitCast, fit: SplitFit | InLine, gaps: list[Gap], n: int, ledger: Ledger
) -> list[str]:
    if isinstance(fit, InLine):
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.NOT_CARRIED,
            say("the gaps with {record} in hold no plane: too few places, or all in one line", record=name),
        )
        ledger.need(
            say(
                "the gap at one more place with {record} in, some {ahead:.0f} mm ahead of the hinge and {right:.0f} mm "
                "to the right (minus: left)",
                record=name,
                ahead=fit.ahead_mm,
                right=fit.right_mm,
            ),
            say("three places that are not in one line show how the bases tilt"),
            "proof.split_casts",
        )
        return []
    teeth = tooth_places(case, ledger)
    front, last = front_tooth(teeth), min(teeth, key=lambda t: t.x_mm)
    half = half_width(case, ledger)
    places = (
        (say("{teeth} right", teeth=last.name), (last.x_mm, _ASIDE_MM)),
        (say("{teeth} left", teeth=last.name), (last.x_mm, -_ASIDE_MM)),
        (front.name, (front.x_mm, 0.0)),
        (say("condyle right"), (0.0, half)),
        (say("condyle left"), (0.0, -half)),
    )
    at = fit.at([p for _, p in places])
    reset = _reseat(ledger)
    spread = expected_sd_mm(record_repeat(case, ledger), reset, float(at.us[:2].max()))
    rows = tuple(
        (words, say("{mm:+.2f} ± {twice:.2f}", mm=at.values[i], twice=2 * at.us[i]))
        for i, (words, _) in enumerate(places)
    )
    ledger.tables.append(
        Table(
            say("Gap of the split cast with {record} in, carried on, mm (± 95 %)", record=name),
            ("", say("gap")),
            rows,
            say(
                "Two honest records would differ by {spread:.2f} mm (1 SD) here: repeatability, seat and reading.",
                spread=spread,
            ),
        )
    )
    worst = int(np.argmax(np.abs(at.values[:2])))
    key = "split_cast" if n == 0 else f"split_cast_{n + 1}"
    ledger.quantity(
        key,
        say("gap of the split cast with {record} in, at the {place}", record=name, place=places[worst][0]),
        at[worst],
        "mm",
    )
    for slope, part, words in (
        (fit.plane[1], "pitch", say("{record} in: the bases open to the front", record=name)),
        (fit.plane[2], "roll", say("{record} in: the bases open to the right", record=name)),
    ):
        ledger.quantity(f"{key}_{part}", words, slope, "deg", factor=180.0 / math.pi)
    what = say("gap of the split cast with {record} in", record=name)
    verdict = judge_against(ledger, what, at[worst].value, at[worst].u, held_to(case, "split_cast_gap"))
    carried = tuple(
        (words, *where, float(at.values[i]), float(at.us[i])) for i, (words, where) in enumerate(places)
    )
    _note(case, name, fit, gaps, carried, ledger)
    return [_words(verdict, name, places[worst][0], at[worst].value)]


def _note(
    case: Case,
    name: str,
    fit: SplitFit,
    gaps: list[Gap],
    carried: tuple[tuple[str, float, float, float, float], ...],
    ledger: Ledger,
) -> None:
    """Leave the picture, and the find for all checks to be weighed together."""
    ledger.pictures.append(
        SplitPlane(
            name,
            np.array([(g.ahead_mm, g.right_mm) for g in gaps]),
            np.array([g.gap_mm for g in gaps]),
            np.array([g.u_mm for g in gaps]),
            np.array([fit.at([(0.0, 0.0)]).value, fit.plane.values[1], fit.plane.values[2]]),
            carried,
        )
    )
    # A gap means that the mounting holds the casts farther apart there than the record does.
    three = stack([fit.at([_MIDDLE])[0], fit.plane[1], fit.plane[2]])
    words = say("the gaps of the split cast with {record} in", record=name)
    record = name if name in case.records else ""
    ledger.finds.append(
        Found(
            "split_cast", words, ("down", "pitch", "roll"), three.values, three.parts @ three.parts.T, record
        )
    )
    if fit.dof and fit.tail < _ODD:
        ledger.because(
            Verdict.DOUBTFUL,
            Why.QUESTIONED,
            say(
                "the gaps with {record} in lie in no plane: one was read wrongly, or debris lies between",
                record=name,
            ),
        )


#: Residuals so large by reading alone in fewer than one of a hundred sets are asked about.
_ODD = 0.01


def _reseat(ledger: Ledger) -> float:
    return ledger.assume(
        say("how well a record finds its seat, each time (1 SD)"),
        0.05,
        "mm",
        say("common practice, no source"),
        "marks.reseat_mm",
    )


def _words(verdict: Verdict, name: str, place: str, mm: float) -> str:
    how = {
        Verdict.AGREES: say("the split cast closes with {record} in", record=name),
        Verdict.DOUBTFUL: say("the split cast closes with {record} in, if not quite", record=name),
        Verdict.DISAGREES: say("the split cast does not close with {record} in", record=name),
        Verdict.CANNOT_TELL: say("whether the split cast closes with {record} in is open", record=name),
    }[verdict]
    return say("{how} ({mm:+.2f} mm at the {place})", how=how, mm=mm, place=place)


def verified_by(case: Case) -> str:
    """Return which records other than the mounted one were tried on the mounting, in words; nothing where none was."""
    tried = [
        *(s.record for s in case.proof.seatings),
        *(s.record for s in case.proof.split_casts if s.gaps),
        *(g.record for g in case.proof.condyle_gaps if g.right_mm is not None or g.left_mm is not None),
    ]
    others = dict.fromkeys(r for r in tried if r is not None and r != case.mounted_on)
    return joined(", ", others)
