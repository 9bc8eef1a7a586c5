"""Procedure and pours as entered, in few words for small print; and the gates that are not met, for the page."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping

from mountproof.answers.result import Gate
from mountproof.case.model import Pour, Procedure, StepEntry
from mountproof.said import joined, say, term
from mountproof.surfaces.report import figures


def gate_lines(gates: Iterable[Gate]) -> list[dict[str, str]]:
    """Return the gates that are not met, those with the same reason together."""
    by_why: dict[str, list[str]] = {}
    for gate in gates:
        by_why.setdefault(gate.why, []).append(gate.words)
    return [{"words": "; ".join(words), "why": why} for why, words in by_why.items()]


def procedure_text(procedure: Procedure, close: bool = False) -> str:
    """Return what was entered of the procedure; ticks of one day by one hand share both.

    ``close`` tells of steps that were met and have nothing more to say how many there are, and the first and last time.
    """
    found: dict[str, list[tuple[str, StepEntry]]] = {}
    for name, entry in procedure.steps.items():
        found.setdefault(_head(entry), []).append((name, entry))
    parts = [_group(head, steps, close) for head, steps in found.items()]
    if procedure.order:
        parts.append(say("order: {steps}", steps=", ".join(procedure.order)))
    return joined("; ", parts)


def _group(head: str, steps: list[tuple[str, StepEntry]], close: bool) -> str:
    listed = [(name, entry) for name, entry in steps if not (close and _plainly_met(entry))]
    told = [_step(name, entry) for name, entry in listed]
    times = sorted(entry.at for _, entry in steps if entry.at is not None and (_plainly_met(entry)))
    count = len(steps) - len(listed)
    if count:
        met = say("{count} steps met", count=count)
        if times:
            ends = {"first": _clock(times[0]), "last": _clock(times[-1])}
            met = say("{count} steps met {first} to {last}", count=count, **ends)
        told.insert(0, met)
    return joined(": ", [part for part in (head, joined(", ", told)) if part])


def _plainly_met(entry: StepEntry) -> bool:
    return entry.met is True and not (entry.words or entry.note or entry.left_out) and entry.gate is None


def _head(entry: StepEntry) -> str:
    day = "" if entry.at is None else f"{entry.at:%Y-%m-%d} {_offset(entry.at)}"
    by = say("by {who}", who=entry.by) if entry.by else ""
    return joined(" ", [part for part in (day, by) if part])


def _step(name: str, entry: StepEntry) -> str:
    more = [
        f"“{entry.words}”" if entry.words else "",
        term(entry.stage.value) if entry.stage is not None else "",
        {True: say("a gate"), False: say("no gate"), None: ""}[entry.gate],
        say("left out") if entry.left_out else "",
        entry.note,
    ]
    tail = joined(", ", [part for part in more if part])
    met = {True: say("met"), False: say("not met"), None: ""}[entry.met]
    clock = "" if entry.at is None else _clock(entry.at)
    close = joined("", ("(", tail, ")")) if tail else ""
    return joined(" ", [part for part in (name.replace("_", " "), met, clock, close) if part])


def pours_text(pours: Mapping[str, Pour], close: bool = False) -> str:
    """Return everything that was entered of the pours: powder met water / hands off / released."""
    told, before = [], None
    for name, pour in pours.items():
        told.append(_pour(name, pour, before))
        before = pour.powder_met_water
    return joined("; ", told)


def _pour(name: str, pour: Pour, before: dt.datetime | None) -> str:
    begun = pour.powder_met_water
    cast = term(pour.cast.value)
    head = joined(" ", (cast, pour.number))
    if name != f"{pour.cast.value} {pour.number}":
        head = say("{name} ({arch} cast, pour {number})", name=name, arch=cast, number=pour.number)
    ends = [pour.hands_off, pour.released]
    moments = [_moment(begun, before), *("–" if at is None else _moment(at, begun) for at in ends)]
    parts = [joined(": ", (head, " / ".join(moments)))]
    for words, value, unit in (
        (say("mix"), pour.mix_s, "s"),
        (say("work"), pour.work_min, "min"),
        (say("set"), pour.set_min, "min"),
        (say("release"), pour.release_min, "min"),
    ):
        if value is not None:
            parts.append(joined(" ", (words, figures.plain(value), unit)))
    parts += [part for part in (say("by {who}", who=pour.by) if pour.by else "", pour.note) if part]
    return joined(", ", parts)


def _moment(at: dt.datetime, before: dt.datetime | None) -> str:
    """Day and offset only where they are not those of the moment before."""
    same = before is not None and (at.date(), at.utcoffset()) == (before.date(), before.utcoffset())
    return _clock(at) if same else f"{at:%Y-%m-%d} {_offset(at)} {_clock(at)}"


def _offset(at: dt.datetime) -> str:
    return at.strftime("%z")


def _clock(at: dt.datetime) -> str:
    return at.strftime("%H:%M:%S" if at.second else "%H:%M")
