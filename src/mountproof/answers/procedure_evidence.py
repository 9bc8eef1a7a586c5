"""What the case itself says of a step: where it holds the evidence, a tick is held against it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from typing import NamedTuple

from mountproof.answers.pours import RELEASE, PourTimes, pour_times
from mountproof.answers.result import Answer, Verdict
from mountproof.answers.stone import LUTE_GIVES_MM, TEETH_XZ
from mountproof.bench.luting import luting_plan
from mountproof.case.model import Arch, Case, StateKind, StepEntry
from mountproof.faults import FaultError
from mountproof.said import figure, say


class Evidence(NamedTuple):
    """What the case holds of a step, and what of it speaks against a tick; both may be empty."""

    found: str = ""
    against: str = ""


_NOTHING = Evidence()


def evidence_of(key: str, case: Case, entry: StepEntry, answers: Mapping[str, Answer]) -> Evidence:
    """Return what a case, and the answers that are there, say of the step called ``key`` with its ``entry``."""
    look = _LOOKS.get(key)
    return _NOTHING if look is None else look(case, entry, answers)


def _record(case: Case, entry: StepEntry, answers: Mapping[str, Answer]) -> Evidence:
    answer = answers.get("record")
    if answer is None:
        return _NOTHING
    found = say("question 3 says: {verdict}", verdict=answer.verdict)
    return Evidence(found, "" if answer.verdict is Verdict.AGREES else found)


def _luted(case: Case, entry: StepEntry, answers: Mapping[str, Answer]) -> Evidence:
    places = () if case.bench is None else case.bench.luted_at
    if not places:
        return _NOTHING
    where = [(p.ahead_mm, p.right_mm) for p in places]
    found = say("luted at {n} places", n=len(places)) if len(places) > 1 else say("luted at one place")
    try:
        luting_plan(where, TEETH_XZ, LUTE_GIVES_MM, case.limits.stop_amplification.redo)
    except FaultError as error:
        return Evidence(found, say("{found}: {what}", found=found, what=error.faults[0].what))
    return Evidence(found)


def _pin_set(case: Case, entry: StepEntry, answers: Mapping[str, Answer]) -> Evidence:
    """Hold what the pin was set to against the interval of question 1's answer, both in the pin's own marks."""
    states = case.marks.states if case.marks is not None else {}
    kinds = (StateKind.RECORD, StateKind.RECORD_SET)
    mounted = [
        r
        for r in case.pin_readings
        if r.set_by_hand
        and r.state in states
        and states[r.state].kind in kinds
        and states[r.state].record in (None, case.mounted_on)
    ]
    if not mounted:
        return _NOTHING
    reads = mounted[-1].reads
    answer = answers.get("pin")
    wanted = (
        None if answer is None else next((q for q in answer.quantities if q.key == "pin_mip_reads"), None)
    )
    if wanted is None or wanted.low is None or wanted.high is None:
        return Evidence(say("the pin was set to {reads}", reads=figure(reads)))
    found = say(
        "the pin was set to {reads}, question 1 says {answer:.1f}",
        reads=figure(reads),
        answer=wanted.value,
    )
    return Evidence(found, "" if wanted.low <= reads <= wanted.high else found)


def _mixed(cast: Arch) -> Callable[[Case, StepEntry, Mapping[str, Answer]], Evidence]:
    def look(case: Case, entry: StepEntry, answers: Mapping[str, Answer]) -> Evidence:
        begun = [pour.begun for pour in pour_times(case) if pour.cast is cast]
        if not begun:
            return _NOTHING
        return Evidence(say("powder met water at {time}", time=begun[-1].time()))

    return look


def _waited(cast: Arch) -> Callable[[Case, StepEntry, Mapping[str, Answer]], Evidence]:
    def look(case: Case, entry: StepEntry, answers: Mapping[str, Answer]) -> Evidence:
        pours = [pour for pour in pour_times(case) if pour.cast is cast]
        ready = max((at for pour in pours if (at := _release(pour)) is not None), default=None)
        if ready is None:
            return _NOTHING
        found = say("may be released from {time} on", time=ready.time())
        released = max((pour.released for pour in pours if pour.released is not None), default=None)
        if released is not None and released < ready:
            return Evidence(found, say("it was released at {at}; {found}", at=released.time(), found=found))
        if entry.at is not None and entry.at < ready:
            return Evidence(found, say("the tick is of {at}; {found}", at=entry.at.time(), found=found))
        return Evidence(found)

    return look


def _release(pour: PourTimes) -> dt.datetime | None:
    return next((mark.at for mark in pour.marks if mark.key == RELEASE), None)


def _marks_set(case: Case, entry: StepEntry, answers: Mapping[str, Answer]) -> Evidence:
    return _read_in(case, StateKind.RECORD_SET)


def _reading(case: Case, entry: StepEntry, answers: Mapping[str, Answer]) -> Evidence:
    states = case.marks.states if case.marks is not None else {}
    read = [
        r
        for r in case.pin_readings
        if not r.set_by_hand and r.state in states and states[r.state].kind is StateKind.CONTACT
    ]
    if read:
        return Evidence(say("the pin read {reads} at first contact", reads=figure(read[-1].reads)))
    return _read_in(case, StateKind.CONTACT)


def _read_in(case: Case, kind: StateKind) -> Evidence:
    if case.marks is None:
        return _NOTHING
    columns = {cell.state for cell in case.marks.readings_mm.cells()}
    found = [name for name, state in case.marks.states.items() if state.kind is kind and name in columns]
    return Evidence(say("measured as state {state}", state=found[-1])) if found else _NOTHING


_LOOKS: dict[str, Callable[[Case, StepEntry, Mapping[str, Answer]], Evidence]] = {
    "record": _record,
    "luted": _luted,
    "pin_set": _pin_set,
    "upper_mix": _mixed(Arch.UPPER),
    "upper_wait": _waited(Arch.UPPER),
    "lower_mix": _mixed(Arch.LOWER),
    "lower_wait": _waited(Arch.LOWER),
    "marks_set": _marks_set,
    "reading": _reading,
}
