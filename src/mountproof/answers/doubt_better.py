"""Part of question 8: which one better measurement pays most, and how many records or readings are enough."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache, partial
from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.doubt_budget import Ground, Largest, told_of
from mountproof.answers.implants import Held
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import Better
from mountproof.answers.proof_next import candidates
from mountproof.answers.proof_words import next_check
from mountproof.answers.result import K95, Table
from mountproof.case.model import Case, RecordKind, StateKind
from mountproof.case.transfer import AxisFrom
from mountproof.doubt.better import Added, Candidate, HowMany, Repeated, Sharper, covariance_after, how_many
from mountproof.doubt.blocks import Joined, join, normal_block
from mountproof.doubt.causes import Look
from mountproof.doubt.network import Network
from mountproof.doubt.weighing import Checks
from mountproof.geometry.poses import Array
from mountproof.records.facebow import LOCATED
from mountproof.said import capital, figure, joined, say

#: A measurement that takes less than this part of the doubt away is not worth a line.
_WORTH: Final = 0.005
#: Lines of the table, and measurements that are asked for.
_MOST_ROWS: Final = 8
#: Minutes at hand for one record with its marks, each further one in the same sitting, mounting once more, and the others.
#: Our own estimates; nobody measured them.
_RECORD_MIN: Final = 25.0
_FURTHER_MIN: Final = 10.0
_REMOUNT_MIN: Final = 45.0
_LOCATE_MIN: Final = 40.0
_RESEAT_MIN: Final = 10.0
_SCAN_MIN: Final = 20.0
_PLAY_MIN: Final = 5.0
#: A record so thin opens the hinge by this (rad): 1 mm at the front teeth.
_THIN_RAD: Final = 0.011
#: Two scans of the casts on the instrument, record in and after set, laid over each other (mm; rad over an arch).
_SCAN_SD_MM: Final = 0.02
_SCAN_SD_RAD: Final = 0.0007
#: Play of condylar elements that were looked after (mm).
_SHUT_MM: Final = 0.02
#: A second record that was not made yet.
_SPARE: Final = "spare"


class Way(NamedTuple):
    """One better measurement: its key, words, minutes, entry, and u (9,) of the wanted numbers once it is made.

    ``only_if`` says what it has to show for that, where it has to. ``again`` tells how often a check has to be made for a
    wanted standard uncertainty of the heights at both molars.
    """

    key: str
    words: str
    minutes: float
    entry: str
    us: Array
    only_if: str = ""
    again: Callable[[float], HowMany] | None = None


class Known(NamedTuple):
    """Steps after the checks: their covariance (K, K), the checks, and records that stand out."""

    cov: Array
    looks: tuple[Look, ...]
    set_aside: tuple[str, ...]


def ways(case: Case, ground: Ground, known: Known, row: int) -> list[Way]:
    """Return every better measurement that this case could still make, with what it would make of u; best first.

    Best is what leaves least of the wanted number in ``row``. A step done anew is reckoned without the
    checks that were made of the old one, a check with all that were.
    """
    found = [*_done_anew(case, ground), *_looked_at(case, ground, known)]
    now = _us(ground.rows, known.cov)
    better = [w for w in found if w.us[row] < (1.0 - _WORTH) * now[row]]
    return sorted(better, key=lambda w: (round(float(w.us[row]), 4), w.minutes))


def _us(rows: Array, cov: Array) -> Array:
    out: Array = np.sqrt(np.maximum(np.einsum("rk,kl,rl->r", rows, cov, rows), 0.0))
    return out


def _done_anew(case: Case, ground: Ground) -> list[Way]:
    """Steps done better: from what is known of them before any check."""
    mounted = _is_mounted(case)
    again = _REMOUNT_MIN if mounted else 0.0
    out: list[Way] = []

    def add(
        key: str, words: str, minutes: float, entry: str, candidate: Candidate, only_if: str = ""
    ) -> None:
        if candidate.block not in ground.joined.columns:  # type: ignore[union-attr]
            return
        cov = covariance_after(ground.joined, candidate)
        out.append(Way(key, words, minutes, entry, _us(ground.rows, cov), only_if))

    have = _records(case)
    for n in (3, 5):
        if n <= have:
            continue
        more = n - max(have, 1)
        factor = math.sqrt(middle_of(n))
        words = _more_records(more, n, anew=mounted)
        minutes = _RECORD_MIN + _FURTHER_MIN * (more - 1) + again
        add(f"records_{n}", words, minutes, "records", Sharper("records", "record", factor))
    seat = told_of(ground, "seat") if _has(ground, "seat") else None
    if seat is not None and seat.assumed:
        limit = case.limits.reseat_sd.decent
        now = _scale_of(ground, "seat")
        if limit < now:
            add(
                "reseat",
                say("the record taken off and put back five times, three pairs of marks each"),
                _RESEAT_MIN,
                "marks.reseat_mm",
                Sharper("reseat", "seat", limit / now),
                say("if the five agree to {mm:g} mm (1 SD)", mm=limit),
            )
    axis = told_of(ground, "facebow") if _has(ground, "facebow") else None
    if axis is not None and case.facebow.axis is not AxisFrom.LOCATED:
        now = _scale_of(ground, "facebow")
        if now > LOCATED.sd_mm:
            add(
                "located",
                say("the hinge axis located on the patient, and mounted anew")
                if mounted
                else say("the hinge axis located on the patient"),
                _LOCATE_MIN + again,
                "facebow.axis",
                Sharper("located", "facebow", LOCATED.sd_mm / now),
            )
    if axis is not None and ground.chain.closing_rad > 1.2 * _THIN_RAD:
        add(
            "thin",
            say("a record no thicker than 1 mm at the front teeth, mounted on anew")
            if mounted
            else say("a record no thicker than 1 mm at the front teeth"),
            _RECORD_MIN + again,
            "records",
            Sharper("thin", "facebow", _THIN_RAD / ground.chain.closing_rad),
        )
    play = told_of(ground, "play") if _has(ground, "play") else None
    if play is not None and play.assumed and _scale_of(ground, "play") > _SHUT_MM:
        add(
            "play",
            say("play of the condylar elements measured"),
            _PLAY_MIN,
            "instrument.play_mm",
            Sharper("play", "play", _SHUT_MM / _scale_of(ground, "play")),
            say("if it is {mm:g} mm", mm=_SHUT_MM),
        )
    return out


def _more_records(more: int, n: int, *, anew: bool) -> str:
    words = say("{more} more CR records with their marks", more=more)
    words = say("one more CR record with its marks") if more == 1 else words
    if anew:
        return say("{records}, mounted anew on the middle one of {n}", records=words, n=n)
    return say("{records}, mounted on the middle one of {n}", records=words, n=n)


def _has(ground: Ground, key: str) -> bool:
    return key in ground.joined.columns and any(t.key == key for t in ground.chain.told)


def _scale_of(ground: Ground, key: str) -> float:
    """Return the SD of a step by its first natural number."""
    return float(told_of(ground, key).numbers[0][1])


def _records(case: Case) -> int:
    """Return how many CR records of the case were read, by marks or by scan."""
    names = {n for n, r in case.records.items() if r.kind is RecordKind.CR and (r.upper_from_lower or r.scan)}
    if case.marks is not None:
        read = {c.state for c in case.marks.readings_mm.cells()}
        names |= {
            s.record or ""
            for n, s in case.marks.states.items()
            if n in read and s.kind in (StateKind.RECORD, StateKind.RECORD_SET)
        }
    return len(names)


def _is_mounted(case: Case) -> bool:
    """Tell whether the lower cast was mounted already: something was read after the stone set."""
    after = (StateKind.RECORD_SET, StateKind.CONTACT)
    if case.marks is not None and any(s.kind in after for s in case.marks.states.values()):
        return True
    return bool(case.proof.seatings or case.proof.split_casts or case.proof.condyle_gaps)


@lru_cache(maxsize=8)
def middle_of(n: int, numbers: int = 5, draws: int = 20_000) -> float:
    """Return the variance of the middle one of ``n`` records over that of one; the middle one lies nearest to their mean.

    Each record is ``numbers`` numbers that scatter alike (heights and paths of two condyles, and both to the side). By
    draws with a fixed seed; known to about one percent.
    """
    x = np.random.default_rng([n, numbers]).standard_normal((draws, n, numbers))
    off = np.sum((x - x.mean(axis=1, keepdims=True)) ** 2, axis=2)
    chosen = x[np.arange(draws), np.argmin(off, axis=1)]
    return float(np.mean(chosen**2))


def _looked_at(case: Case, ground: Ground, known: Known) -> list[Way]:
    """Checks that were not made yet, with everything that was: from what is known of the steps now."""
    network, joined_, rows = _with_a_record(ground, known.cov)
    checks = Checks(known.looks)
    repeat = _scale_of(ground, "record")
    could = candidates(case, network, checks, ground.chain.half_mm, repeat)
    out = []
    for name, one in could.items():
        key, _, record = name.partition("|")
        if (
            not isinstance(one.check, Look)
            or key in ("width", "pin", "calibration")
            or record in known.set_aside
        ):
            continue
        look = one.check
        spare = record == _SPARE
        words, minutes, entry = next_check(key, say("a second record") if spare else record)
        if spare:
            minutes += _RECORD_MIN
        us, again = _with_a_look(rows, joined_.cov, name, look.honest, look.cov)
        out.append(Way(key, words, minutes, entry, us, again=again))
    if not case.scans:
        rows_ = network.pick("set", "play") @ network.honest
        noise = (
            np.diag([_SCAN_SD_MM, _SCAN_SD_RAD, _SCAN_SD_RAD, _SCAN_SD_MM, _SCAN_SD_MM, _SCAN_SD_RAD]) ** 2
        )
        us, again = _with_a_look(rows, joined_.cov, "scans", rows_, noise)
        words = say("a scan of the casts on the instrument, record in and after set, instead of the caliper")
        out.append(Way("scans", words, _SCAN_MIN, "scans", us, again=again))
    return out


def _with_a_look(
    rows: Array, cov: Array, name: str, look: Array, noise: Array
) -> tuple[Array, Callable[[float], HowMany]]:
    """Return u (9,) of the wanted numbers with one more look (m, K), and how often it is to be made for a wanted u.

    Wanted numbers and look together are a few normal numbers of their own: no more of the steps is needed.
    """
    both = np.concatenate([rows, look])
    among = both @ cov @ both.T
    few = join([normal_block(name, np.zeros(both.shape[0]), 0.5 * (among + among.T))])
    unit = np.eye(both.shape[0])
    wanted, added = unit[: rows.shape[0]], Added(name, unit[rows.shape[0] :], noise)
    us = _us(wanted, covariance_after(few, added))
    return us, partial(how_many, wanted[[0, 3]], few, added)


def _with_a_record(ground: Ground, cov: Array) -> tuple[Network, Joined, Array]:
    """Return network, steps and wanted rows with one more record that was not made yet, where there is only one."""
    network = ground.chain.chain.network
    keys = ground.joined.columns
    plain = ground.joined._replace(cov=cov, linked=True)
    if len(network.records) > 1 or not {"record", "seat"} <= set(keys):
        return network, plain, ground.rows
    d, nz = network.honest.shape
    record = network.honest[network.blocks["record/0"]]
    seat = network.honest[network.blocks["seat/0"]]
    n = keys["record"].stop - keys["record"].start
    k = n + keys["seat"].stop - keys["seat"].start
    honest = np.zeros((d + 12, nz + k))
    honest[:d, :nz] = network.honest
    # what is shared with the first record (its material, the visit) is the same; its own scatter and seat are new
    honest[d : d + 6, :nz], honest[d + 6 :, :nz] = record, seat
    honest[d : d + 6, keys["record"]] = 0.0
    honest[d + 6 :, keys["seat"]] = 0.0
    honest[d : d + 6, nz : nz + n] = record[:, keys["record"]]
    honest[d + 6 :, nz + n :] = seat[:, keys["seat"]]
    own = [ground.joined.cov[keys[key], keys[key]] for key in ("record", "seat")]
    spare = join([normal_block(f"{_SPARE} {i}", np.zeros(c.shape[0]), c) for i, c in enumerate(own)])
    whole = np.zeros((nz + k, nz + k))
    whole[:nz, :nz], whole[nz:, nz:] = cov, spare.cov
    blocks = {**network.blocks, "record/1": slice(d, d + 6), "seat/1": slice(d + 6, d + 12)}
    faults = np.zeros((d + 12, network.faults.shape[1]))
    grown = network._replace(
        records=(*network.records, _SPARE), blocks=blocks, honest=honest, honest_cov=whole, faults=faults
    )
    joined_ = Joined((*ground.joined.blocks, *spare.blocks), np.zeros(nz + k), whole, True)
    rows = np.concatenate([ground.rows, np.zeros((ground.rows.shape[0], k))], axis=1)
    return grown, joined_, rows


def enough_records(ground: Ground, held: Held) -> HowMany | None:
    """Return how many CR records, averaged by their marks, hold the height at the second molars to the limit at 95 %."""
    if "record" not in ground.joined.columns or held.limit.decent <= 0.0:
        return None
    return how_many(
        ground.rows[[0, 3]], ground.joined, Repeated("records", "record", 1), 0.5 * held.limit.decent
    )


def tell_better(
    found: Sequence[Way], limiting: Largest, ground: Ground, held: Held, ledger: Ledger
) -> tuple[Better, ...]:
    """Note the ranking as a table, the best as needs, and how many records are enough; return them as pictures."""
    row, now = limiting.row, limiting.u
    for way in found[:3]:
        ledger.need(way.words, _buys(way, row, now), way.entry)
    if found:
        ledger.tables.append(
            Table(
                say(
                    "One better measurement: what it would make of the height at the second molars, ± mm (95 %)"
                ),
                (say("measurement"), say("now"), say("then"), say("minutes")),
                tuple(
                    (
                        capital(joined(", ", (t for t in (w.words, w.only_if) if t))),
                        figure(K95 * now, ".2f"),
                        figure(K95 * float(w.us[row]), ".2f"),
                        figure(w.minutes, ".0f"),
                    )
                    for w in found[:_MOST_ROWS]
                ),
                say(
                    "A step done anew is reckoned without the checks of the old one; a check counts once its reading is "
                    "used. Minutes are this program's own stated choices."
                ),
            )
        )
    _tell_enough(found, ground, held, ledger)
    return tuple(Better(w.words, now, float(w.us[row]), w.minutes) for w in found[:_MOST_ROWS])


def _buys(way: Way, row: int, now: float) -> str:
    bought = say(
        "it takes the doubt of the height at the second molars from ± {now:.2f} to ± {then:.2f} mm",
        now=K95 * now,
        then=K95 * float(way.us[row]),
    )
    return say("{what}, {condition}", what=bought, condition=way.only_if) if way.only_if else bought


def _tell_enough(found: Sequence[Way], ground: Ground, held: Held, ledger: Ledger) -> None:
    """Note how many records, and how many of the best check, are enough for the limit, or that no number is."""
    limit = held.limit.decent
    records = enough_records(ground, held)
    if records is None:
        return
    text = say("{n} CR records, averaged by their marks, are enough", n=records.times or 0)
    if records.times is None:
        text = say(
            "no number of CR records is enough: ± {floor:.2f} mm stays, from the other steps",
            floor=2.0 * records.floor,
        )
    best = next((w for w in found if w.again is not None), None)
    if best is not None and best.again is not None:
        many = best.again(0.5 * limit)
        more = say("made {n} times, so is this: {check}", n=many.times or 0, check=best.words)
        if many.times == 1:
            more = say("made once, so is this: {check}", check=best.words)
        if many.times is None:
            more = say(
                "however often it is made, ± {floor:.2f} mm stays with this: {check}",
                floor=2.0 * many.floor,
                check=best.words,
            )
        text = joined("; ", (text, more))
    ledger.notes.append(
        held.says(
            say("To hold the height at the second molars to {limit:g} mm: {what}.", limit=limit, what=text)
        )
    )
