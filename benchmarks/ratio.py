"""What every benchmark here has in common: the same work done twice in one run, same answer, one ratio.

A module in this folder that is a benchmark has ``run() -> list[Row]``; ``python -m benchmarks`` runs them all and
prints one table. Seconds depend on the machine and on its mood, ratios much less: the two sides are
timed in turns and the medians are compared.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple


class Row(NamedTuple):
    """One line of the table. ``wanted`` is the least ratio asked for (None: shown for information)."""

    what: str
    ours_s: float
    theirs_s: float | None
    theirs: str
    wanted: float | None
    note: str = ""
    met: bool = True  # for what is asked of it beside the ratio

    @property
    def ratio(self) -> float | None:
        """How many times faster ours is."""
        return None if self.theirs_s is None else self.theirs_s / self.ours_s


def forget() -> None:
    """Empty everything that the program remembers of earlier answers, so that a second question is worked out like a first."""
    for name, module in list(sys.modules.items()):
        if name.startswith("mountproof."):
            for one in vars(module).values():
                if hasattr(one, "cache_clear"):
                    one.cache_clear()


def median_s(work: Callable[[], object], rounds: int = 7, warm: int = 1) -> float:
    """Median seconds of ``work()`` over ``rounds``, after ``warm`` runs that do not count."""
    for _ in range(warm):
        work()
    return statistics.median(_once_s(work) for _ in range(rounds))


def in_turns_s(
    ours: Callable[[], object],
    theirs: Callable[[], object],
    rounds: int = 5,
    warm: int = 1,
    *,
    settled: bool = False,
) -> tuple[float, float]:
    """Median seconds of both, run in turns so that a busy minute hits both alike.

    ``settled``: run each once more, uncounted, right before it is timed, so that work of under a millisecond is not
    timed while it fetches its memory back from the other side.
    """
    for _ in range(warm):
        ours()
        theirs()
    if settled:
        pairs = [(_second_s(ours), _second_s(theirs)) for _ in range(rounds)]
    else:
        pairs = [(_once_s(ours), _once_s(theirs)) for _ in range(rounds)]
    return statistics.median(p[0] for p in pairs), statistics.median(p[1] for p in pairs)


def peak_mb() -> float:
    """Peak resident memory of this process so far, in MB (not what its parent held when it was started)."""
    told = Path("/proc/self/status").read_text(encoding="ascii")
    return int(told.split("VmHWM:")[1].split()[0]) / 1024


def _once_s(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _second_s(work: Callable[[], object]) -> float:
    work()
    return _once_s(work)
