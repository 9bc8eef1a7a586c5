"""Many people at one bench: clients enter readings for a while, and how long each waited is printed.

    PYTHONPATH=tests .venv/bin/python -m surfaces.web.load --clients 50 --seconds 60 --pause 5

Each client works at a case of its own over a connection of its own, types a reading, waits for the answers, and thinks
for ``pause`` seconds on average before the next. Every reading must be in the store at the end.
"""

from __future__ import annotations

import argparse
import random
import tempfile
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path

from mountproof.case.store import Store
from surfaces.web.bench_client import Running, bring_in, edit, running

_PAIRS = {"UR-LR": 38.05, "UA-LA": 42.60, "UL-LL": 38.10}


@dataclass
class Client:
    """What one client did: waiting times in seconds, and what it typed last by case and pair."""

    waits_s: list[float] = field(default_factory=list)
    typed: dict[tuple[int, str], float] = field(default_factory=dict)
    errors: list[str] = field(default_factory=list)


def work(server: Running, seconds: float, pause_s: float, seed: int, client: Client) -> None:
    """Enter readings for a while, one at least, from when the case is there."""
    rng = random.Random(seed)
    with server.client(f"C{seed}") as asking:
        case_id, seen = bring_in(asking)["case"]["id"], 1
        until = time.monotonic() + seconds
        while True:
            time.sleep(rng.expovariate(1.0 / pause_s) if pause_s else 0.0)
            if client.waits_s and time.monotonic() > until:
                return
            pair = rng.choice(list(_PAIRS))
            value = round(_PAIRS[pair] + rng.choice([-0.05, 0.0, 0.05]) + rng.uniform(-0.01, 0.01), 3)
            begun = time.monotonic()
            answer = edit(asking, case_id, seen, **{f"marks.readings_mm.{pair}.B": f"{value:.3f}"})
            client.waits_s.append(time.monotonic() - begun)
            if answer.status_code != 200:
                client.errors.append(answer.text[:200])
                continue
            seen = answer.json()["case"]["revision"]
            client.typed[case_id, pair] = value


def run(clients: int, seconds: float, pause_s: float, store: Path) -> list[Client]:
    """Run the clients against a server of their own and return what they did; AssertionError where a reading is lost."""
    done = [Client() for _ in range(clients)]
    with running(store) as server:
        threads = [
            threading.Thread(target=work, args=(server, seconds, pause_s, at, one))
            for at, one in enumerate(done)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    with Store(store) as opened, opened.snapshot() as snapshot:
        for one in done:
            for (case_id, pair), value in one.typed.items():
                marks = snapshot.case(case_id).marks
                assert marks is not None and marks.readings_mm.get(pair, "B") == (value,), (case_id, pair)
        assert opened.check() == ()
    return done


def report(done: list[Client], seconds: float) -> str:
    """Say how many readings came in, and how long half, 99 % and all of them waited."""
    waits = sorted(wait for one in done for wait in one.waits_s)
    errors = sum(len(one.errors) for one in done)
    half, most = waits[len(waits) // 2], waits[min(len(waits) - 1, int(0.99 * len(waits)))]
    return (
        f"{len(done)} clients, {len(waits)} readings in {seconds:.0f} s ({len(waits) / seconds:.1f} a second), "
        f"{errors} errors; waited: half {half * 1000:.0f} ms, 99 % {most * 1000:.0f} ms, longest {waits[-1] * 1000:.0f} ms"
    )


if __name__ == "__main__":
    asked = argparse.ArgumentParser()
    asked.add_argument("--clients", type=int, default=50)
    asked.add_argument("--seconds", type=float, default=60.0)
    asked.add_argument("--pause", type=float, default=5.0)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        found = run(given.clients, given.seconds, given.pause, Path(folder))
    print(report(found, given.seconds))  # noqa: T201
