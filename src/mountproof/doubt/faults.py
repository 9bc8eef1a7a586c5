"""The ways in which a mounting goes wrong, each with its direction, its usual size and its chance: our stated choices.

Directions follow the trade's signatures (docs/theory/causes.md has the table); sizes are those of the literature where
there are any. A chance is that of meeting the fault in a mounting that somebody has a reason to check.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from mountproof.doubt.hypotheses import Mode
from mountproof.doubt.motions import at_place, from_condyles
from mountproof.doubt.network import Fault
from mountproof.geometry.poses import Array

#: Second molars and incisors of an average jaw (ahead, up, right; mm).
MOLAR_MM: Final = (50.0, -36.0, 28.0)
INCISORS_MM: Final = (92.0, -42.0, 0.0)
#: A pad or heel that meets before the teeth lies about so far ahead of the hinge (mm), and the first teeth here.
BEHIND_MM: Final = 45.0
FIRST_TEETH_MM: Final = 60.0

_EVENLY: Final = np.array([[1.0], [0.0], [0.0], [0.0], [0.0], [0.0]])


def _mode(key: str, cause: str, odds: float, mean: ArrayLike, sd: ArrayLike, *, beside: bool = False) -> Mode:
    m = np.atleast_1d(np.asarray(mean, dtype=np.float64))
    return Mode(key, cause, odds, m, np.diag(np.atleast_1d(np.asarray(sd, dtype=np.float64)) ** 2), beside)


def _tilt(pivot: tuple[float, float], lowered: tuple[float, float]) -> Array:
    """Motion (6, 1) that lowers one place (ahead, right) by 1 mm about another, without touching the line across it."""
    out = np.zeros((6, 1))
    d = np.array(lowered) - np.array(pivot)
    lever = d / float(d @ d)
    out[1, 0], out[2, 0] = lever
    out[0, 0] = -float(at_place((pivot[0], MOLAR_MM[1], pivot[1]))[0, 1:3] @ lever)
    return out


def record_faults(records: int, half_width_mm: float) -> list[Fault]:
    """Return what may be wrong with each record: one condyle sagged, several records alike, or off otherwise."""
    natural = from_condyles(half_width_mm)
    side = {"right": natural[:, [0, 2]], "left": natural[:, [1, 3]]}
    out = []
    for k in range(records):
        for name, columns in side.items():
            cause = f"record_{name}" if k == 0 else f"other_{name}"
            mode = _mode(f"sag_{name}/{k}", cause, 0.04, (0.30, 0.25), (0.12, 0.15), beside=k > 0)
            out.append(Fault(mode, ((f"record/{k}", columns),)))
        cause = "record_off" if k == 0 else "other_off"
        mode = _mode(f"off/{k}", cause, 0.03, np.zeros(5), np.full(5, 0.35), beside=k > 0)
        out.append(Fault(mode, ((f"record/{k}", natural),)))
    if records < 2:
        return out
    # a braced jaw is braced for all the records of a sitting, or for all but one
    apart = [None, *range(1, records)] if records > 2 else [None]
    for name, columns in side.items():
        for honest in apart:
            moves = tuple((f"record/{k}", columns) for k in range(records) if k != honest)
            key = f"sag_{name}/" + ("all" if honest is None else f"but{honest}")
            odds = 0.02 / len(apart)
            out.append(Fault(_mode(key, f"record_{name}", odds, (0.30, 0.25), (0.12, 0.15)), moves))
    return out


def seat_faults(stops: Array | None) -> list[Fault]:
    """Return what may be wrong with how the record lay while it was mounted.

    ``stops`` (6, 6) is the covariance of the seat where stops were entered that hold the cast badly; None otherwise.
    """
    roll = _tilt((MOLAR_MM[0], 0.0), (MOLAR_MM[0], MOLAR_MM[2]))
    behind = _tilt((BEHIND_MM, 0.0), (INCISORS_MM[0], 0.0))
    back = _tilt((INCISORS_MM[0], 0.0), (MOLAR_MM[0], 0.0))
    out = [
        Fault(_mode("seat", "record_seat", 0.05, 0.25, 0.12), (("seat/0", _EVENLY),)),
        Fault(_mode("rocks", "record_rocks", 0.04, 0.0, 0.25), (("seat/0", roll),)),
        Fault(_mode("gum", "behind", 0.03, 0.40, 0.20), (("seat/0", behind),)),
    ]
    if stops is None:
        out.append(
            Fault(
                _mode("stops", "stops", 0.02, (0.0, 0.0), (0.4, 0.2)), (("seat/0", np.hstack([back, roll])),)
            )
        )
    else:
        scale, axes = np.linalg.eigh(stops)
        columns = axes[:, -2:] * np.sqrt(np.clip(scale[-2:], 0.0, None))
        out.append(Fault(_mode("stops", "stops", 0.02, (0.0, 0.0), (2.0, 2.0)), (("seat/0", columns),)))
    return out


def set_faults() -> list[Fault]:
    """Return how a cast moves, or is moved, while the stone sets."""
    x, z = MOLAR_MM[0], MOLAR_MM[2]
    tilts = {
        "right": _tilt((x, -z), (x, z)),
        "left": _tilt((x, z), (x, -z)),
        "front": _tilt((x, 0.0), (INCISORS_MM[0], 0.0)),
        "back": _tilt((INCISORS_MM[0], 0.0), (x, 0.0)),
    }
    out = [Fault(_mode(f"set_{w}", f"set_{w}", 0.04, 0.0, 0.25), (("set", t),)) for w, t in tilts.items()]
    out.append(Fault(_mode("set_evenly", "set_evenly", 0.04, 0.0, 0.25), (("set", _EVENLY),)))
    aside = np.zeros((6, 3))
    aside[3, 0], aside[4, 1], aside[5, 2] = 1.0, 1.0, 1.0
    out.append(
        Fault(_mode("set_aside", "set_aside", 0.02, np.zeros(3), (0.25, 0.25, 0.006)), (("set", aside),))
    )
    return out


def cast_faults() -> list[Fault]:
    """Return what may be wrong with the casts themselves."""
    one = np.ones((1, 1))
    roll = _tilt((MOLAR_MM[0], 0.0), (MOLAR_MM[0], MOLAR_MM[2]))
    plane = np.zeros((6, 3))
    plane[0, 0], plane[1, 1], plane[2, 2] = 1.0, 1.0, 1.0
    sizes = (0.15, 0.15 / 21.0, 0.15 / 28.0)
    return [
        Fault(_mode("narrow", "cast_narrow", 0.04, -0.15, 0.06), (("width", one),)),
        Fault(_mode("wide", "cast_wide", 0.02, 0.15, 0.06), (("width", one),)),
        Fault(_mode("twist", "cast_twist", 0.02, 0.0, 0.25), (("twist", one), ("cast", 0.3 * roll))),
        Fault(_mode("misfit", "cast_misfit", 0.04, np.zeros(3), sizes), (("cast", plane),)),
        Fault(_mode("moved", "teeth_moved", 0.03, np.zeros(3), sizes), (("mouth", plane),)),
    ]


def instrument_faults(half_width_mm: float, axis: Array, pin_kind_mm: float | None) -> list[Fault]:
    """Return what may be wrong with axis, instrument and pin, and what keeps the casts apart with the record out.

    ``axis`` (6, 2) is ``steps.axis_motion``; ``pin_kind_mm`` what the pin would read off its prediction were its shape not
    the one entered.
    """
    opening = np.array([[MIDDLE_DOWN], [1.0], [0.0], [MIDDLE_BACK], [0.0], [0.0]]) / FIRST_TEETH_MM
    one = np.ones((1, 1))
    out = [
        Fault(_mode("axis", "axis", 0.05, (0.0, 0.0), (10.0, 10.0)), (("axis", axis),)),
        Fault(
            _mode("instrument", "instrument", 0.03, np.zeros(5), np.full(5, 0.20)),
            (("play", from_condyles(half_width_mm)),),
        ),
        Fault(_mode("heel", "behind", 0.03, 0.40, 0.20), (("held", opening),)),
        Fault(_mode("pin_apart", "pin_apart", 0.01, 0.30, 0.20), (("held", opening),)),
        Fault(_mode("pin", "pin", 0.04, 0.0, 0.50), (("pin", one),)),
    ]
    if pin_kind_mm is not None:
        sd = max(0.05, 0.25 * abs(pin_kind_mm))
        out.append(Fault(_mode("pin_kind", "pin", 0.03, pin_kind_mm, sd), (("pin", one),)))
    return out


#: One radian of opening lowers the middle of the teeth, and takes it back, by so much (mm).
MIDDLE_DOWN: Final = 70.0
MIDDLE_BACK: Final = -40.0


def scan_faults() -> tuple[Mode, ...]:
    """Return what may be wrong with the scans themselves: they move nothing on the instrument, so no amplitudes.

    ``scan_sides`` is tooth numbers with right and left exchanged, ``scan_mirrored`` the mesh, ``scan_turned`` a mesh
    whose outside is inside.
    """
    odds = {
        "scan_unit": 0.02,
        "scan_arches": 0.01,
        "scan_sides": 0.01,
        "scan_mirrored": 0.01,
        "scan_turned": 0.02,
    }
    return tuple(Mode(key, "scans", chance, np.zeros(0), np.zeros((0, 0))) for key, chance in odds.items())
