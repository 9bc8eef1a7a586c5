"""How long people wait: ratios that hold on any machine, and many people at once."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

from surfaces.web import load
from surfaces.web.bench_client import Client, bench, bring_in, edit


def cpu_s(do: Callable[[], object]) -> float:
    begun = time.process_time()
    do()
    return time.process_time() - begun


def test_only_what_a_change_touches_is_answered_anew(tmp_path: Path) -> None:
    with bench(tmp_path) as client:
        case_id = bring_in(client)["case"]["id"]
        asked = [cpu_s(lambda: client.get(f"/api/cases/{case_id}/sheet")) for _ in range(5)]
        readings, weights = [], []
        revision = 1
        for at in range(4):
            field = {"marks.readings_mm.UR-LR.B": f"38.0{at}1"}
            readings.append(cpu_s(lambda f=field, r=revision: _edited(client, case_id, r, **f)))
            weights.append(
                cpu_s(lambda r=revision + 1, at=at: _edited(client, case_id, r, bench__powder_g=f"12{at}.5"))
            )
            revision += 2
    assert min(weights) < 0.7 * min(readings), "the marks were not touched by a weight"
    assert min(asked) < 0.5 * min(readings), "asking again works nothing out"
    # Three times what it takes here: the figures stand on the page about the web bench.
    assert min(readings) < 2.0


def _edited(client: Client, case_id: int, based_on: int, **fields: object) -> None:
    answer = edit(client, case_id, based_on, **fields)
    assert answer.status_code == 200, answer.text


def test_many_people_enter_readings_and_none_is_lost(tmp_path: Path) -> None:
    """The short form of ``surfaces.web.load``; what each typed last is in the store, whatever the load."""
    done = load.run(clients=8, seconds=4.0, pause_s=0.5, store=tmp_path)
    print(load.report(done, 4.0))  # noqa: T201
    assert sum(len(one.waits_s) for one in done) >= 8
    assert not [error for one in done for error in one.errors]
