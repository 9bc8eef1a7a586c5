"""Part of question 4, the last: all checks joined to one judgement, ranked causes, how often it errs, and the next check."""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np

from mountproof.answers import record
from mountproof.answers.implants import Held, held_to
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import Cause
from mountproof.answers.poses import half_width
from mountproof.answers.progress import Progress
from mountproof.answers.proof_attempts import attempts
from mountproof.answers.proof_causes import TELLS, Weighing, cause_rows, causes_table, ranked, tell_cause
from mountproof.answers.proof_checks import checks_of
from mountproof.answers.proof_finds import gathered_finds, record_look
from mountproof.answers.proof_model import Model, model_of
from mountproof.answers.proof_next import candidates
from mountproof.answers.proof_scans import tell_scans, weighed_scans
from mountproof.answers.proof_words import CAUSES, next_check
from mountproof.answers.result import Need, Quantity, Table, Verdict, Why
from mountproof.answers.told_apart import Told
from mountproof.answers.words import BY_KEY
from mountproof.case.limits import Limit
from mountproof.case.model import Case
from mountproof.doubt.causes import Target
from mountproof.doubt.design import Design, rounded
from mountproof.doubt.faults import INCISORS_MM, MOLAR_MM
from mountproof.doubt.hypotheses import likeliest
from mountproof.doubt.motions import at_place
from mountproof.doubt.network import JUDGED, OF_MOUNTING, SHOWN, Network
from mountproof.doubt.next_check import worth_of
from mountproof.doubt.rates import Rates, verdict_rates
from mountproof.doubt.verdicts import VERDICTS, mixture_interval, mixture_moments, mixture_verdicts
from mountproof.doubt.weighing import Checks, Weighed, join_targets, weigh
from mountproof.faults import FaultError
from mountproof.geometry.poses import Array
from mountproof.said import say

_PLACES: Final = (
    ("right", say("second molar right"), MOLAR_MM),
    ("left", say("second molar left"), (MOLAR_MM[0], MOLAR_MM[1], -MOLAR_MM[2])),
    ("front", say("incisors"), INCISORS_MM),
)
_WHY: Final = {
    Verdict.AGREES: Why.INSIDE,
    Verdict.DOUBTFUL: Why.BETWEEN,
    Verdict.DISAGREES: Why.OUTSIDE,
    Verdict.CANNOT_TELL: Why.GUARD_BAND,
}
#: Seed of the simulated verdicts: the same case gives the same rates.
_SEED: Final = 20170417
#: A check that raises the chance of naming the right cause by less than this is not worth being asked for.
_WORTH: Final = 0.02
#: Hypotheses that simulated verdicts go by.
_FEW: Final = 250


class Proof(NamedTuple):
    """What the weighing gives: the model, the checks, and the hypotheses weighed with both wanted sets of numbers."""

    model: Model
    checks: Checks
    weighed: Weighed
    judged: Target


def targets(network: Network) -> tuple[Target, Target]:
    """Return the wanted numbers (9 rows: down, ahead, right at three places) of the mounting, and against the mouth.

    The mounting is judged by what it added to its record (seat, set, instrument), and by every fault of these and of the
    record; casts, axis and the honest scatter of the record count only against the mouth.
    """
    j = np.concatenate([at_place(at) for _, _, at in _PLACES])
    own, judged, shown = (j @ network.pick(*blocks) for blocks in (OF_MOUNTING, JUDGED, SHOWN))
    return (
        Target(own @ network.honest, judged @ network.faults),
        Target(shown @ network.honest, shown @ network.faults),
    )


def weighed_proof(case: Case, ledger: Ledger, progress: Progress) -> Proof | None:
    """Weigh all checks of a case; None where there is none."""
    try:
        page = record.noted_parts(case, progress).ledger.copied()
    except FaultError:  # a scan of a record that cannot be used: question 3 says what to do
        page = Ledger("record")
    finds = gathered_finds(case, ledger, page)
    half = half_width(case, Ledger("mounting"))
    model = model_of(case, ledger if finds or case.proof.seatings else Ledger("mounting"), page)
    checks = checks_of(case, finds, model.network, half)
    look = record_look(case, model.network, half)
    if look is not None:
        checks = checks._replace(looks=(*checks.looks, look))
    if not (checks.looks or checks.choices or checks.directs):
        return None
    judged, mouth = targets(model.network)
    weighed = weigh(model.network.honest_cov, model.hypotheses, checks, join_targets(judged, mouth))
    return Proof(model, checks, weighed, judged)


def proof(case: Case, ledger: Ledger, progress: Progress) -> list[str]:
    """Join everything that was checked; return what it comes to, the most decisive first."""
    reads = tuple(part for part in BY_KEY["mounting"].reads if part not in _NOT_WEIGHED)
    noted = _noted(Told(case, reads, progress, ledger))
    ledger.take(noted.ledger)
    return list(noted.says)


#: Parts of the case that question 4 reads for its gates, and no check is made of.
_NOT_WEIGHED: Final = ("bench", "pours", "procedure")


@lru_cache(maxsize=8)
def _noted(told: Told) -> record.Noted:
    page = told.page
    ledger = Ledger(
        "mounting",
        finds=list(page.finds),
        quantities=list(page.quantities),
        verdicts=list(page.verdicts),
    )
    says = _proof(told.case, ledger, told.progress)
    del ledger.finds[: len(page.finds)], ledger.quantities[: len(page.quantities)]
    del ledger.verdicts[: len(page.verdicts)]
    return record.Noted(ledger, tuple(says))


def _proof(case: Case, ledger: Ledger, progress: Progress) -> list[str]:
    scans = weighed_scans(case, TELLS)
    found = weighed_proof(case, ledger, progress)
    if found is None:
        causes_table(cause_rows(None, scans), ledger)
        return [*tell_scans(scans, ledger), *attempts(case, ledger, None)]
    held = held_to(case, "mounting_whole")
    limit = held.limit
    rates = _rates(found, limit)
    w = found.weighed
    ends = mixture_interval(w.weights[None], w.mean[None], w.sd[None])
    verdict = _judge(found, held, ends, ledger)
    _error_tables(found, ends, ledger)
    _say_rates(rates, limit, ledger)
    causes = Weighing(found.model, found.checks, found.weighed)
    causes_table(cause_rows(causes, scans), ledger)
    says = tell_cause(causes, scans, ledger)
    _next(case, found, ledger)
    says = [*tell_scans(scans, ledger), *says]
    return [*says, *_verdict_words(verdict), *attempts(case, ledger, rates)]


def _rates(found: Proof, limit: Limit) -> Rates:
    # How often the verdict errs hangs on which checks were made, and how well, not on what they read.
    looks = tuple(
        one._replace(values=np.zeros_like(one.values), cov=rounded(one.cov)) for one in found.checks.looks
    )
    choices = tuple(one._replace(found=0) for one in found.checks.choices)
    directs = tuple(one._replace(seen=True) for one in found.checks.directs)
    few = likeliest(found.model.hypotheses, _FEW)
    return _simulated(
        Design(
            found.model.network.honest_cov,
            few,
            Checks(looks, choices, directs),
            found.judged,
            (limit.decent, limit.redo),
        )
    )


@lru_cache(maxsize=16)
def _simulated(design: Design) -> Rates:
    honest_cov, few, checks, judged, limits = design.parts
    draws = 500 if checks.choices else 1000  # ways of seating cost one hypothesis at a time
    return verdict_rates(honest_cov, few, checks, judged, limits, np.random.default_rng(_SEED), draws)


def _judge(found: Proof, held: Held, ends: tuple[Array, Array], ledger: Ledger) -> Verdict:
    w, r, limit = found.weighed, found.judged.honest.shape[0], held.limit
    index = mixture_verdicts(
        w.weights[None], w.mean[None, :, :r], w.sd[None, :, :r], limit.decent, limit.redo
    )[0]
    verdict = Verdict(VERDICTS[int(index)])
    low, high = ends[0][:, :r], ends[1][:, :r]
    worst = int(np.argmax(np.maximum(np.abs(low[0]), np.abs(high[0]))))
    place = _PLACES[worst // 3][1]
    ledger.because(
        verdict,
        _WHY[verdict],
        held.says(
            say(
                "all checks weighed together: the mounting is off by {low:+.2f} to {high:+.2f} mm where it is known "
                "least, {way} at {place} (agrees up to {decent:g} mm, redo above {redo:g} mm)",
                low=float(low[0, worst]),
                high=float(high[0, worst]),
                way=_WAYS[worst % 3],
                place=place,
                decent=limit.decent,
                redo=limit.redo,
            )
        ),
        limit=limit.decent,
        unit="mm",
    )
    return verdict


_WAYS: Final = (say("down"), say("ahead"), say("to the right"))


def _error_tables(found: Proof, ends: tuple[Array, Array], ledger: Ledger) -> None:
    w = found.weighed
    mean, sd = mixture_moments(w.weights[None], w.mean[None], w.sd[None])
    low, high = ends
    for i, (key, words, _) in enumerate(_PLACES):
        ledger.quantities.append(
            Quantity(
                f"off_{key}",
                say("what the mounting is off, down, {place}", place=words),
                float(mean[0, 3 * i]),
                say("mm"),
                float(sd[0, 3 * i]),
                float(low[0, 3 * i]),
                float(high[0, 3 * i]),
            )
        )
    for first, title in (
        (0, say("What the mounting is off against its record, all checks together, mm (95 %)")),
        (9, say("What the casts on the instrument are off against the mouth, mm (95 %)")),
    ):
        rows = tuple(
            (
                words,
                *(
                    say(
                        "{low:+.2f} to {high:+.2f}",
                        low=float(low[0, first + 3 * i + k]),
                        high=float(high[0, first + 3 * i + k]),
                    )
                    for k in range(3)
                ),
            )
            for i, (_, words, _) in enumerate(_PLACES)
        )
        ledger.tables.append(Table(title, ("", *_WAYS), rows))


def _say_rates(rates: Rates, limit: Limit, ledger: Ledger) -> None:
    ledger.notes.append(
        say(
            "With these checks, of 100 mountings without a fault {false:.1f} ± {false_se:.1f} are called off and "
            "{open:.0f} stay open; of 100 that are off by more than {redo:g} mm, {miss:.1f} ± {miss_se:.1f} pass as "
            "agreeing and {found:.0f} are called off ({draws} simulated mountings, 1 SD).",
            false=100 * rates.false_alarm.share,
            false_se=100 * rates.false_alarm.se,
            open=100 * rates.open.share,
            redo=limit.redo,
            miss=100 * rates.miss.share,
            miss_se=100 * rates.miss.se,
            found=100 * rates.found.share,
            draws=rates.draws,
        )
    )


def _next(case: Case, found: Proof, ledger: Ledger) -> None:
    rank = ranked(found.weighed)
    pair = (rank[0][0], rank[1][0])
    network = found.model.network
    half = half_width(case, Ledger("mounting"))
    repeat = case.record_repeat_mm or 0.15
    could = candidates(case, network, found.checks, half, repeat)
    values = worth_of(found.weighed, found.checks, pair, list(could.values()), np.random.default_rng(_SEED))
    best = next((v for v in values if v.after - v.today > _WORTH), None)
    if best is None:
        return
    key, _, name = best.candidate.key.partition("|")
    reading, minutes, entry = next_check(key, name)
    told = say("{check} ({minutes:.0f} min)", check=reading, minutes=minutes)
    ledger.pictures[:] = [
        one._replace(next_check=told) if isinstance(one, Cause) and one.key == pair[0] else one
        for one in ledger.pictures
    ]
    ledger.needs.insert(
        0,
        Need(
            reading,
            say(
                "it tells best for its {minutes:.0f} minutes whether {first}, or {second}: {after:.0f} instead of "
                "{today:.0f} of 100 named right",
                minutes=minutes,
                first=CAUSES[pair[0]].words,
                second=CAUSES[pair[1]].words,
                after=100 * best.after,
                today=100 * best.today,
            ),
            entry,
        ),
    )


def _verdict_words(verdict: Verdict) -> list[str]:
    if verdict is Verdict.DISAGREES:
        return [say("all checks together: off by more than can stay")]
    if verdict is Verdict.AGREES:
        return [say("all checks together: the mounting agrees with its record")]
    return []
