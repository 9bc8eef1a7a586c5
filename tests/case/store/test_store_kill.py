"""Kill writers at every statement, while scans or bundles come in, at random moments, while an old file is brought up to
date and while a backup is put back.

Afterwards there is the old or the new case, nothing else. What kill -9 cannot show is a disk that loses power; for that
the store relies on SQLite with synchronous=FULL and on fsync.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent
SRC = HERE.parents[2] / "src"
#: How many are killed of each kind; 250 in all.
TIMES = {"statement": 56, "upload": 84, "moment": 36, "step": 34, "bundle": 25, "restore": 15}


def test_enough_are_killed() -> None:
    assert sum(TIMES.values()) >= 200


@pytest.mark.parametrize("kind", TIMES)
def test_the_old_or_the_new_and_nothing_else(kind: str, tmp_path: Path) -> None:
    found = run(kind, TIMES[kind], tmp_path)
    assert found["wrong"] == []
    assert found["killed"] == TIMES[kind]
    assert found["old"] + found["new"] == found["tried"]
    assert found["old"] > 0
    if kind in ("statement", "step"):
        # Some were killed after the end of the transaction, and what they wrote is there.
        assert found["new"] > found["tried"] - found["killed"]


def run(kind: str, times: int, folder: Path) -> dict[str, Any]:
    command = [
        sys.executable,
        "-W",
        "error",
        str(HERE / "killed.py"),
        str(folder / "s"),
        kind,
        str(times),
        "1",
    ]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env={"PYTHONPATH": str(SRC)})
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found
