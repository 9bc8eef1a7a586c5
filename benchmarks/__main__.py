"""Run every benchmark of this folder (or those named) and print one table: ``python -m benchmarks [name ...]``."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path

from benchmarks.ratio import Row, peak_mb

_HELPERS = {"__main__", "__init__", "ratio"}


def main(names: list[str]) -> int:
    """Print the table; 1 when a ratio is below what is wanted, else 0."""
    found = sorted(p.stem for p in Path(__file__).parent.glob("*.py") if p.stem not in _HELPERS)
    rows: list[Row] = []
    for name in names or found:
        run = getattr(importlib.import_module(f"benchmarks.{name}"), "run", None)
        if run is not None:
            print(f"running {name} ...", file=sys.stderr, flush=True)
            rows += run()
    for row in rows:
        print(_line(row))
    print(f"peak memory of the whole run {peak_mb():.0f} MB")
    short = [r for r in rows if r.ratio is not None and r.wanted is not None and r.ratio < r.wanted]
    return int(bool(short) or not all(r.met for r in rows))


def _line(row: Row) -> str:
    ratio = ""
    if row.ratio is not None:
        wanted = "" if row.wanted is None else f" (wanted {row.wanted:g}x)"
        ratio = f"  {row.ratio:7.1f}x{wanted} against {row.theirs} {1e3 * (row.theirs_s or 0):.1f} ms"
    return f"{row.what:<58} {1e3 * row.ours_s:9.2f} ms{ratio}" + (f"  [{row.note}]" if row.note else "")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
