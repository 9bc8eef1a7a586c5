"""Write to one case of a store from several threads of this process; run several times at once by the test.

``python together.py FOLDER NAME THREADS CHANGES`` prints the longest wait for one change, in seconds.
"""

from __future__ import annotations

import sys
import threading
import time
from pathlib import Path

from mountproof.case.store import ConflictError, Store

#: Fields of their own for up to six writers, and one that all of them change.
FIELDS = ["lab", "by", "bench.room_c", "bench.powder_g", "bench.water_ml", "bench.volume_ml"]
SHARED = "note"


def write(store: Store, who: str, field: str, changes: int, waits: list[float]) -> None:
    """Change a field of one's own, and add one's word to the shared one, always on what was seen last."""
    numbers = field not in ("lab", "by")
    for n in range(1, changes + 1):
        with store.snapshot() as seen:
            based_on = seen.head(1).number
        began = time.perf_counter()
        with store.change(who) as change:
            change.edit(1, {field: n + 1.0 if numbers else f"{n}"}, based_on, f"{who} {n}")
        waits.append(time.perf_counter() - began)
        while True:  # the shared one: look again after each conflict, as a person would
            with store.snapshot() as seen:
                based_on, note = seen.head(1).number, seen.case(1).note
            try:
                with store.change(who) as change:
                    change.edit(1, {SHARED: f"{note} {who}-{n}".strip()}, based_on)
                break
            except ConflictError as error:
                assert [one.field for one in error.conflicts] == [SHARED]
                assert error.conflicts[0].who != who


def main(folder: Path, name: str, threads: int, changes: int) -> float:
    """Start the threads; return the longest wait."""
    waits: list[float] = []
    first = int(name) * threads
    with Store(folder, wait_s=60) as store:
        running = [
            threading.Thread(target=write, args=(store, f"{name}{t}", FIELDS[first + t], changes, waits))
            for t in range(threads)
        ]
        for one in running:
            one.start()
        for one in running:
            one.join()
    assert len(waits) == threads * changes
    return max(waits)


if __name__ == "__main__":
    sys.stdout.write(f"{main(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), int(sys.argv[4])):.3f}\n")
