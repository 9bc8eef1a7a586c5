"""Ten thousand motions of the lower closed exactly, tooth by tooth, against coal closing the whole arches at each.

coal has its trees built and a bracket to halve. It is timed twice: for the first contact of the whole arches only, which is less
than ours does, and for the same work, that of every pair of teeth up to a foil behind it as well. The processor's time of one
thread is told, preparation apart. Ours holds what is made of the draws as well: which teeth hold the foil, and the shares of the
six numbers of a motion in the closing and in each tooth's hold, each with its own error; coal's holds none of that.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from benchmarks.arches import phantom_arches
from benchmarks.coal_tree import tree
from benchmarks.ratio import Row, peak_mb

from mountproof.doubt.blocks import Joined, join, normal_block
from mountproof.doubt.shares import DrawnShares, Shares, called_shares, drawn_shares
from mountproof.geometry.contact import first_contact
from mountproof.geometry.draws import Closings, Near, closings, near
from mountproof.geometry.poses import exp6, rotation_z
from mountproof.geometry.surface import moved, prepare

if TYPE_CHECKING:
    import coal

TRIANGLES = 214_000
DRAWS, COAL_DRAWS, EXACT_DRAWS = 10_000, 100, 100
#: Arc behind the first contact within which contacts are told, mm: a foil of 12 um and what teeth give, on a slope.
BAND_MM = 0.13
#: SDs of the motions about the middle of the lower: turns (degrees) and shifts (mm), about those of the demo case.
SD_DEG, SD_MM = 0.25, 0.2
#: Motions up to so many SDs are prepared for.
REACH_SDS = 5.5
#: Where coal's halving ends, and how far both may differ.
FINE_RAD, AGREE_RAD = 1e-6, 2e-6
#: Half of coal's bracket: no draw closes farther from the nominal pose's first contact.
BRACKET_RAD = 0.03
#: Seconds that are wanted, of one core.
WANTED_S, WANTED = 1.0, 200.0
#: Folder of the open arches; without it their rows are left out.
OPEN_ARCHES = Path(os.environ.get("MOUNTPROOF_OPEN_ARCHES", "open_arches"))


#: Thickness of the foil, mm.
FOIL_MM = 0.012
#: Own error (95 %) of a share up to which it counts as settled.
SETTLED = 0.03


class Labelled(NamedTuple):
    """Two arches, the lower near its closed pose, with a number of a tooth per face."""

    upper_vertices: np.ndarray
    upper_faces: np.ndarray
    upper_labels: np.ndarray
    lower_vertices: np.ndarray
    lower_faces: np.ndarray
    lower_labels: np.ndarray


def phantom() -> Labelled:
    from mountproof.phantom.arch import build_arch

    a = phantom_arches(TRIANGLES)
    upper, lower = (build_arch(arch, TRIANGLES).teeth for arch in ("upper", "lower"))
    return Labelled(a.upper_vertices, a.upper_faces, upper, a.lower_vertices, a.lower_faces, lower)


def open_arches() -> Labelled:
    """Real crowns with their numbers; ``MOUNTPROOF_OPEN_ARCHES`` in the environment names their folder."""
    placement = json.loads((OPEN_ARCHES / "placement.json").read_text())
    out: list[np.ndarray] = []
    for arch in ("upper", "lower"):
        lines = (OPEN_ARCHES / f"case0_{arch}.obj").read_text().splitlines()
        v = np.array([line.split()[1:4] for line in lines if line.startswith("v ")], dtype=np.float64)
        f = [[int(t.split("/")[0]) - 1 for t in line.split()[1:4]] for line in lines if line.startswith("f ")]
        pose = np.array(placement["frame_from_scan"])
        if arch == "lower":
            pose = np.array(placement["upper_from_lower_closed"]) @ pose
        labels = np.loadtxt(OPEN_ARCHES / f"case0_{arch}_faceFDI.csv", dtype=np.int32)
        out += [np.ascontiguousarray(v @ pose[:3, :3].T + pose[:3, 3]), np.array(f, dtype=np.int32), labels]
    return Labelled(*out)


def prepared(a: Labelled) -> Near:
    return near(
        prepare(a.upper_vertices, a.upper_faces, arch="upper"),
        prepare(a.lower_vertices, a.lower_faces, arch="lower"),
        a.upper_labels,
        a.lower_labels,
        band_mm=BAND_MM,
        turn_rad=REACH_SDS * float(np.radians(SD_DEG)),
        shift_mm=REACH_SDS * SD_MM,
    )


def _joined() -> Joined:
    """The six numbers of a motion about the middle of the lower, each a step of its own."""
    sds = np.repeat([np.radians(SD_DEG), SD_MM], 3)
    names = ("turn x", "turn y", "turn z", "shift x", "shift y", "shift z")
    return join(
        [normal_block(n, np.zeros(1), np.array([[sd * sd]])) for n, sd in zip(names, sds, strict=True)]
    )


def twists(count: int) -> np.ndarray:
    """Random turns (rad) and shifts (mm), (count, 6)."""
    drawn = np.random.default_rng(20260417).standard_normal((count, 6))
    return drawn * np.repeat([np.radians(SD_DEG), SD_MM], 3)


def motions(about_mm: np.ndarray, drawn: np.ndarray) -> np.ndarray:
    """Motions (n, 4, 4) of twists (n, 6) about a place."""
    out = exp6(drawn)
    out[:, :3, 3] += about_mm - out[:, :3, :3] @ about_mm
    return np.ascontiguousarray(out)


def holds(found: Closings) -> np.ndarray:
    """Which lower teeth hold the foil at each motion, (n, teeth)."""
    lower = np.array([pair[1] for pair in found.pairs])
    near_it = found.pair_gap_mm <= FOIL_MM  # not where it is no number
    return np.stack([near_it[:, lower == tooth].any(axis=1) for tooth in np.unique(lower)], axis=1)


def answered(ready: Near, drawn: np.ndarray, moves: np.ndarray) -> tuple[Closings, DrawnShares]:
    """All that is timed: closings, teeth that hold, and what brings them."""
    found = closings(ready, moves)
    outcomes = np.column_stack([found.closing_rad, holds(found).astype(np.float64)])
    return found, drawn_shares(_joined(), drawn, outcomes)


def run() -> list[Row]:
    """Both arches; the open ones only where they are there."""
    rows = _against("phantom", phantom())
    if OPEN_ARCHES.exists():
        rows += _against("open arches", open_arches())
    return rows


def _against(name: str, a: Labelled) -> list[Row]:
    start = time.process_time()
    ready = prepared(a)
    made_s = time.process_time() - start
    told_twists = twists(DRAWS)
    drawn = motions(ready.middle_mm, told_twists)
    answered(ready, told_twists, drawn)
    spent = []
    for _ in range(3):
        start = time.process_time()
        found, shares = answered(ready, told_twists, drawn)
        spent.append(time.process_time() - start)
    ours_s = statistics.median(spent)
    own_error = 1.96 * float(shares.first_se.max())
    frozen_s, frozen = _frozen(ready)
    exact_s = _exact(ready, drawn, found.closing_rad)
    whole_s, pairs_s = (x * DRAWS / COAL_DRAWS for x in _coal(a, ready, drawn, found))
    told = np.isfinite(found.pair_closing_rad).sum(axis=1).mean()
    memory = subprocess.run(
        [sys.executable, "-m", "benchmarks.draws", name], capture_output=True, text=True, check=True
    ).stdout.strip()
    note = (
        f"prepared in {made_s:.2f} s; {told:.1f} of {len(found.pairs)} pairs of teeth told at each; {memory}; "
        f"shares known to {100 * own_error:.1f} % of the variance or better (95 %)"
    )
    return [
        Row(
            f"{name}, 2 x {len(a.upper_faces)} triangles, {DRAWS} draws, every pair of teeth",
            ours_s,
            whole_s + pairs_s,
            f"coal, trees built, the same work ({COAL_DRAWS} draws)",
            WANTED,
            note,
            ours_s <= WANTED_S and own_error <= SETTLED,
        ),
        Row(
            f"{name}, {DRAWS} draws in eight sets for first and total shares",
            frozen_s,
            None,
            "",
            None,
            f"the closing's shares known to {196 * float(frozen.first_se.max()):.1f} % (first) and "
            f"{196 * float(frozen.total_se.max()):.1f} % (total) of the variance (95 %)",
        ),
        Row(f"{name}, the same", ours_s, whole_s, "coal, trees built, whole arches only", None),
        Row(
            f"{name}, the same by first_contact, whole arches", exact_s * DRAWS / EXACT_DRAWS, None, "", None
        ),
    ]


def _frozen(ready: Near) -> tuple[float, Shares]:
    """As the answer does it: two sets and one more a step, as many draws together as before."""
    start = time.process_time()
    shares = called_shares(
        lambda x: closings(ready, motions(ready.middle_mm, x)).closing_rad,
        _joined(),
        DRAWS // 8,
        np.random.default_rng(20260417),
    )
    return time.process_time() - start, shares


def _exact(ready: Near, drawn: np.ndarray, closing: np.ndarray) -> float:
    start = time.process_time()
    for m, want in zip(drawn[:EXACT_DRAWS], closing[:EXACT_DRAWS], strict=True):
        got = first_contact(ready.upper, moved(ready.lower, m @ ready.lower.pose))
        assert got is not None and abs(got.closing_rad - want) < 1e-11
    return time.process_time() - start


def _coal(a: Labelled, ready: Near, drawn: np.ndarray, found: Closings) -> tuple[float, float]:
    """Seconds of the first ``COAL_DRAWS`` motions: the whole arches, and then every pair of teeth near their first contact."""
    import coal

    still, nominal = coal.Transform3s.Identity(), float(np.median(found.closing_rad))
    upper, lower = tree(a.upper_vertices, a.upper_faces), tree(a.lower_vertices, a.lower_faces)
    uppers = {t: tree(a.upper_vertices, a.upper_faces[a.upper_labels == t]) for t in ready.upper_surfaces}
    lowers = {t: tree(a.lower_vertices, a.lower_faces[a.lower_labels == t]) for t in ready.lower_surfaces}

    def touches(up: coal.BVHModelOBBRSS, low: coal.BVHModelOBBRSS, m: np.ndarray, angle: float) -> bool:
        p = rotation_z(angle) @ m
        at = coal.Transform3s(p[:3, :3], p[:3, 3])
        return bool(coal.collide(up, still, low, at, coal.CollisionRequest(), coal.CollisionResult()))

    def halved(
        up: coal.BVHModelOBBRSS, low: coal.BVHModelOBBRSS, m: np.ndarray, free: float, met: float
    ) -> float:
        while met - free > FINE_RAD:
            middle = 0.5 * (free + met)
            free, met = (free, middle) if touches(up, low, m, middle) else (middle, met)
        return 0.5 * (free + met)

    start = time.process_time()
    first = [
        halved(upper, lower, m, nominal - BRACKET_RAD, nominal + BRACKET_RAD) for m in drawn[:COAL_DRAWS]
    ]
    whole_s = time.process_time() - start
    assert np.abs(np.array(first) - found.closing_rad[:COAL_DRAWS]).max() < AGREE_RAD
    start = time.process_time()
    near_first = []
    for m, at in zip(drawn, first, strict=False):
        told = {}
        for i, pair in enumerate(ready.pairs):
            up, low = uppers[pair.upper_label], lowers[pair.lower_label]
            end = at + BAND_MM / pair.least_r_mm
            if touches(up, low, m, end):
                told[i] = halved(up, low, m, at - FINE_RAD, end)
        near_first.append(told)
    pairs_s = time.process_time() - start
    for told, ours in zip(near_first, found.pair_closing_rad, strict=False):
        for i in np.flatnonzero(np.isfinite(ours)):
            assert abs(told[int(i)] - ours[i]) < AGREE_RAD, (i, told, ours[i])
    return whole_s, pairs_s


def _memory(name: str) -> str:
    a = phantom() if name == "phantom" else open_arches()
    before = peak_mb()
    ready = prepared(a)
    drawn = twists(DRAWS)
    answered(ready, drawn, motions(ready.middle_mm, drawn))
    return f"peak memory {peak_mb():.0f} MB, {before:.0f} MB of it the program and the meshes"


if __name__ == "__main__":
    print(_memory(sys.argv[1]))
