"""The page orders pours by the clock as the server does: both are held against one file of orders."""

from __future__ import annotations

import datetime as dt
import json
import os
from pathlib import Path
from typing import Any

from mountproof.answers.pours import PourTimes, in_order, pour_times
from mountproof.case.files import parse_case
from mountproof.surfaces.web.shapes.procedure import pour_out

#: Read by web/tests/bench/clock.test.ts as well.
ORDERS = Path(__file__).parents[2] / "web" / "tests" / "bench" / "orders.json"
BASE = dt.datetime(2026, 3, 17, 9, 2, tzinfo=dt.UTC)
MIN = dt.timedelta(minutes=1)


def pours() -> list[PourTimes]:
    """Pours of every kind: hands on and off, own times, released, contradictory, two at the same instant."""
    lines = ['code = "HERON-1"', "[pours]"]
    for name, begun, more in (
        ("a", 0.0, ""),
        ("b", 0.0, ""),
        ("c", 0.5, "set_min = 9, release_min = 20"),
        ("d", -2.0, "hands_off = 1"),
        ("e", -30.0, "hands_off = 2"),
        ("f", -44.0, ""),
        ("g", -60.0, "hands_off = 3, released = 50"),
        ("h", 3.0, "set_min = 1"),
        ("i", 10.25, "hands_off = 6, mix_s = 75"),
    ):
        at = BASE + begun * MIN
        entries = [f'cast = "lower", powder_met_water = {at.isoformat()}']
        for entry in filter(None, more.split(", ")):
            key, value = entry.split(" = ")
            when = (at + int(value) * MIN).isoformat() if key in ("hands_off", "released") else value
            entries.append(f"{key} = {when}")
        lines.append(f"{name} = {{ {', '.join(entries)} }}")
    return list(pour_times(parse_case("\n".join(lines) + "\n")))


def made() -> dict[str, Any]:
    there = pours()
    now = BASE - 5 * MIN
    orders = []
    while now < BASE + 60 * MIN:
        orders.append({"now": now.isoformat(), "keys": [pour.name for pour in in_order(there, now)]})
        now += dt.timedelta(seconds=37)
    out = [pour_out(1, 1, "HERON-1", pour, BASE, "en").model_dump(mode="json") for pour in there]
    for one in out:
        # What a clock on this computer's wall shows is no part of the order.
        one["begun_shown"] = ""
        one["next"] = one["late"] = None
        for mark in one["marks"]:
            mark["at_shown"] = ""
    return {"pours": out, "orders": orders}


def test_the_orders_that_the_page_is_held_against_are_the_server_s() -> None:
    """MOUNTPROOF_GOLDEN=write writes them anew."""
    text = json.dumps(made(), indent=1) + "\n"
    if os.environ.get("MOUNTPROOF_GOLDEN") == "write":
        ORDERS.write_text(text, encoding="utf-8")
    assert ORDERS.read_text(encoding="utf-8") == text
    assert len({tuple(order["keys"]) for order in made()["orders"]}) > 6
