"""Question 8: which step makes most of the doubt, and which measurement would take most of it away. The parts stand apart."""

from __future__ import annotations

from typing import Final

from mountproof.answers import mounting, record
from mountproof.answers.axis_doubt import axis_doubt
from mountproof.answers.doubt_better import Known, tell_better, ways
from mountproof.answers.doubt_budget import Largest, budgets, ground_of, largest, tell_budget
from mountproof.answers.doubt_chain import CaseChain, chain_of
from mountproof.answers.doubt_checked import checked, choices_of, tell_checked, without_records
from mountproof.answers.doubt_engines import tell_engines
from mountproof.answers.doubt_numbers import others, tell_numbers
from mountproof.answers.followup import follow_up
from mountproof.answers.implants import held_to
from mountproof.answers.judging import judge_against
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import Cause, ContactChances, DoubtEvidence, Scatter
from mountproof.answers.progress import Progress, within
from mountproof.answers.result import K95, Answer, Table, Verdict, Why
from mountproof.answers.words import SOURCES
from mountproof.case.model import Arch, Case
from mountproof.doubt.hypotheses import NOTHING
from mountproof.faults import FaultError
from mountproof.said import capital, joined, say

#: Causes of question 4 that leave the mounting as it is.
_BESIDE: Final = ("other_", "scans")


def answer(case: Case, progress: Progress) -> Answer:
    """Take the doubt of the casts against the mouth apart, step by step, and rank what would lessen it."""
    ledger = Ledger("doubt")
    ledger.sources += [SOURCES["gum"]]
    answers = others(case, within(progress, 0.0, 0.6))
    page = _page(case, progress)
    chain = chain_of(case, ledger, page)
    ground = ground_of(case, chain)
    network = chain.chain.network
    aside = _standing_out(page, network.records)
    looks = without_records(chain.looks, network, aside)
    found = checked(ground, looks, choices_of(case, network, aside), aside)
    fault = _fault(answers)
    limiting = largest(ground, found.mean, found.cov)
    held = held_to(case, "mounting_whole")
    judge_against(
        ledger,
        say("height of the casts at the second molars against the mouth"),
        limiting.mean,
        limiting.u,
        held,
    )
    if all(t.assumed for t in chain.told) and not found.any:
        ledger.because(
            Verdict.CANNOT_TELL,
            Why.MISSING,
            say("no step of this case was measured: every figure here is that of an ordinary mounting"),
        )
    known = Known(found.cov, looks, tuple(aside))
    better = ways(case, ground, known, limiting.row)
    tell_budget(ground, found.mean, found.cov, ledger)
    tell_engines(ground, ledger)
    chances = _chances(case, ledger, chain, within(progress, 0.6, 0.4))
    tell_checked(ground, found, ledger)
    follow_up(case, chances, ledger, progress)
    pictures = tell_better(better, limiting, ground, held, ledger)
    tell_numbers(case, ground, found.cov, answers, axis_doubt(case, Ledger("doubt")).u_mm, ledger)
    _what_may_be_said(case, ledger)
    headline, line = _headline(limiting, fault)
    bars = budgets(ground, ground.joined.cov, found.cov)
    return ledger.answer(headline, evidence=DoubtEvidence(bars, pictures, chances, line))


def _page(case: Case, progress: Progress) -> Ledger:
    """Return all that questions 3 and 4 noted; a scan that cannot be used leaves its own out, and they say what to do."""
    page = Ledger("doubt")
    for noted in (record.noted_parts, mounting.noted_parts):
        try:
            page.take(noted(case, progress).ledger)
        except FaultError:
            continue
    return page


def _chances(case: Case, ledger: Ledger, chain: CaseChain, progress: Progress) -> ContactChances | None:
    """Return the chances of teeth where scans close; why scans cannot be used is told by question 5."""
    if {s.arch for s in case.scans} != set(Arch):
        return None
    # only now: what closes surfaces is slow to load
    from mountproof.answers import doubt_contacts

    try:
        return doubt_contacts.contacts(case, ledger, chain, progress)
    except FaultError:
        return None


def _standing_out(page: Ledger, records: tuple[str, ...]) -> tuple[str, ...]:
    """Return records that stand out from the others, but for the mounted one: its honest scatter is what is asked here."""
    odd = {p.outlier for p in page.pictures if isinstance(p, Scatter)}
    return tuple(r for r in records[1:] if r in odd)


def _fault(answers: dict[str, Answer]) -> Cause | None:
    """Return the cause that question 4 holds for likelier than nothing wrong, if it is one of the mounting."""
    evidence = answers["mounting"].evidence if "mounting" in answers else None
    causes: tuple[Cause, ...] = getattr(evidence, "causes", ())
    chance = next((c.chance for c in causes if c.key == NOTHING), 0.0)
    mounting = [c for c in causes if c.key != NOTHING and not any(c.key.startswith(b) for b in _BESIDE)]
    return next((c for c in mounting if c.chance > chance and c is causes[0]), None)


def _headline(limiting: Largest, fault: Cause | None) -> tuple[str, str]:
    """Return the headline, and its line on which step limits."""
    how_far = say("± {mm:.2f} mm", mm=K95 * limiting.u)
    if abs(limiting.mean) > limiting.u:
        how_far = say("{mean:+.2f} ± {mm:.2f} mm", mean=limiting.mean, mm=K95 * limiting.u)
    step, percent = limiting.step, 100.0 * limiting.share
    line = say("{percent:.0f} % of it from {step}", percent=percent, step=step.words)
    if step.assumed:
        line = say("{line}, never measured", line=line)
    parts = [
        say(
            "At the second molars the casts may stand off the mouth by {how_far}, {line}",
            how_far=how_far,
            line=line,
        )
    ]
    if fault is not None:
        first = say(
            "First see question 4: {cause} ({percent:.0f} %); what follows holds once that is put right",
            cause=fault.words,
            percent=100.0 * fault.chance,
        )
        parts.insert(0, first)
    return joined(". ", parts), capital(line)


def _what_may_be_said(case: Case, ledger: Ledger) -> None:
    """Note what readings of a caliper carry, and what only scans do."""
    yes, no = say("yes"), say("no")
    ledger.tables.append(
        Table(
            say("What may be said"),
            ("", say("by caliper"), say("by scans")),
            (
                (
                    say("how far the casts may stand off at molars and incisors, and which step makes it"),
                    yes,
                    yes,
                ),
                (say("the slide at the incisors, with its doubt"), say("with slanted pairs of marks"), yes),
                (say("the same at the condyles"), say("roughly: carried on by 50 to 90 mm"), yes),
                (
                    say("which teeth meet first"),
                    say("by foil only, without a chance"),
                    say("a chance for each tooth"),
                ),
                (say("gaps between teeth that do not meet"), no, say("each, with its doubt")),
            ),
        )
    )
