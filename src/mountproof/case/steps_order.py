"""In which order the steps of a mounting stand: the usual ones, the instrument's own, the case's own."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from mountproof.case.finding import Finding
from mountproof.case.lines import Path
from mountproof.case.model import Case
from mountproof.case.procedure import USUAL, OwnStep, Procedure, Stage
from mountproof.said import say

_STAGES = list(Stage)


class Placed(NamedTuple):
    """The names of all steps, in order, with the part of the mounting of each; and those that stand in a circle."""

    stages: dict[str, Stage]
    circle: tuple[str, ...]


def placed(procedure: Procedure, own: Mapping[str, OwnStep]) -> Placed:
    """Return the steps of a mounting in order, part after part; ``own`` are those of the instrument.

    A step of its own stands behind or in front of the step it names, in that one's part; without one at the end of the
    part it names (without that, of the last). ``procedure.order`` then moves steps inside their parts: a step that it does
    not name stays behind the one that it stood behind.
    """
    stages = dict(USUAL)
    names = list(USUAL)
    waiting = {name: step for name, step in own.items() if name not in USUAL}
    while waiting:
        known = [name for name, step in waiting.items() if (step.after or step.before or "") not in waiting]
        if not known:
            break
        for name in known:
            _put(name, waiting.pop(name), names, stages)
    circle = tuple(waiting)
    for name, step in waiting.items():
        stages[name] = step.stage or _STAGES[-1]
        names.append(name)
    for name, entry in procedure.steps.items():
        if name not in stages:
            stages[name] = entry.stage or _STAGES[-1]
            names.append(name)
    names = sorted(_ordered(names, procedure.order), key=lambda name: _STAGES.index(stages[name]))
    return Placed({name: stages[name] for name in names}, circle)


def _put(name: str, step: OwnStep, names: list[str], stages: dict[str, Stage]) -> None:
    beside = step.after or step.before
    if beside not in stages:
        stages[name] = step.stage or _STAGES[-1]
        names.append(name)
        return
    stages[name] = step.stage or stages[beside]
    at = names.index(beside)
    if step.after is not None:
        at += 1
        # Several behind the same one keep the order in which they are listed.
        while at < len(names) and names[at] not in USUAL:
            at += 1
    names.insert(at, name)


def _ordered(names: Sequence[str], order: Sequence[str]) -> list[str]:
    """Return ``names`` with those in ``order`` in that order, each followed by the unnamed that stood behind it."""
    wanted = [name for name in dict.fromkeys(order) if name in names]
    chosen = set(wanted)
    behind: dict[str | None, list[str]] = {}
    last: str | None = None
    for name in names:
        if name in chosen:
            last = name
        else:
            behind.setdefault(last, []).append(name)
    found = behind.get(None, [])
    for name in wanted:
        found = [*found, name, *behind.get(name, [])]
    return found


def step_findings(case: Case) -> Iterator[Finding]:
    """Yield what does not fit together in the order of the steps."""
    seen: set[str] = set()
    for at, name in enumerate(case.procedure.order):
        if name in seen:
            yield Finding(
                "case.contradiction",
                ("procedure", "order", at),
                say("a step stands twice in the order"),
                say("Take it out at one of the two places"),
                f'"{name}"',
            )
        seen.add(name)
    own = case.instrument.steps if case.instrument is not None else {}
    for name, step in own.items():
        here: Path = ("instrument", "steps", name)
        if step.after is not None and step.before is not None:
            yield Finding(
                "case.contradiction",
                (*here, "before"),
                say("a step stands behind one step or in front of one, not both"),
                say("Take after or before out"),
            )
        beside = step.after or step.before
        if beside is not None and beside not in USUAL and beside not in own:
            yield _unknown((*here, "after" if step.after else "before"), beside, [*USUAL, *own])
    for name in placed(case.procedure, own).circle:
        yield Finding(
            "case.contradiction",
            ("instrument", "steps", name),
            say("these steps each stand beside the other: none of them has a place"),
            say("Put one of them beside a usual step, such as luted"),
        )


def _unknown(path: Path, name: str, known: list[str]) -> Finding:
    import difflib  # only a mistake needs it

    close = difflib.get_close_matches(name, known, n=1, cutoff=0.6)
    todo = (
        say("Did you mean {name}?", name=close[0])
        if close
        else say("Name one of the steps allowed, or take this out")
    )
    return Finding(
        "case.reference",
        path,
        say("there is no step {name!r}", name=name),
        todo,
        f'"{name}"',
        ", ".join(known),
    )
