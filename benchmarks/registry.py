"""Thousands of made-up cases on two workers and a real PostgreSQL: a worker killed, the whole stopped and killed, gone on with.

Only by name, it is no short one: ``python -m benchmarks registry`` takes 2 000 cases (MOUNTPROOF_REGISTRY_CASES says
another number); every one of them is worked out one by one as well, and compared to the last bit
(MOUNTPROOF_REGISTRY_EVERY=10 compares a tenth). How the work grows with the cases is told by processor time.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import psutil
from benchmarks.postgresql import server
from benchmarks.ratio import Row
from benchmarks.registry_growth import growth

from mountproof.case.store.registry import Registry
from mountproof.phantom.many import write_many
from mountproof.surfaces.registry.one import PROGRAM, given_by, numbers_of

SEED = 7
_PROGRAM = "from mountproof.surfaces.cli import main; main()"


class Seen(NamedTuple):
    """What a whole scenario showed: numbers of cases, and the seconds at which so many rows stood there."""

    many: int
    killed_at: int
    stopped_at: tuple[int, ...]
    there: int
    made: int
    rows: int
    different: int
    compared: int
    per_minute: float
    grown: list[tuple[int, float]]
    said: str


def scenario(
    place: Path,
    many: int,
    url: str,
    every: int = 1,
    stops: tuple[signal.Signals, ...] = (signal.SIGINT, signal.SIGKILL),
) -> Seen:
    """Work through ``many`` cases, killing a worker at a quarter, then stopping the whole by each signal; go on to the end.

    Every ``every``-th is compared with what it gives one by one in this process.
    """
    folder = place / "cases"
    write_many(folder, many, SEED)
    grown: list[tuple[int, float]] = []
    with Registry(url, PROGRAM) as registry:
        run, start = _begin(folder, url), time.monotonic()

        def wait(goal: int) -> int:
            while (now := registry.count()) < goal and run.poll() is None:
                time.sleep(0.02)
            grown.append((now, time.monotonic() - start))
            print(f"{now} rows after {grown[-1][1]:.0f} s", file=sys.stderr, flush=True)
            return now

        killed_at = wait(many // 4)
        assert run.poll() is None, run.communicate()
        workers = [p for p in psutil.Process(run.pid).children() if "spawn_main" in " ".join(p.cmdline())]
        assert len(workers) == 2, "two workers"
        heard = {
            c.laddr.ip
            for p in (psutil.Process(run.pid), *workers)
            for c in p.net_connections()
            if c.status == "LISTEN"
        }
        assert heard == {"127.0.0.1"}, heard
        workers[0].kill()
        stopped_at, said = [], ""
        for i, stop in enumerate(stops):
            wait(many // 2 + i * many // (4 * len(stops)))
            assert run.poll() is None, "not done yet"
            own = [run.pid, *(p.pid for p in psutil.Process(run.pid).children(recursive=True))]
            run.send_signal(stop)
            said += run.communicate(timeout=60)[1]
            assert run.returncode == (130 if stop == signal.SIGINT else -stop), (run.returncode, said)
            end = time.monotonic() + 30
            while any(map(psutil.pid_exists, own)) and time.monotonic() < end:
                time.sleep(0.02)
            assert not any(map(psutil.pid_exists, own)), "workers end with the one who began them"
            stopped_at.append(registry.count())
            pause = time.monotonic()
            run = _begin(folder, url)
        out, more = run.communicate(timeout=36_000)
        assert run.returncode == 0, more
        grown.append((registry.count(), time.monotonic() - start))
        told: dict[str, Any] = json.loads(out)
        rows, different, compared = registry.count(), 0, 0
        again = time.monotonic() - pause
    for i, one in list(enumerate(told["cases"]))[::every]:
        alone = given_by((folder / f"case-{i:05d}" / "case.toml").read_bytes())
        compared += 1
        assert alone.numbers is not None
        # As JSON, tuples are lists there: the same text is the same to the last bit.
        different += json.loads(json.dumps(numbers_of(alone.numbers)._asdict())) != one["numbers"]
    rate = 60.0 * told["made"] / again
    return Seen(
        many,
        killed_at,
        tuple(stopped_at),
        told["there"],
        told["made"],
        rows,
        different,
        compared,
        rate,
        grown,
        said + more,
    )


def _begin(folder: Path, url: str) -> subprocess.Popen[str]:
    env = os.environ | {"MOUNTPROOF_REGISTRY": url, "OPENBLAS_NUM_THREADS": "1"}
    call = [
        sys.executable,
        "-W",
        "error",
        "-c",
        _PROGRAM,
        "registry",
        str(folder),
        "--workers",
        "2",
        "--json",
    ]
    # Started in the background of a shell, it would ignore Ctrl+C.
    free: Callable[[], object] = lambda: signal.signal(signal.SIGINT, signal.default_int_handler)  # noqa: E731
    return subprocess.Popen(
        call, env=env, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, preexec_fn=free
    )


def run() -> list[Row]:
    if "registry" not in sys.argv:
        return []
    many = int(os.environ.get("MOUNTPROOF_REGISTRY_CASES", "2000"))
    every = int(os.environ.get("MOUNTPROOF_REGISTRY_EVERY", "1"))
    with tempfile.TemporaryDirectory(prefix="mountproof-registry-") as name, server() as url:
        seen = scenario(Path(name), many, url, every)
        grows = growth(Path(name) / "cases", many, url)
    grown = ", ".join(f"{n} rows after {s:.0f} s" for n, s in seen.grown)
    note = (
        f"{seen.per_minute:.0f} cases a minute; {grown}; worker killed at {seen.killed_at}, stopped at "
        f"{' and '.join(map(str, seen.stopped_at))}, "
        f"gone on with {seen.there} there and {seen.made} made; rows {seen.rows}; "
        f"{seen.different} of {seen.compared} other than one by one; {grows.told}"
    )
    whole = (
        seen.rows == many == seen.there + seen.made
        and seen.there == seen.stopped_at[-1]
        and not seen.different
    )
    whole = whole and grows.linear
    return [Row(f"a case of a registry of {many}", 60.0 / seen.per_minute, None, "", None, note, whole)]
