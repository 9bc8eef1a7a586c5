"""First contact from two scans: exact, by tooth pair, with what one record leaves open."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from mountproof.answers.bench_inputs import pin_input, record_repeat
from mountproof.answers.contact_evidence import ContactEvidence
from mountproof.answers.foils import iso, written
from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.placement_doubt import placement_motion
from mountproof.answers.poses import half_width
from mountproof.answers.progress import Progress
from mountproof.answers.relation import Relation as RecordRelation
from mountproof.answers.relation import hold_together
from mountproof.answers.result import Answer, Quantity, Table, Verdict, Why
from mountproof.answers.scans import ArchScan, arch_scans
from mountproof.bench.pin import carried_pin_from_opening
from mountproof.case.model import Arch, Caliper, Case, Relation, Where
from mountproof.geometry.carry import Carried, from_covariance, measured, stack
from mountproof.geometry.closing import closing_map
from mountproof.geometry.contact import Contact, PairContact, first_contact, first_contacts_by_label
from mountproof.geometry.poses import Array
from mountproof.geometry.surface import moved, prepare
from mountproof.occlusion.change import carried_closing
from mountproof.occlusion.hidden import Hidden, hidden_contacts
from mountproof.occlusion.site_table import FOILS_UM, Pair, SiteTable
from mountproof.occlusion.sites import at_closure, place_teeth
from mountproof.said import capital, figure, joined, say, term

_SEATING_MM = 0.1
_SEATING_SOURCE = say(
    "0.10 to 0.17 mm back on the master, about 0.5 on casts: Int J Prosthodont 2003;16:365-368"
)
_CELL_MM = 0.1
#: Tooth pairs that meet later than this beyond first contact are not worth a line, mm along closure.
_LATEST_MM = 2.0
_MOST_ROWS = 12
#: Draws for the chance to be first: they leave a third of a percent of doubt at one in ten. The seed is fixed.
_DRAWS, _SEED = 20_000, 0
#: A first contact is sure, or likely, from these parts of such records on; rivals are named from the last. Our choice.
_SURE, _LIKELY, _WORTH_NAMING = 0.95, 0.80, 0.03
_DEG = 180.0 / math.pi
_SCAN_U_MM = 0.02
_SCAN_SOURCE = say("20 to 42 um in good conditions, J Oral Sci 2024;66:111-115")
_TRIM = (
    say("the casts trimmed where they touch beside the teeth"),
    say("something other than teeth meets first"),
    "scans",
)


class Closed(NamedTuple):
    """Two scans closed about the hinge from where a record holds them: what was read, and what meets."""

    relation: RecordRelation
    arches: dict[Arch, ArchScan]
    pose: Array
    evidence: ContactEvidence | None
    first: Contact | None
    pairs: tuple[PairContact, ...]


def close_scans(case: Case, ledger: Ledger, relation: RecordRelation, progress: Progress) -> Closed:
    """Close two scans about the hinge from where the record holds them. Raises FaultError where a scan cannot be used."""
    arches, pose = arch_scans(case, ledger, relation, progress)
    progress(0.6, say("closing about the hinge"))
    return Closed(relation, arches, pose, *_close(arches, pose, progress))


def scanned_contacts(case: Case, ledger: Ledger, closed: Closed) -> Answer:
    """Tell what meets."""
    evidence, first = closed.evidence, closed.first
    if first is None or evidence is None:
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.MISSING,
            say("no part of the two scans lies opposite the other about the hinge"),
        )
        ledger.need(
            say("the placement of both scans, looked at again"),
            say("they do not lie opposite each other"),
            "scans.placement",
        )
        return ledger.answer(say("The two scans do not meet about this hinge."), Verdict.CANNOT_TELL)
    return _tell(case, ledger, evidence, first, closed.pairs, left_open(case, ledger, closed, first))


def left_open(case: Case, ledger: Ledger, closed: Closed, first: Contact) -> Carried:
    """Return the small motion (6, rotation first) of the lower at first contact that record and placement leave open."""
    up, low = closed.arches[Arch.UPPER].placed, closed.arches[Arch.LOWER].placed
    return _record_cov(case, ledger) + placement_motion(
        up, low, closed.pose, first.closing_rad, together=hold_together(closed.relation, up, low)
    )


def _close(
    arches: dict[Arch, ArchScan], pose: Array, progress: Progress
) -> tuple[ContactEvidence | None, Contact | None, tuple[PairContact, ...]]:
    up, low = arches[Arch.UPPER], arches[Arch.LOWER]
    upper = prepare(up.vertices_mm, up.faces, arch="upper")
    lower = moved(prepare(low.vertices_mm, low.faces, arch="lower"), pose)
    first = first_contact(upper, lower)
    if first is None:
        return None, None, ()
    radius = math.hypot(first.point_mm[0], first.point_mm[1])
    pairs = first_contacts_by_label(
        upper, lower, up.teeth, low.teeth, within_rad=first.closing_rad + _LATEST_MM / radius
    )
    progress(0.75, say("mapping the gap"))
    chart = closing_map(upper, lower, cell_mm=_CELL_MM)
    sited = place_teeth(chart, upper, lower, up.teeth, low.teeth, pairs)
    table = at_closure(sited, first.closing_rad)
    evidence = ContactEvidence(sited, table, up.teeth, low.teeth, pose, (up.placed.how, low.placed.how))
    return evidence, first, pairs


def _record_cov(case: Case, ledger: Ledger) -> Carried:
    """Return the small motion (6, rotation first, about the hinge's middle) that one record leaves open.

    Both condyles stray independently by the same SD along each axis: half the variance is a shift, their difference
    over the width a turn. The turn about the hinge is the closing itself and stays out.
    """
    repeat = record_repeat(case, ledger)
    what = say("what seating a record on the casts adds at a condyle (1 SD an axis)")
    sd = math.hypot(repeat, ledger.assume(what, _SEATING_MM, "mm", _SEATING_SOURCE, "records"))
    if case.record_repeat_mm is None:
        ledger.need(
            say("three or more CR records, scanned or at the marks"),
            say("what a record leaves open is assumed so far"),
            "record_repeat_mm",
        )
    half = half_width(case, ledger)
    shift, turn = sd**2 / 2.0, sd**2 / (2.0 * half**2)
    return from_covariance(np.zeros(6), np.diag([turn, turn, 0.0, shift, shift, shift]), "assumed/record")


def _tell(
    case: Case,
    ledger: Ledger,
    evidence: ContactEvidence,
    first: Contact,
    pairs: tuple[PairContact, ...],
    motion: Carried,
) -> Answer:
    start = carried_closing(first, motion)
    radius = math.hypot(first.point_mm[0], first.point_mm[1])
    shown = evidence.table.pairs
    gaps = [(carried_closing(p.contact, motion) - start).times(_radius(p.contact)) for p in pairs]
    order = {(p.upper_label, p.lower_label): g for p, g in zip(pairs, gaps, strict=True)}
    ledger.quantity(
        "closing",
        say("closing from the record to first contact"),
        start,
        "deg",
        factor=180 / math.pi,
        decimals=3,
        assumed=True,
    )
    _pin_travel(case, ledger, start)
    leader = shown[0] if shown else None
    if leader is None:
        ledger.because(
            Verdict.DOUBTFUL,
            Why.BETWEEN,
            say("the first faces to meet carry no tooth number: gum, base or debris"),
        )
        ledger.need(*_TRIM)
        return ledger.answer(say("Something other than teeth meets first."), evidence=evidence)
    first_of_all = ""
    if leader.closing_rad > first.closing_rad:
        early = (leader.closing_rad - first.closing_rad) * radius
        ledger.because(
            Verdict.DOUBTFUL,
            Why.BETWEEN,
            say(
                "something without a tooth number meets {early:.2f} mm before the numbered teeth do: gum, base, "
                "debris, or a tooth that was not numbered",
                early=early,
            ),
        )
        ledger.need(*_TRIM)
        first_of_all = say(
            "Something without a tooth number meets first, {early:.2f} mm before the teeth.", early=early
        )
    chances = _chances(shown, pairs, motion)
    rivals = [p for p, chance in zip(shown[1:], chances[1:], strict=True) if chance >= _WORTH_NAMING]
    _pairs_table(case, ledger, shown, order, chances)
    _foil_table(case, ledger, evidence.table)
    _overlap(case, ledger, first, radius)
    headline = _headline(case, ledger, shown, chances, order)
    hiding = hidden_contacts(evidence.sited, first.closing_rad)
    _foil_check(case, ledger, leader, rivals, {t for h in hiding for t in (h.upper_tooth, h.lower_tooth)})
    if not leader.known:
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.UNKNOWN_SURFACE,
            say("a border of a scan lies where the first contact was found"),
        )
    _unknown(case, ledger, evidence.table)
    if first_of_all:
        headline = say("{before} Of the teeth: {first}", before=first_of_all, first=headline)
    if not hiding:
        return ledger.answer(capital(headline), evidence=evidence)
    hidden = _behind_a_hole(case, ledger, hiding)
    headline = say("{before} Of what was scanned: {first}", before=hidden, first=headline)
    disagrees = Verdict.DISAGREES in ledger.verdicts
    return ledger.answer(headline, Verdict.DISAGREES if disagrees else Verdict.CANNOT_TELL, evidence=evidence)


def _radius(contact: Contact) -> float:
    return math.hypot(contact.point_mm[0], contact.point_mm[1])


def _name(case: Case, pair: Pair) -> str:
    return f"{written(case, pair.upper_tooth)} / {written(case, pair.lower_tooth)}"


def _chances(shown: Sequence[Pair], pairs: Sequence[PairContact], motion: Carried) -> list[float]:
    """Return in what part of such records each pair would be the first to meet: draws of the motion, to first order."""
    by_name = {(p.upper_label, p.lower_label): p.contact for p in pairs}
    angles = stack([carried_closing(by_name[p.upper_tooth, p.lower_tooth], motion) for p in shown])
    rng = np.random.default_rng(_SEED)
    drawn = angles.values[:, None] + angles.parts @ rng.standard_normal((angles.parts.shape[1], _DRAWS))
    wins = np.bincount(np.argmin(drawn, axis=0), minlength=len(shown))
    return [float(n) / _DRAWS for n in wins]


def _headline(
    case: Case,
    ledger: Ledger,
    shown: Sequence[Pair],
    chances: Sequence[float],
    gap: dict[tuple[int, int], Carried],
) -> str:
    leader, chance = shown[0], chances[0]
    says = say("first contact in CR at {pair}", pair=_name(case, leader))
    if leader.upper_facing:
        says = say(
            "{contact} ({facing} incline of {tooth})",
            contact=says,
            facing=leader.upper_facing,
            tooth=written(case, leader.upper_tooth),
        )
    u = math.sqrt(chance * (1.0 - chance) / _DRAWS)
    ledger.quantities.append(
        Quantity.of(
            "first_chance", say("of such records, {pair} is first in", pair=_name(case, leader)), 100.0 * chance, "%", 100.0 * u,
            decimals=0, assumed=True, note=say("to first order"),
        )
    )  # fmt: skip
    if chance >= _SURE:
        verdict, why = Verdict.AGREES, Why.INSIDE
    elif chance >= _LIKELY:
        verdict, why = Verdict.DOUBTFUL, Why.BETWEEN
    else:
        verdict, why = Verdict.CANNOT_TELL, Why.GUARD_BAND
    ledger.because(
        verdict,
        why,
        say(
            "{pair} is the first in {count:.0f} of 100 records like this one (agrees from {sure:.0f} on, "
            "doubtful from {likely:.0f})",
            pair=_name(case, leader),
            count=100 * chance,
            sure=100 * _SURE,
            likely=100 * _LIKELY,
        ),
        value=100.0 * chance,
        limit=100.0 * _SURE,
        unit="%",
    )
    if len(shown) > 1:
        second = shown[1]
        g = gap[second.upper_tooth, second.lower_tooth]
        ledger.quantity(
            "runner_up",
            say("gap left at the next pair, {pair}", pair=_name(case, second)),
            g,
            "mm",
            assumed=True,
        )
        says += say("; next {pair}, {mm:.2f} mm along closure later", pair=_name(case, second), mm=g.value)
    if chance < _SURE:
        says += say("; first in {count:.0f} of 100 such records", count=100 * chance)
    return says


def _pairs_table(
    case: Case,
    ledger: Ledger,
    shown: Sequence[Pair],
    gap: dict[tuple[int, int], Carried],
    chances: Sequence[float],
) -> None:
    rows = []
    for n, pair in enumerate(shown[:_MOST_ROWS], start=1):
        g = gap[pair.upper_tooth, pair.lower_tooth]
        rows.append(
            (
                str(n),
                _name(case, pair),
                say("0, first")
                if n == 1
                else say("{mm:.3f} ± {twice:.2f}", mm=pair.remaining_along_closure_mm, twice=2 * g.u),
                figure(100 * chances[n - 1], ".0f"),
                figure(pair.remaining_along_normal_mm, ".3f"),
                pair.upper_facing,
                pair.lower_facing,
                "" if pair.known else say("at a hole"),
            )
        )
    ledger.tables.append(
        Table(
            say("Which teeth meet, in order"),
            (
                say("site"),
                say("upper / lower"),
                say("gap along closure mm"),
                say("first in %"),
                say("along normal mm"),
                say("upper incline"),
                say("lower incline"),
                "",
            ),
            tuple(rows),
            say(
                "Gap still open at first contact; ± 95 % and the chance to be first: from what one record leaves "
                "open."
            ),
        )
    )


def _foil_table(case: Case, ledger: Ledger, table: SiteTable) -> None:
    rows = tuple(
        (
            written(case, t.tooth),
            "-" if math.isnan(t.smallest_gap_mm) else figure(t.smallest_gap_mm, ".3f"),
            *(term(state) for state in t.state),
            figure(t.unknown_share, ".0%") if t.unknown_mm2 else "",
        )
        for t in table.teeth
    )
    ledger.tables.append(
        Table(
            say("Foil by tooth at first contact"),
            (
                say("tooth"),
                say("smallest gap mm"),
                *(say("{foil:g} um", foil=foil) for foil in FOILS_UM),
                say("unknown"),
            ),
            rows,
            say("holds: some place is closer than the foil. Stone and scans do not give; teeth do."),
        )
    )


def _overlap(case: Case, ledger: Ledger, first: Contact, radius: float) -> None:
    if first.closing_rad >= 0.0:
        return
    u = ledger.assume(say("noise of a scanned surface"), _SCAN_U_MM, "mm", _SCAN_SOURCE, "scans")
    depth = measured(-first.closing_rad * radius, u, "assumed/scan")
    ledger.quantity("overlap", say("the scans overlap in the record's pose by"), depth, "mm", assumed=True)
    judge_against(
        ledger, say("overlap of the scans in the record's pose"), depth.value, u, case.limits.scan_overlap
    )


def _pin_travel(case: Case, ledger: Ledger, start: Carried) -> None:
    """Say the same closing at the pin, where the instrument's lengths are known."""
    if case.instrument is None:
        return
    quiet = Ledger("contacts")
    pin = pin_input(case.instrument, Caliper(), quiet)
    travel = carried_pin_from_opening(pin.pin, start, pin.lengths)
    ledger.quantity(
        "closing_pin",
        say("the same closing at the pin, members parallel at first contact"),
        travel,
        "mm",
        assumed=True,
    )


_PLACES = {
    Where.MOUTH: say("in the mouth"),
    Where.MOUNTING: say("on the mounting"),
    Where.HAND: say("on the casts by hand"),
}


def _foil_check(case: Case, ledger: Ledger, leader: Pair, rivals: Sequence[Pair], hidden: set[int]) -> None:
    for foil in case.foils:
        if foil.relation is not Relation.CR or not foil.held:
            continue
        held = {iso(case, t) for t in foil.held}
        what = say("foil of {um:g} um held {place}", um=foil.thickness_um, place=_PLACES[foil.where])
        expected = hidden | {t for p in (leader, *rivals) for t in (p.upper_tooth, p.lower_tooth)}
        uppers = {t for t in held if t < 30 or 50 < t < 70} or held
        if uppers <= expected:
            ledger.because(
                Verdict.AGREES,
                Why.INSIDE,
                say("{what} where the scans first meet", what=what),
            )
        else:
            odd = joined(", ", (written(case, t) for t in sorted(uppers - expected)))
            ledger.because(
                Verdict.DISAGREES,
                Why.OUTSIDE,
                say("{what} at {teeth}, where the scans are open", what=what, teeth=odd),
            )
            ledger.need(
                say("foil at {teeth} once more, and the record's fit", teeth=odd),
                say("foil and scans do not say the same"),
                "foils",
            )


def _behind_a_hole(case: Case, ledger: Ledger, hiding: Sequence[Hidden]) -> str:
    """Say which holes may hide the first contact: then nobody can tell what meets first."""
    names = joined(
        ", ",
        dict.fromkeys(f"{written(case, h.upper_tooth)} / {written(case, h.lower_tooth)}" for h in hiding),
    )
    widest = hiding[0]
    ledger.because(
        Verdict.CANNOT_TELL,
        Why.UNKNOWN_SURFACE,
        say(
            "a hole of {width:.1f} mm at {pairs} may hide a contact that comes before the one found: at its "
            "rim the gap is {gap:.2f} mm",
            width=widest.width_mm,
            pairs=names,
            gap=widest.rim_gap_mm,
        ),
        value=widest.rim_gap_mm,
        unit="mm",
    )
    ledger.need(
        say("a scan that shows the surface at {pairs}", pairs=names),
        say("what meets first may lie in a hole"),
        "scans",
    )
    return say("What meets first cannot be told: a hole at {pairs} may hide it.", pairs=names)


def _unknown(case: Case, ledger: Ledger, table: SiteTable) -> None:
    hidden = [written(case, t.tooth) for t in table.teeth if t.unknown_mm2 > 0.0]
    if hidden:
        ledger.notes.append(
            say("Holes in the scans leave part of these teeth unknown: {teeth}.", teeth=joined(", ", hidden))
        )
