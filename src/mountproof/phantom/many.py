"""Many made-up bench cases: the demo case read again with the noise of its caliper, without scans. All of it is invented."""

from __future__ import annotations

import datetime as dt
import re
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from mountproof.phantom import kestrel, truth, variants

Array = NDArray[np.float64]
_FIRST_DAY: Final = dt.date(2024, 1, 2)
_HANDS: Final = ("B1", "B2", "B3")
_TABLE: Final = re.compile(r'readings_mm = """.*?"""', re.DOTALL)
_RESEAT: Final = re.compile(r'reseat_mm = """.*?"""', re.DOTALL)
_SCANS: Final = re.compile(r"\[\[scans\]\].*?(?=^\[records)", re.DOTALL | re.MULTILINE)
_RELATION: Final = re.compile(r"^upper_from_lower = .*\n|^# upper_from_lower_of_record_1\n", re.MULTILINE)
#: Every so many cases the lower cast rose on the right while the stone set.
_LIFTED_EVERY: Final = 7


def write_many(folder: Path, many: int, seed: int) -> None:
    """Make ``many`` case folders in ``folder``, the same for the same ``seed``; one a working hour from 2024 on.

    Each has its own noise of caliper, seating and pin; every seventh was lifted during set (variant D-3).
    """
    for number in range(many):
        place = folder / f"case-{number:05d}"
        place.mkdir(parents=True)
        (place / "case.toml").write_text(case_text(number, seed), encoding="utf-8")


def case_text(number: int, seed: int) -> str:
    """Return the text of one of these cases."""
    rng = np.random.default_rng((seed, number))
    text = _bench_only()
    day = _FIRST_DAY + dt.timedelta(days=number // 4)
    hand = _HANDS[number % len(_HANDS)]
    lifted = number % _LIFTED_EVERY == _LIFTED_EVERY - 1
    text = text.replace(f'"{kestrel.CASE}"', f'"PHANTOM-{number:05d}"')
    text = text.replace("date = 2026-03-17", f"date = {day}").replace("2026-03-17T", f"{day}T")
    text = text.replace('by = "bench hand 2"', f'by = "{hand}"')
    head = "pair " + " ".join(kestrel.STATES)
    rows = _rows(["-".join(pair) for pair in kestrel.TABLE_MM], _exact(lifted), rng)
    text = _TABLE.sub(f'readings_mm = """\n{head}\n{rows}\n"""', text, count=1)
    reseat = np.repeat(np.array([np.mean(row) for row in kestrel.RESEAT_MM.values()])[:, None], 5, axis=1)
    rows = _rows(["-".join(pair) for pair in kestrel.RESEAT_MM], reseat, rng)
    text = _RESEAT.sub(f'reseat_mm = """\npair 1 2 3 4 5\n{rows}\n"""', text, count=1)
    found = round(0.05 * rng.standard_normal() / 0.1) * 0.1
    return text.replace("reads = 0.0\n", f"reads = {found + 0.0:.1f}\n", 1)


def _rows(names: list[str], exact_mm: Array, rng: np.random.Generator) -> str:
    step = kestrel.CALIPER_STEP_MM
    read = np.round((exact_mm + kestrel.CALIPER_SD_MM * rng.standard_normal(exact_mm.shape)) / step) * step
    return "\n".join(
        f"{name} " + " ".join(f"{x:.2f}" for x in row) for name, row in zip(names, read, strict=True)
    )


@lru_cache(maxsize=2)
def _exact(lifted: bool) -> Array:
    at = {state: truth.pose(state) for state in kestrel.STATES}
    if lifted:
        at["F"] = variants.lifted_right(at["F"])
        at["G"] = truth.closed_by(at["F"], truth.closing_rad())
    return np.array([[truth.distance_mm(pair, pose) for pose in at.values()] for pair in kestrel.TABLE_MM])


@lru_cache(maxsize=1)
def _bench_only() -> str:
    """The demo case without its scans and what was laid on them."""
    text = files("mountproof.phantom").joinpath("kestrel.toml").read_text(encoding="utf-8")
    return _RELATION.sub("", _SCANS.sub("", text, count=1))
