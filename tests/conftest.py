"""Shared fixtures."""

from __future__ import annotations

import os
from pathlib import Path

# Matrices here are small: threads of the linear algebra library would only wait for each other. Before numpy.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import fcntl
import pickle
import signal
import sys
from collections.abc import Sequence

import pytest
from hypothesis import settings

from mountproof.answers.result import Sheet
from mountproof.faults import Fault, FaultError
from mountproof.said import Said

# Started in the background of a shell, the tests would hand an ignored Ctrl+C down to the programs that they stop.
signal.signal(signal.SIGINT, signal.default_int_handler)

settings.register_profile("repeatable", derandomize=True, deadline=None, database=None)
settings.load_profile("repeatable")

#: Where the open arches (real crowns, MIT licence) may lie: named by the environment, or beside the checkout.
_PLACES = (
    os.environ.get("MOUNTPROOF_OPEN_ARCHES", ""),
    str(Path(__file__).resolve().parents[2] / "shared" / "data" / "open_arches"),
)


@pytest.fixture(scope="session")
def open_arches() -> Path:
    """Folder of the open arches; the test is skipped, and says so, where they are not."""
    for place in _PLACES:
        if place and (Path(place) / "placement.json").exists():
            return Path(place)
    pytest.skip("the open arches are not beside this checkout (MOUNTPROOF_OPEN_ARCHES names another place)")


@pytest.fixture(scope="session")
def small_demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of the demo case with arches of 20 000 triangles, to read and not to change."""
    from mountproof.surfaces.demo_case import make_demo

    folder = tmp_path_factory.mktemp("small") / "demo"
    folder.mkdir()
    make_demo(folder, triangles=20_000)
    return folder


@pytest.fixture(scope="session")
def example_sheets(tmp_path_factory: pytest.TempPathFactory) -> list[Sheet]:
    """Sheets of every example case of the pages: worked out once, by whichever process asks first."""
    from docs.generate import example_sheets

    base = tmp_path_factory.getbasetemp()
    kept = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "example-sheets.pickle"
    with kept.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not kept.exists():
            made = example_sheets()
            kept.write_bytes(pickle.dumps(made))
            return made
    sheets: list[Sheet] = pickle.loads(kept.read_bytes())
    return sheets


_RAISED = FaultError.__init__


def _said(self: FaultError, faults: Sequence[Fault]) -> None:
    """Refuse a fault of the program whose texts no other language could say."""
    _RAISED(self, faults)
    if "/src/mountproof/" in sys._getframe(1).f_code.co_filename.replace(os.sep, "/"):
        for fault in self.faults:
            assert isinstance(fault.what, Said) and isinstance(fault.todo, Said), (
                f"make these by say(): {fault}"
            )


# Every fault that any test provokes is held to it.
FaultError.__init__ = _said  # type: ignore[method-assign]
