"""The orderly steps of one case with their scatter: own numbers where there are some, else usual bands, each with its source."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from mountproof.answers.bench_inputs import caliper_sd, record_repeat
from mountproof.answers.doubt_bench_steps import bench_steps
from mountproof.answers.doubt_priors import Made, StepTold, number, own_or, source_of
from mountproof.answers.doubt_scan_steps import scan_steps
from mountproof.answers.doubt_transfer_steps import facebow
from mountproof.answers.ledger import Ledger
from mountproof.answers.poses import half_width
from mountproof.answers.proof_checks import checks_of
from mountproof.answers.proof_finds import gathered_finds, record_look
from mountproof.answers.proof_model import closing_of, records_of, seat_sd, stops_of
from mountproof.case.model import Case
from mountproof.doubt.causes import Look
from mountproof.doubt.chain import Chain, ChainStep, chain
from mountproof.doubt.network import Network
from mountproof.doubt.step_kinds import material_step, stops_step, visit_step
from mountproof.doubt.steps import BANDS, USUAL_STOPS_MM, Step, free_step, play_step, record_step
from mountproof.said import joined, say

__all__ = ["CaseChain", "StepTold", "chain_of"]

#: Another visit adds as much again as records of one sitting differ: together 0.14 mm.
_VISIT_MM: Final = 0.1
#: Middle of the 24 to 74 um by which jaws close too little through a record, and half that band over sqrt(3).
_MATERIAL_MM: Final = 0.05
_SUPPORT_PART: Final = 0.3


class CaseChain(NamedTuple):
    """The chain of a case, how each step is told, the closing (rad), half the hinge's width (mm), and what checks read."""

    chain: Chain
    told: tuple[StepTold, ...]
    closing_rad: float
    half_mm: float
    looks: tuple[Look, ...]


def chain_of(case: Case, ledger: Ledger, found: Ledger | None = None) -> CaseChain:
    """Return the chain; every value that nobody entered is noted on ``ledger`` as assumed, with source and entry.

    ``found`` is a page on which the parts of questions 3 and 4 noted what they found; without it no check is read. The
    looks are in the order of the page.
    """
    half = half_width(case, ledger)
    closing = closing_of(case, ledger)
    names = records_of(case)
    page = found if found is not None else Ledger("record")
    made: list[Made] = [
        _record(case, ledger, names, half),
        _visit(case, ledger, names, half),
        _material(case, ledger, names),
        _seat(case, ledger, names, page),
        facebow(case, ledger, closing, half),
        *bench_steps(case, ledger, measured=_movement_measured(page)),
        _play(case, ledger, half),
        _casts(case, ledger),
        *scan_steps(case, ledger, names),
        *_readings(case, ledger),
    ]
    whole = chain(names, [step for one in made for step in one.steps])
    looks = _looks(case, found, whole.network, half)
    return CaseChain(whole, tuple(one.told for one in made), closing, half, looks)


def _looks(case: Case, found: Ledger | None, network: Network, half_mm: float) -> tuple[Look, ...]:
    if found is None:
        return ()
    page = found.copied()
    page.finds[:] = [f for f in page.finds if f.key != "repeats"]  # the records together are one look, below
    looks = checks_of(case, gathered_finds(case, page, Ledger("record")), network, half_mm).looks
    records = record_look(case, network, half_mm)
    return looks if records is None else (*looks, records)


def _movement_measured(page: Ledger) -> bool:
    return any(f.key == "set_movement" for f in page.finds) or any(q.key == "lift" for q in page.quantities)


def _record(case: Case, ledger: Ledger, names: tuple[str, ...], half: float) -> Made:
    sd = record_repeat(case, ledger)
    dof = float(case.record_repeat_dof) if case.record_repeat_dof is not None else math.inf
    assumed = case.record_repeat_mm is None
    source = say("own repeats")
    if assumed:
        source, dof = say("0.1 to 0.3 mm; common practice, no source"), math.inf
    elif case.record_repeat_dof is not None:
        source = say("own repeats, {dof} degrees of freedom", dof=case.record_repeat_dof)
    labels = (
        say("right condyle, height"),
        say("left condyle, height"),
        say("right condyle, fore-aft"),
        say("left condyle, fore-aft"),
        say("both to the side"),
    )
    told = StepTold(
        "record",
        say("how the record holds the jaw"),
        tuple((label, sd, "mm") for label in labels),
        source,
        assumed,
        "record_repeat_mm",
    )
    steps = [
        ChainStep("record" if k == 0 else f"record/{k}", f"record/{k}", record_step(sd, half), dof)
        for k in range(len(names))
    ]
    return Made(tuple(steps), told)


def _visit(case: Case, ledger: Ledger, names: tuple[str, ...], half: float) -> Made:
    sd, assumed = case.visit_repeat_mm, False
    source = say("own visits")
    if sd is None:
        assumed = True
        source = say(
            "with 0.1 mm within a sitting this makes 0.14 mm; 0.12 to 0.25 mm were found with three examiners "
            "(Eur J Prosthodont Restor Dent 2004;12:125-8)"
        )
        what = say("what another visit adds at a condyle (1 SD an axis)")
        sd = ledger.assume(what, _VISIT_MM, "mm", source, "visit_repeat_mm")
    visits = [case.records[n].visit if n in case.records else "" for n in names]
    step = visit_step(sd, half)
    steps = _together("visit", "record", visits, [step] * len(names))
    words = say("what the visit has of its own, in every record taken then")
    return Made(
        steps,
        StepTold("visit", words, ((say("each condyle"), sd, "mm"),), source, assumed, "visit_repeat_mm"),
    )


def _together(key: str, block: str, groups: list[str], steps: list[Step]) -> tuple[ChainStep, ...]:
    """Return one step for each group of records that share it; a group without a name is that of the mounted record."""
    names = [g or groups[0] for g in groups]
    out = []
    for name in dict.fromkeys(names):
        own = [k for k, g in enumerate(names) if g == name]
        first, *also = own
        out.append(
            ChainStep(
                key if first == 0 else f"{key}/{first}",
                f"{block}/{first}",
                steps[first],
                also=tuple(f"{block}/{k}" for k in also),
            )
        )
    return tuple(out)


def _stops(case: Case, name: str) -> tuple[tuple[float, float], ...]:
    own = tuple((s.ahead_mm, s.right_mm) for s in stops_of(case, name))
    return own or USUAL_STOPS_MM


def _material(case: Case, ledger: Ledger, names: tuple[str, ...]) -> Made:
    known = own_or(
        case,
        ledger,
        "material_mm",
        say("by how much the material of a record keeps the casts apart"),
        _MATERIAL_MM,
        say("jaws closed 0.024 to 0.074 mm too little through a record (Vergos & Tripodakis 2003)"),
    )
    support = _SUPPORT_PART * known.sd
    materials = [case.records[n].material if n in case.records else "" for n in names]
    # one thickness for all records of one material, as if all bore where the mounted one does
    step = material_step(known.sd, support, _stops(case, names[0]))
    steps = _together("material", "seat", materials, [step] * len(names))
    told = StepTold(
        "material",
        say("thickness that the record's material keeps off"),
        (
            (say("evenly"), known.sd, "mm"),
            (say("at each stop by itself"), support, "mm"),
        ),
        known.source,
        known.assumed,
        "doubt.material_mm",
    )
    return Made(steps, told)


def _seat(case: Case, ledger: Ledger, names: tuple[str, ...], page: Ledger) -> Made:
    own = case.doubt.seat_mm
    if own is not None:
        sd, source, assumed = own, source_of(case, "seat_mm"), False
    else:
        before = len(ledger.assumptions)
        sd = seat_sd(case, ledger, page)
        assumed = len(ledger.assumptions) > before
        source = BANDS["seat"].source if assumed else say("re-seating in this case, reading taken out")
    stops = _stops(case, names[0])
    steps = [ChainStep("seat", "seat/0", stops_step("seat", sd, stops))]
    steps += [
        ChainStep(f"seat/{k}", f"seat/{k}", stops_step("seat", sd, _stops(case, name)))
        for k, name in enumerate(names)
        if k
    ]
    told = StepTold(
        "seat",
        say("how the record lies on the casts"),
        ((say("at each stop"), sd, "mm"), (say("slide"), 0.5 * sd, "mm")),
        source,
        assumed,
        "marks.reseat_mm" if own is None else "doubt.seat_mm",
    )
    return Made(tuple(steps), told)


def _play(case: Case, ledger: Ledger, half: float) -> Made:
    sd = case.instrument.play_mm if case.instrument is not None else None
    assumed, source = sd is None, say("measured on this articulator")
    if sd is None:
        band = BANDS["play"]
        source = band.source
        what = say("play of the locked condylar elements (1 SD)")
        sd = ledger.assume(what, band.sd_mm, "mm", band.source, "instrument.play_mm")
    words = say("play of the articulator")
    told = StepTold("play", words, ((say("each element"), sd, "mm"),), source, assumed, "instrument.play_mm")
    return Made((ChainStep("play", "play", play_step(sd, half)),), told)


def _casts(case: Case, ledger: Ledger) -> Made:
    what, band = say("what orderly casts are off by where they meet"), BANDS["cast"]
    known = own_or(case, ledger, "casts_mm", what, band.sd_mm, band.source)
    words = say("the casts themselves")
    numbers = ((say("at the last teeth"), known.sd, "mm"),)
    step = ChainStep("casts", "cast", free_step("cast", known.sd))
    return Made((step,), StepTold("casts", words, numbers, known.source, known.assumed, "doubt.casts_mm"))


def _readings(case: Case, ledger: Ledger) -> list[Made]:
    """Return what moves no cast: what the mouth gives, what tools read, and the shape of the casts, for the checks."""
    out = [
        _number(
            ledger,
            "mouth",
            say("how far teeth give in the mouth"),
            "",
            free_step("mouth", BANDS["mouth"].sd_mm),
        ),
        _number(ledger, "width", say("width of an arch, cast against mouth"), "casts.widths"),
        _number(ledger, "twist", say("twist of a cast"), "casts.other_scans"),
        _number(ledger, "pin", say("what the pin reads"), "instrument.pin.calibration"),
    ]
    cells = case.marks.readings_mm.cells() if case.marks is not None else ()
    page = Ledger(ledger.key)
    sd, _ = caliper_sd(case.caliper, cells, page)
    ledger.assumptions += page.assumptions
    assumed = any(a.field == "caliper.sd_mm" for a in page.assumptions)
    source = say("common practice, no source") if assumed else say("own readings")
    told = StepTold(
        "caliper",
        say("what the caliper reads"),
        ((say("one reading"), sd, "mm"),),
        joined("; ", (source, say("it enters through each number's own uncertainty"))),
        assumed,
        "caliper.sd_mm",
    )
    return [*out, Made((), told)]


def _number(ledger: Ledger, key: str, words: str, entry: str, step: Step | None = None) -> Made:
    band = BANDS[key]
    ledger.assume(say("{what} (1 SD)", what=words), band.sd_mm, "mm", band.source, entry)
    one = number(key, band.sd_mm) if step is None else step
    told = StepTold(key, words, ((say("scatter"), band.sd_mm, "mm"),), band.source, True, entry)
    return Made((ChainStep(key, key, one),), told)
