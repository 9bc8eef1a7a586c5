"""Proof that the laws are awake: change one line of a copy of the package, and some law must go red.

    from planted.harness import Planted, goes_red, stays_green

    LAWS = ("tests/laws/test_pose_laws.py",)                      # pytest node ids, from the checkout's top
    FAULTS = [
        Planted("closing turns the wrong way", "geometry/hinge.py",
                line="    return rz(theta_rad)", instead="    return rz(-theta_rad)", laws=LAWS),
    ]

    def test_the_laws_hold_without_a_fault():
        stays_green(LAWS)

    @pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f.name)
    def test_fault_is_caught(fault):
        goes_red(fault)

``line`` must occur exactly once in the file, so that a fault cannot silently miss its target. Each run is a
process of its own with Numba's compiler off (a patched kernel would have to be compiled first), on a
copy of the package that lives in a temporary folder; ``PLANTED`` in the environment tells a law that it may
draw fewer examples.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
_GREEN, _RED = 0, 1  # pytest's exit status: all passed; some failed (2 and above: it could not run)


class Planted(NamedTuple):
    """One fault: in ``file`` (below src/mountproof), ``line`` is replaced by ``instead``."""

    name: str
    file: str
    line: str
    instead: str
    laws: tuple[str, ...]


def stays_green(laws: tuple[str, ...]) -> None:
    """Assert that the laws hold on an unchanged copy, run the way the planted ones are."""
    status, said = _run(laws, None)
    assert status == _GREEN, f"the laws do not hold without a fault (status {status}):\n{said}"


def goes_red(fault: Planted) -> None:
    """Assert that at least one law fails once the fault is planted."""
    status, said = _run(fault.laws, fault)
    assert status == _RED, f"nobody noticed: {fault.name} (status {status}):\n{said}"


def _run(laws: tuple[str, ...], fault: Planted | None) -> tuple[int, str]:
    with tempfile.TemporaryDirectory(prefix="planted-") as folder:
        copy = Path(folder) / "mountproof"
        shutil.copytree(ROOT / "src" / "mountproof", copy, ignore=shutil.ignore_patterns("__pycache__"))
        if fault is not None:
            target = copy / fault.file
            text = target.read_text(encoding="utf-8")
            found = text.count(fault.line)
            assert found == 1, f"{fault.name}: its line stands {found} times in {fault.file}, not once"
            assert fault.line != fault.instead
            target.write_text(text.replace(fault.line, fault.instead), encoding="utf-8")
        told = dict(os.environ, PYTHONPATH=folder, NUMBA_DISABLE_JIT="1", PLANTED="1")
        # Plug-ins that no law needs take three seconds to come in.
        told["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
        told.pop("PYTEST_XDIST_WORKER", None)
        done = subprocess.run(
            [
                sys.executable,
                "-m",
                "pytest",
                "-x",
                "-q",
                "--no-header",
                *laws,
            ],
            cwd=ROOT,
            env=told,
            capture_output=True,
            text=True,
            check=False,
            timeout=300,
        )
        return done.returncode, (done.stdout + done.stderr)[-4000:]
