"""How the work of a registry grows with its cases: processor time of driver and workers, and the power of growth fitted to it."""

from __future__ import annotations

import resource
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

from mountproof.answers.progress import quiet
from mountproof.case.store.registry import Registry
from mountproof.geometry.quantile import student_quantile
from mountproof.surfaces.registry.one import PROGRAM
from mountproof.surfaces.registry.run import carry_out
from mountproof.surfaces.registry.sources import gathered
from mountproof.surfaces.registry.spread import Crew

#: Shares of all cases, the shorter ones twice.
_SHARES = (8, 4, 2, 1, 8, 4)
#: Growth by a power this near to one is a straight line for anybody who plans with it.
_NEAR = 0.1


class Growth(NamedTuple):
    """Cases and their processor seconds, start-up taken off; the power fitted to them with its 95 % interval."""

    seen: list[tuple[int, float]]
    power: float
    low: float
    high: float

    @property
    def linear(self) -> bool:
        """Whether the power is near one, and known to be: its interval holds one or lies within ``_NEAR`` of it."""
        return abs(self.power - 1.0) <= _NEAR and self.low <= 1.0 + _NEAR and self.high >= 1.0 - _NEAR

    @property
    def told(self) -> str:
        each = ", ".join(f"{n} cases {s:.1f} s" for n, s in self.seen)
        return f"processor time {each}: grows by power {self.power:.3f} ({self.low:.3f} to {self.high:.3f})"


def growth(folder: Path, many: int, url: str) -> Growth:
    """Work out shares of the cases of ``folder`` on two workers each, as rows of a version of their own."""
    sources = gathered([folder], None, False, quiet)[:many]

    def spent(n: int, name: str) -> float:
        start = _processor_s()
        with Registry(url, f"{PROGRAM}-{name}") as registry:
            made = carry_out(registry, sources[:n], Crew(2), quiet).made
        assert made == n, "all worked out anew"
        return _processor_s() - start

    start_s = min(spent(2, f"start {i}") for i in range(2))
    seen = []
    for i, share in enumerate(_SHARES):
        n = many // share
        seen.append((n, spent(n, f"growth {i}") - start_s))
        print(f"{n} cases: {seen[-1][1]:.1f} s of processor time", file=sys.stderr, flush=True)
    return Growth(seen, *power_of(seen))


def power_of(seen: Sequence[tuple[int, float]]) -> tuple[float, float, float]:
    """Return the slope of log time over log number with its 95 % interval (Student, by the scatter about the line)."""
    x, y = np.log(np.array(seen)).T
    dx = x - x.mean()
    slope = float(dx @ y / (dx @ dx))
    left = y - y.mean() - slope * dx
    dof = len(seen) - 2
    half = student_quantile(0.975, dof) * float(np.sqrt(left @ left / dof / (dx @ dx)))
    return slope, slope - half, slope + half


def _processor_s() -> float:
    """Of this process and of all that it began and that have ended."""
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + ended.ru_utime + ended.ru_stime
