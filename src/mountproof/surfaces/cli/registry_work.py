"""What the command over many cases does. Imported late, so that help is quick."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Any, NamedTuple

from mountproof.answers.many_cases import many_cases
from mountproof.answers.progress import within
from mountproof.case.store.registry import Registry
from mountproof.case.store.registry_url import kept_in
from mountproof.faults import Cancelled
from mountproof.said import figure, render, say
from mountproof.surfaces.cli.practice_work import as_dict
from mountproof.surfaces.cli.progress import on_stderr
from mountproof.surfaces.cli.status import STOPPED
from mountproof.surfaces.cli.work import print_json
from mountproof.surfaces.registry.one import PROGRAM
from mountproof.surfaces.registry.run import Outcome, carry_out
from mountproof.surfaces.registry.sources import gathered
from mountproof.surfaces.registry.spread import Crew

#: More faults than this help nobody at once.
_SHOWN = 20


class Asked(NamedTuple):
    """What was asked for; ``workers`` None for one a processor."""

    folders: tuple[Path, ...]
    store: Path | None
    to: str
    workers: int | None
    scheduler: str


def registry(asked: Asked, as_json: bool, language: str) -> int:
    """Bring the registry up to date and say what is in it; return the exit status."""
    kept = kept_in(asked.to)
    workers = len(os.sched_getaffinity(0)) if asked.workers is None else asked.workers
    crew = Crew(workers, asked.scheduler)
    use_store = asked.store is not None or not asked.folders
    try:
        with Registry(kept, PROGRAM) as opened, on_stderr(language) as progress:
            sources = gathered(asked.folders, asked.store, use_store, within(progress, 0.0, 0.02))
            outcome = carry_out(opened, sources, crew, within(progress, 0.02, 0.98))
    except (Cancelled, KeyboardInterrupt):
        stopped = say("Stopped. What was worked out is kept; the same command goes on from there.")
        sys.stderr.write(render(stopped, language) + "\n")
        return STOPPED
    if as_json:
        print_json(_as_dict(outcome, kept.shown))
    else:
        sys.stdout.write("".join(f"{render(line, language)}\n" for line in _lines(outcome, kept.shown)))
    return 0


def _lines(outcome: Outcome, shown: str) -> list[str]:
    lines = [
        say("Cases in the registry: {many}", many=len(outcome.entries)),
        say("worked out now: {made}; there already: {there}", made=outcome.made, there=outcome.there),
    ]
    if outcome.per_minute is not None:
        lines.append(say("cases a minute: {rate}", rate=figure(outcome.per_minute, ".0f")))
    if outcome.twice:
        lines.append(say("left out, the same text as another one: {many}", many=outcome.twice))
    if outcome.given_up:
        lines.append(say("given up, the workers did not survive them: {many}", many=outcome.given_up))
    faulty = [one for one in outcome.entries if one.fault is not None]
    if faulty:
        lines.append(say("cannot be used: {many}", many=len(faulty)))
    for one in faulty[:_SHOWN]:
        assert one.fault is not None
        lines.append(f"  {one.source}: {one.fault.sentence()}")
    if len(faulty) > _SHOWN:
        lines.append(say("  and {many} more", many=len(faulty) - _SHOWN))
    together = many_cases(outcome.numbers).sentences if outcome.numbers else ()
    return [*lines, say("kept in: {where}", where=shown), *together]


def _as_dict(outcome: Outcome, shown: str) -> dict[str, Any]:
    return {
        "kept_in": shown,
        "there": outcome.there,
        "made": outcome.made,
        "twice": outcome.twice,
        "given_up": outcome.given_up,
        "cases_per_minute": outcome.per_minute,
        "together": as_dict(many_cases(outcome.numbers)),
        "cases": [
            {
                "source": one.source,
                "code": one.code,
                "numbers": None if one.numbers is None else one.numbers._asdict(),
                "fault": None if one.fault is None else one.fault.sentence(),
            }
            for one in outcome.entries
        ],
    }
