"""Checks that were not made yet, as the weighing wants them, with the noise they usually have."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from mountproof.answers.finds import Found
from mountproof.answers.proof_checks import direct_of, look_of, other_case, seat_outcomes
from mountproof.answers.proof_words import next_check
from mountproof.case.model import Case
from mountproof.doubt.causes import Look
from mountproof.doubt.motions import condyles_of
from mountproof.doubt.network import Network
from mountproof.doubt.next_check import Candidate
from mountproof.doubt.outcomes import Choice
from mountproof.doubt.weighing import Checks
from mountproof.geometry.poses import Array

#: Typical standard uncertainties of checks (mm, rad): three readings of a caliper, feelers in steps, and so on.
_PLANE = (("down", 0.03), ("pitch", 0.0010), ("roll", 0.0008))
_SPLIT = (("down", 0.05), ("pitch", 0.0012), ("roll", 0.0010))
_FOILS = (("down", 0.06), ("pitch", 0.0020), ("roll", 0.0015))
_CONDYLES = (("right condyle down", 0.05), ("left condyle down", 0.05))
#: A new record scatters as honest ones do, lies on its casts, and is read (one axis at a condyle, mm).
_NEW_RECORD_SD_MM = 0.20


def candidates(
    case: Case, network: Network, checks: Checks, half_mm: float, repeat_mm: float
) -> dict[str, Candidate]:
    """Return the checks that could still be made, by what to read."""
    made = {c.key for c in checks.looks} | {c.key for c in checks.directs}
    out: dict[str, Candidate] = {}

    def add(key: str, check: object, record: str = "") -> None:
        _, minutes, _ = next_check(key, record)
        name = f"{key}|{record}"
        if check is not None:
            out[name] = Candidate(name, minutes, check)  # type: ignore[arg-type]

    for key, parts in (
        ("set_movement", _PLANE),
        ("width", (("width", 0.04),)),
        ("foils", _FOILS),
        ("pin", (("pin", 0.10),)),
    ):
        if key not in made:
            add(key, look_of(_typical(key, parts), network, half_mm))
    for key in ("rock", "hand_foils", "reseat", "stops", "none_held"):
        if key not in made:
            add(key, direct_of(_typical(key, (("amount", 0.0),)), case))
    if "other_cases" not in made:
        add("other_cases", other_case(True))
    if case.instrument is not None and not case.instrument.pin.calibration:
        add("calibration", look_of(_typical("pin", (("pin", 0.05),)), network, half_mm))
    tried = {s.record for s in case.proof.seatings}
    gaps = {s.record for s in case.proof.split_casts}
    read = {s.record for s in case.proof.condyle_gaps}
    for k, record in enumerate(network.records):
        if record not in tried:
            add("seating", Choice("seating", record, seat_outcomes(network, k), 0), record)
        if k and record not in gaps:
            add("split_cast", look_of(_typical("split_cast", _SPLIT, record), network, half_mm), record)
        if k and record not in read:
            add("condyles", look_of(_typical("condyles", _CONDYLES, record), network, half_mm), record)
    rows = condyles_of(half_mm) @ network.pick("record/0", "seat/0")
    honest, faults = network.rows(rows)
    noise = (_NEW_RECORD_SD_MM**2 + repeat_mm**2) * np.eye(5)
    add("new_record", Look("new_record", "", honest, faults, np.zeros(5), noise))
    return out


def _typical(key: str, parts: Sequence[tuple[str, float]], record: str = "") -> Found:
    u: Array = np.array([sd for _, sd in parts])
    return Found(key, key, tuple(p for p, _ in parts), np.zeros(len(parts)), np.diag(u**2), record)
