"""What the parts of questions 3 and 4 found, gathered for the weighing, with what stands in the case itself."""

from __future__ import annotations

import math

import numpy as np

from mountproof.answers.bench_inputs import caliper_sd, marks_input, states_of
from mountproof.answers.finds import Found
from mountproof.answers.foils import first_foil
from mountproof.answers.ledger import Ledger
from mountproof.answers.record_gathered import Gathered, from_marks
from mountproof.case.model import Case, Relation, Where
from mountproof.doubt.causes import Look
from mountproof.doubt.faults import INCISORS_MM, MOLAR_MM
from mountproof.doubt.motions import at_place, condyles_of, plane_of_stops
from mountproof.doubt.network import Network
from mountproof.faults import FaultError
from mountproof.said import say

#: Columns of the numbers at the two condyles (ahead, up, right of the right one, then of the left), as rows of ``condyles_of``.
_TAKE = ((1, -1.0), (4, -1.0), (0, 1.0), (3, 1.0), (2, 1.0))


def gathered_finds(case: Case, ledger: Ledger, record_page: Ledger) -> list[Found]:
    """Return all finds: those on both pages, movement and pin from their quantities where a part left no find."""
    finds = list(ledger.finds)
    finds += [f for f in record_page.finds if f.key != "repeats"]
    have = {f.key for f in finds}
    if "set_movement" not in have:
        finds += _set_movement(ledger)
    if "pin" not in have:
        finds += _pin(ledger)
    finds += _none_held(case)
    if "width" not in have:
        finds += _widths(case, ledger)
    if "rock" not in have and case.casts.seats_by_hand is not None:
        words = say("ways in which the casts come to rest by hand, less one")
        amount = np.array([case.casts.seats_by_hand - 1.0])
        finds.append(Found("rock", words, ("amount",), amount, np.zeros((1, 1))))
    if "condyles" not in have:
        finds += _condyles(case)
    if "stops" not in have:
        finds += _stops(case)
    return finds


def _stops(case: Case) -> list[Found]:
    """How many times larger an error at the stops of the mounted record is at the tooth they hold worst."""
    given = case.records.get(case.mounted_on or "")
    if given is None or not given.stops:
        return []
    gain = plane_of_stops([(s.ahead_mm, s.right_mm) for s in given.stops])
    worst = 1e3
    if gain is not None:
        x, _, z = MOLAR_MM
        teeth = (MOLAR_MM, (x, 0.0, -z), INCISORS_MM)
        worst = max(float(np.linalg.norm(at_place(at)[0, :3] @ gain)) for at in teeth)
    words = say("the stops of {record} at the tooth they hold worst", record=case.mounted_on or "")
    return [Found("stops", words, ("amount",), np.array([worst]), np.zeros((1, 1)), case.mounted_on or "")]


def _set_movement(ledger: Ledger) -> list[Found]:
    parts, values, us = [], [], []
    for key, part, factor in (
        ("lift", "down", 1.0),
        ("set_pitch", "pitch", math.pi / 180.0),
        ("set_roll", "roll", math.pi / 180.0),
    ):
        q = next((q for q in ledger.quantities if q.key == key), None)
        if q is not None and q.u is not None:
            parts.append(part)
            values.append(q.value * factor)
            us.append(q.u * factor)
    if not parts:
        return []
    words = say("what moved while the stone set")
    return [Found("set_movement", words, tuple(parts), np.array(values), np.diag(np.square(us)))]


def _pin(ledger: Ledger) -> list[Found]:
    q = next((q for q in ledger.quantities if q.key == "found_minus_predicted"), None)
    if q is None or q.u is None:
        return []
    words = say("the pin with the record out, against its prediction")
    return [Found("pin", words, ("pin",), np.array([q.value]), np.array([[q.u**2]]))]


def _widths(case: Case, ledger: Ledger) -> list[Found]:
    out = []
    for check in case.casts.widths:
        mouth, cast = check.in_mouth_mm, check.on_cast_mm
        if not (mouth and cast):
            continue
        sd = caliper_sd(case.caliper, (), ledger)[0]
        change = math.fsum(cast) / len(cast) - math.fsum(mouth) / len(mouth)
        words = say("width of the {arch} cast against the mouth", arch=check.arch)
        var = sd**2 * (1.0 / len(cast) + 1.0 / len(mouth))
        out.append(Found("width", words, ("width",), np.array([change]), np.array([[var]])))
    return out


def _condyles(case: Case) -> list[Found]:
    """An element off its stop: the record holds the condyle lower than the mounting does."""
    out = []
    for gap in case.proof.condyle_gaps:
        read = [
            (part, mm)
            for part, mm in (("right condyle down", gap.right_mm), ("left condyle down", gap.left_mm))
            if mm is not None
        ]
        if not read:
            continue
        u = gap.u_mm or _GAP_U_MM
        words = say("the condylar elements with {record} in", record=gap.record or say("a record"))
        values = -np.array([mm for _, mm in read])
        parts = tuple(part for part, _ in read)
        out.append(Found("condyles", words, parts, values, u**2 * np.eye(len(read)), gap.record or ""))
    return out


#: A gap at a condylar element that is read without a stated doubt (mm). Our choice, no source.
_GAP_U_MM = 0.05


def _none_held(case: Case) -> list[Found]:
    """Whether no tooth at all holds foil on the mounting, while some do in the mouth: something else keeps it apart."""
    mouth, bench = (first_foil(case, where, Relation.CR) for where in (Where.MOUTH, Where.MOUNTING))
    if mouth is None or bench is None or not mouth.held or not bench.others_free:
        return []
    words = say("no tooth holds foil on the mounting, though the mouth has contacts")
    if bench.held or bench.drags:
        words = say("teeth hold foil on the mounting")
    none = 0.0 if bench.held or bench.drags else 1.0
    return [Found("none_held", words, ("amount",), np.array([none]), np.zeros((1, 1)))]


def record_look(case: Case, network: Network, half_mm: float) -> Look | None:
    """Return how the other records hold the condyles against the mounted one, by the marks before stone, as one check.

    All differences share the reading of the mounted record. None where the marks do not carry all six directions, or no
    other record was read.
    """
    given = _marks_of(case)
    if given is None or network.records[0] not in given.wording.values():
        return None
    words = list(given.wording.values())
    take = np.zeros((5, given.features.values.shape[1]))
    for row, (column, sign) in enumerate(_TAKE):
        take[row, column] = sign
    first = words.index(network.records[0])
    own = take @ given.features.covs[first] @ take.T
    others = [(k, words.index(n)) for k, n in enumerate(network.records) if k and n in words]
    if not others:
        return None
    at_condyles = condyles_of(half_mm)
    rows, values = [], []
    cov = np.tile(own, (len(others), len(others)))
    for n, (k, i) in enumerate(others):
        rows.append(at_condyles @ network.pick(f"record/{k}", f"seat/{k}", minus=("record/0", "seat/0")))
        values.append(take @ (given.features.values[i] - given.features.values[first]))
        block = slice(5 * n, 5 * n + 5)
        cov[block, block] += take @ given.features.covs[i] @ take.T
    honest, faults = network.rows(np.concatenate(rows))
    words_said = say("how the other records hold the condyles against {record}", record=network.records[0])
    return Look("repeats", words_said, honest, faults, np.concatenate(values), cov)


def _marks_of(case: Case) -> Gathered | None:
    if case.marks is None:
        return None
    page = Ledger("record")
    try:
        marks, states = marks_input(case.marks, case.caliper, page), states_of(case, page)
        given = from_marks(case, marks, states, page)
    except FaultError:
        return None
    return given if given is not None and given.points and not given.blind else None
