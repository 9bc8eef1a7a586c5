"""Part of question 3: whether a scanned record lies on both casts, and how well the relation it shows is known."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from mountproof.answers.finds import Found
from mountproof.answers.foils import written
from mountproof.answers.implants import at_implants, held_at, held_to
from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import ResidualMap
from mountproof.answers.progress import Progress, quiet, within
from mountproof.answers.result import Table, Verdict, Why
from mountproof.answers.scanned_records import placed_arches
from mountproof.case.model import Arch, Case, Record, RecordKind
from mountproof.geometry.poses import Array, point_cov
from mountproof.said import capital, figure, joined, say
from mountproof.teeth import side_of

if TYPE_CHECKING:  # these need compiled kernels, which are slow to import
    from mountproof.answers.laid_records import LaidRecord
    from mountproof.records.imprint_spots import Spot
    from mountproof.records.on_cast import ArchFit, ToothFit

#: Two sides of an honest record lie so far apart in fewer than one of a thousand.
_CHANCE = 1e-3
#: How far an SD is at the least that this program gives of a distance between two scans, mm.
_LEAST_U_MM = 0.005
#: A tooth at the end of the wax, on which less than this bears, says nothing of how the record lies, mm2.
_BEARS_MM2 = 1.0
#: A twist moves both imprints alike; where one moves less than this share of the other, it is that one's own.
_ALIKE = 0.4


def on_cast(case: Case, ledger: Ledger, progress: Progress = quiet) -> list[str]:
    """Judge every CR record that was scanned on both casts; return a sentence for each."""
    scanned = {n: r for n, r in case.records.items() if r.kind is RecordKind.CR and r.scan is not None}
    if not scanned or case.folder is None:
        return []
    placed = placed_arches(case, ledger)
    if placed is None:
        return []
    from mountproof.answers.laid_records import lay_record

    says = []
    for at, (name, record) in enumerate(scanned.items()):
        part = within(progress, at / len(scanned), 1.0 / len(scanned))
        laid = lay_record(case, ledger, name, record, placed, part)
        if laid is None:
            ledger.because(
                Verdict.CANNOT_TELL,
                Why.MISSING,
                say("where {record} lies on the casts is not known", record=name),
            )
            says.append(capital(say("where {record} lies on the casts is not known", record=name)))
            continue
        says.append(_one(case, ledger, name, record, laid))
    return says


def _one(case: Case, ledger: Ledger, name: str, record: Record, laid: LaidRecord) -> str:
    says: list[str] = []
    for arch in Arch:
        fit = laid.on.upper if arch is Arch.UPPER else laid.on.lower
        _table(case, ledger, name, arch, fit)
        _picture(case, ledger, name, arch, fit, laid)
        says += _stands_off(case, ledger, name, arch, fit, laid.joined)
        says += [_spot(case, ledger, name, arch, s, record) for s in fit.spots if s.kind != "hole"]
        _holes(case, ledger, arch, fit, name)
        says += _stops(case, ledger, name, arch, fit)
    says = [*_one_sided(case, ledger, name, laid), *_sides(case, ledger, name, laid), *says]
    _known(case, ledger, name, laid)
    if laid.joined:
        ledger.notes.append(
            say(
                "{record}: joined casts show how they stand, not how the record lies under them: voids and what it "
                "rides on stay unseen.",
                record=name,
            )
        )
    if says:
        return says[0]
    return capital(say("{record} lies on both casts", record=name))


def _stands_off(
    case: Case, ledger: Ledger, name: str, arch: Arch, fit: ArchFit, shows_casts: bool
) -> list[str]:
    """Judge how far the record stands off where it ought to bear: the tooth at which it does so most, and of implants."""
    seen = [t for t in fit.teeth if math.isfinite(t.gap_mm) and (shows_casts or t.bears_mm2 > _BEARS_MM2)]
    here = [t for t in seen if at_implants(case, (t.tooth,))]
    worst = [max(group, key=lambda t: abs(t.gap_mm)) for group in (seen, here) if group]
    if len(worst) > 1 and worst[0].tooth == worst[1].tooth:
        worst = worst[:1]
    return [text for one in worst for text in _farthest(case, ledger, name, arch, one)]


def _farthest(case: Case, ledger: Ledger, name: str, arch: Arch, worst: ToothFit) -> list[str]:
    verdict = judge_against(
        ledger,
        say(
            "{record} on the {arch} cast, farthest off at {tooth}:",
            record=name,
            arch=arch,
            tooth=written(case, worst.tooth),
        ),
        worst.gap_mm,
        math.hypot(worst.u_mm, _LEAST_U_MM),
        held_at(case, (worst.tooth,), case.limits.record_on_cast),
    )
    if verdict is Verdict.AGREES:
        return []
    return [
        capital(
            say(
                "{record} stands off the {arch} cast by {mm:.2f} mm at {tooth}",
                record=name,
                arch=arch,
                mm=abs(worst.gap_mm),
                tooth=written(case, worst.tooth),
            )
        )
    ]


def _words(spot: Spot, record: str, tooth: str) -> str:
    """Return what is wrong at one place, as a sentence."""
    mm, area = abs(spot.off_mm), spot.area_mm2
    if spot.kind == "void":
        return say(
            "{record} has a void at {tooth}: it stands {mm:.2f} mm off over {area:.1f} mm²",
            record=record,
            tooth=tooth,
            mm=mm,
            area=area,
        )
    if spot.kind == "bare":
        return say(
            "{record} shows no imprint of {tooth}: it stands {mm:.2f} mm off",
            record=record,
            tooth=tooth,
            mm=mm,
        )
    if spot.kind == "rides":
        return say(
            "{record} rides at {tooth}: something holds it {mm:.2f} mm off", record=record, tooth=tooth, mm=mm
        )
    if spot.kind == "gum":
        return say(
            "{record} bears on gum beside {tooth}, over {area:.1f} mm²", record=record, tooth=tooth, area=area
        )
    return say("{record} is perforated at {tooth}: teeth met through it", record=record, tooth=tooth)


def _spot(case: Case, ledger: Ledger, name: str, arch: Arch, spot: Spot, record: Record) -> str:
    """Judge one place of an imprint and say what to do about it."""
    tooth = written(case, spot.tooth)
    text = capital(_words(spot, name, tooth))
    entry = f"records.{name}"
    held = held_at(case, (spot.tooth,), case.limits.record_on_cast)
    beyond = spot.kind in ("rides", "gum") and abs(spot.off_mm) > held.limit.redo
    verdict = Verdict.DISAGREES if beyond or spot.kind == "gum" else Verdict.DOUBTFUL
    ledger.because(
        verdict,
        Why.OUTSIDE if verdict is Verdict.DISAGREES else Why.BETWEEN,
        held.says(text),
        value=abs(spot.off_mm),
        limit=held.limit.redo,
        unit="mm",
    )
    if spot.kind == "rides":
        ledger.need(
            say(
                "a look at {tooth} and its imprint: a crumb, a nodule or a fin; take it off, then scan again",
                tooth=tooth,
            ),
            text,
            entry,
        )
    elif spot.kind == "gum":
        ledger.need(
            say("trim {record} back to the tips of the teeth, then scan it again", record=name), text, entry
        )
        amount = np.array([max(spot.area_mm2, 1.0)])
        ledger.finds.append(Found("soft_tissue", text, ("amount",), amount, np.array([[0.01]]), name))
    elif spot.kind == "perforated":
        ledger.need(say("a thicker record, so that no teeth meet through it"), text, entry)
    else:
        ledger.need(say("a new record, or this one filled at {tooth} in the mouth", tooth=tooth), text, entry)
    return text


def _holes(case: Case, ledger: Ledger, arch: Arch, fit: ArchFit, name: str) -> None:
    holes = [written(case, s.tooth) for s in fit.spots if s.kind == "hole"]
    if holes:
        ledger.notes.append(
            say(
                "The scan of {record} has holes at {teeth} of the {arch} cast: what bears there is not known.",
                record=name,
                teeth=joined(", ", holes),
                arch=arch,
            )
        )


def _stops(case: Case, ledger: Ledger, name: str, arch: Arch, fit: ArchFit) -> list[str]:
    """Judge how an error at what bears grows at the teeth that lie away from it."""
    if fit.stops is None:
        return []
    at = int(np.argmax(fit.stops.growth))
    growth, tooth = float(fit.stops.growth[at]), written(case, fit.teeth[at].tooth)
    text = say(
        "{record} on the {arch} cast: an error where it bears grows at {tooth}",
        record=name,
        arch=arch,
        tooth=tooth,
    )
    ledger.finds.append(
        Found("stops", text, ("amount",), np.array([min(growth, 1e3)]), np.array([[1e-4]]), name)
    )
    if not math.isfinite(growth):
        line = say(
            "{record} bears on the {arch} cast in a line: nothing stops it from tipping",
            record=name,
            arch=arch,
        )
        ledger.because(Verdict.DISAGREES, Why.NOT_CARRIED, line)
        _more_stops(ledger, name, tooth, line)
        return [line]
    if judge_against(ledger, text, growth, 0.0, case.limits.stop_amplification, 1) is Verdict.AGREES:
        return []
    _more_stops(ledger, name, tooth, text)
    return [
        say(
            "What {record} bears on does not hold {tooth}: errors grow {times:.1f} times",
            record=name,
            tooth=tooth,
            times=growth,
        )
    ]


def _more_stops(ledger: Ledger, name: str, tooth: str, why: str) -> None:
    ledger.need(say("a record that also bears near {tooth}", tooth=tooth), why, f"records.{name}")


def _right(teeth: tuple[ToothFit, ...], right: bool) -> list[ToothFit]:
    seen = [t for t in teeth if math.isfinite(t.gap_mm)]
    return [t for t in seen if (side_of(t.tooth) == "right") is right]


class _Off(NamedTuple):
    """How far the right side of a record is off a cast when its left is down: where it is most, and at the hindmost tooth."""

    far_mm: float
    u_mm: float
    tooth: str
    p_value: float
    back_mm: float
    back_u_mm: float
    aside_mm: float


def _sides(case: Case, ledger: Ledger, name: str, laid: LaidRecord) -> list[str]:
    """Judge whether both sides of a record go together: a fit of the whole makes little of a twist."""
    held = held_to(case, "record_on_cast")
    limit = held.limit
    off: dict[Arch, _Off] = {}
    for arch in Arch:
        fit = laid.on.upper if arch is Arch.UPPER else laid.on.lower
        right = _right(fit.teeth, True)
        if fit.halves is None or not right:
            continue
        bite = np.array([0.0, -1.0 if arch is Arch.UPPER else 1.0, 0.0])
        fars, us = fit.halves.off_mm([t.at_mm for t in right], "right", bite)
        k = int(np.argmax(np.abs(fars)))
        back = int(np.argmin([t.at_mm[0] for t in right]))
        off[arch] = _Off(
            float(fars[k]),
            float(us[k]),
            written(case, right[k].tooth),
            fit.halves.p_value,
            float(fars[back]),
            float(us[back]),
            right[back].at_mm[2] - fit.middle_z_mm,
        )
    if len(off) == len(Arch):
        _roll(ledger, name, off)
    apart = {
        a: o for a, o in off.items() if o.p_value < _CHANCE and abs(o.far_mm) - 2.0 * o.u_mm > limit.decent
    }
    if not apart:
        for arch, one in off.items():
            ledger.notes.append(
                say(
                    "Right and left of {record} go together on the {arch} cast: with the left down, {tooth} is off by "
                    "{mm:.2f} ± {twice:.2f} mm.",
                    record=name,
                    arch=arch,
                    tooth=one.tooth,
                    mm=abs(one.far_mm),
                    twice=2.0 * one.u_mm,
                )
            )
        return []
    arch = max(apart, key=lambda a: abs(apart[a].far_mm))
    most = apart[arch]
    backs = [o.back_mm for o in apart.values()]
    # A twist carries the same wax towards one cast and away from the other.
    alike = len(apart) == len(Arch) and backs[0] * backs[1] < 0.0
    alike = alike and min(map(abs, backs)) > _ALIKE * max(map(abs, backs))
    if laid.joined:
        what = say(
            "right and left of the scan of {record} do not go together: with the left on the {arch} cast, {tooth} is off by",
            record=name,
            arch=arch,
            tooth=most.tooth,
        )
        todo = say("the joined casts scanned again, from side to side in one go")
        says = say(
            "right and left of the scan of {record} do not go together by {mm:.2f} mm",
            record=name,
            mm=abs(most.far_mm),
        )
    elif alike:
        what = say(
            "{record} is twisted: with its left down on the {arch} cast, {tooth} is off by",
            record=name,
            arch=arch,
            tooth=most.tooth,
        )
        todo = say("a new record, kept cool and flat until it is on the casts")
        says = say("{record} is twisted by {mm:.2f} mm from side to side", record=name, mm=abs(most.far_mm))
    else:
        what = say(
            "{record} rocks on the {arch} cast: with its left down, {tooth} is off by",
            record=name,
            arch=arch,
            tooth=most.tooth,
        )
        todo = say("a look at the imprints of one side of the {arch} arch, then a new record", arch=arch)
        says = say(
            "{record} rocks on the {arch} cast: {mm:.2f} mm from side to side",
            record=name,
            arch=arch,
            mm=abs(most.far_mm),
        )
    # Chance does not do this, so it is there; how large it is, the deformed halves themselves leave more open.
    beyond = abs(most.far_mm) > limit.redo
    ledger.because(
        Verdict.DISAGREES if beyond else Verdict.DOUBTFUL,
        Why.OUTSIDE if beyond else Why.BETWEEN,
        held.says(
            say("{what} {mm:.2f} ± {twice:.2f} mm", what=what, mm=abs(most.far_mm), twice=2.0 * most.u_mm)
        ),
        value=abs(most.far_mm),
        u=most.u_mm,
        limit=limit.redo,
        unit="mm",
    )
    ledger.need(todo, what, f"records.{name}")
    return [capital(says)]


def _roll(ledger: Ledger, name: str, off: dict[Arch, _Off]) -> None:
    """Note how far the lower rolls if the record sits half way between both sides: a twist alone rolls nothing."""
    width = 2.0 * max(10.0, float(np.mean([o.aside_mm for o in off.values()])))
    roll = 0.5 * sum(o.back_mm for o in off.values()) / width
    sd = 0.5 * math.hypot(*(o.back_u_mm for o in off.values())) / width
    words = say("{record} laid on both casts, right against left", record=name)
    ledger.finds.append(Found("on_cast", words, ("roll",), np.array([roll]), np.array([[sd**2]]), name))


def _one_sided(case: Case, ledger: Ledger, name: str, laid: LaidRecord) -> list[str]:
    """Say what a scan of one side leaves open on the other: far more than its own residuals show."""
    only = laid.on.upper.only or laid.on.lower.only
    if only is None:
        return []
    there = laid.on.upper
    far = [t for t in there.teeth if side_of(t.tooth) != only]
    if not far:
        return []
    places = np.array([t.at_mm for t in far])
    u = _height_u(laid.on.cov6, places)
    k = int(np.argmax(u))
    residual = there.laid.found.sd_mm
    where = say("right side") if only == "right" else say("left side")
    ledger.because(
        Verdict.CANNOT_TELL,
        Why.NOT_CARRIED,
        say(
            "only the {side} of {record} was scanned: the other side follows from it to ± {twice:.2f} mm at {tooth}, "
            "though the scan itself fits to {residual:.3f} mm, and a twist would not show at all",
            side=where,
            record=name,
            twice=2.0 * float(u[k]),
            tooth=written(case, far[k].tooth),
            residual=residual,
        ),
        value=2.0 * float(u[k]),
        unit="mm",
    )
    ledger.need(
        say("the other side of {record}, in the same scan", record=name),
        say("one side alone lets the other roll"),
        f"records.{name}.scan",
    )
    return [
        capital(
            say(
                "{record} was scanned on the {side} only, which does not hold the other side",
                record=name,
                side=where,
            )
        )
    ]


def _height_u(cov6: Array, places: Array) -> Array:
    out: Array = np.sqrt(point_cov(cov6, places)[:, 1, 1])
    return out


def _known(case: Case, ledger: Ledger, name: str, laid: LaidRecord) -> None:
    """Note how well the relation is known at the tooth where it is known least, and the motion held least."""
    teeth = laid.on.upper.teeth
    if not teeth:
        return
    cov = point_cov(laid.on.cov6, np.array([t.at_mm for t in teeth]))
    u = np.sqrt(np.einsum("nii->n", cov) / 3.0)
    k = int(np.argmax(u))
    ledger.notes.append(
        say(
            "The relation by the scan of {record} is known to {mm:.3f} mm (SD of one axis) at {tooth}, where it is known least.",
            record=name,
            mm=float(u[k]),
            tooth=written(case, teeth[k].tooth),
        )
    )
    fit = max((laid.on.upper, laid.on.lower), key=lambda f: f.loosest.sd_mm)
    ledger.notes.append(
        say(
            "{record} is held least {way}: {mm:.3f} mm (1 SD).",
            record=name,
            way=_WAY[fit.loosest.way],
            mm=fit.loosest.sd_mm,
        )
    )


_WAY = {
    "roll": say("against rolling from side to side"),
    "yaw": say("against turning seen from above"),
    "pitch": say("against tipping front to back"),
    "ahead": say("against sliding fore and aft"),
    "up": say("against rising"),
    "aside": say("against sliding sideways"),
}


def _table(case: Case, ledger: Ledger, name: str, arch: Arch, fit: ArchFit) -> None:
    growth = (
        {t.tooth: g for t, g in zip(fit.teeth, fit.stops.growth, strict=True)}
        if fit.stops is not None
        else {}
    )
    rows = tuple(
        (
            written(case, t.tooth),
            figure(t.gap_mm, "+.2f") if math.isfinite(t.gap_mm) else "",
            figure(t.bears_mm2, ".1f"),
            figure(growth[t.tooth], ".1f") if math.isfinite(growth.get(t.tooth, math.inf)) else "",
        )
        for t in fit.teeth
    )
    ledger.tables.append(
        Table(
            say("{record} on the {arch} cast", record=name, arch=arch),
            (say("tooth"), say("stands off, mm"), say("bears, mm²"), say("error grows, times")),
            rows,
        )
    )


def _picture(case: Case, ledger: Ledger, name: str, arch: Arch, fit: ArchFit, laid: LaidRecord) -> None:
    cast = laid.casts[arch.value]
    spots = tuple((_short(s.kind, written(case, s.tooth)), s.at_mm) for s in fit.spots)
    ledger.pictures.append(
        ResidualMap(name, arch.value, cast.vertices_mm, cast.faces, cast.teeth, fit.gap_mm, spots)
    )


def _short(kind: str, tooth: str) -> str:
    """Return what is at one place, in a word or two for a picture."""
    words = {
        "void": say("void at {tooth}", tooth=tooth),
        "bare": say("no imprint of {tooth}", tooth=tooth),
        "rides": say("rides at {tooth}", tooth=tooth),
        "gum": say("on gum beside {tooth}", tooth=tooth),
        "perforated": say("perforated at {tooth}", tooth=tooth),
        "hole": say("hole in the scan at {tooth}", tooth=tooth),
    }
    return words[kind]
