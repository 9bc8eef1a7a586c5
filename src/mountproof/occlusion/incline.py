"""Which way a place on a tooth faces: mesial or distal, towards cheek or lip, or towards the tongue."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.occlusion.crowns import table_plane
from mountproof.said import say
from mountproof.teeth import Arch, along_arch_key, is_posterior, side_of

F64 = NDArray[np.float64]
I32 = NDArray[np.int32]

#: A place tilted less than this against the occlusal table faces neither way.
LEVEL_DEG = 8.0
_FACES_ENOUGH = 8000


class ToothFrame(NamedTuple):
    """Unit vectors (3,) of one tooth in the program's frame.

    ``mesial`` towards the midline along the arch, ``outward`` towards cheek or lip, ``occlusal`` out of the table
    towards the other arch.
    """

    mesial: F64
    outward: F64
    occlusal: F64


def tooth_frames(vertices_mm: F64, faces: I32, teeth: I32, arch: Arch) -> dict[int, ToothFrame]:
    """Return a frame for each tooth of one arch.

    ``vertices_mm`` (n, 3) mm in the program's frame, ``faces`` (m, 3), ``teeth`` (m,) ISO 3950 or 0. Along the arch is
    told by the neighbours of a tooth; the occlusal table is the plane that rests on the crowns. Empty where there is no tooth.
    """
    on = np.flatnonzero(teeth > 0)
    if on.size < 12:
        return {}
    towards = 1.0 if arch == "lower" else -1.0
    # A few hundred faces a tooth tell its middle and the table well enough for directions in words.
    on = on[:: max(1, on.size // _FACES_ENOUGH)]
    on_tooth = teeth[on]
    centre = vertices_mm[faces[on]].mean(axis=1)
    _, b, c = table_plane(centre[:, 0], centre[:, 2], towards * centre[:, 1])
    occlusal = np.array([-b, towards, -c])
    occlusal /= np.linalg.norm(occlusal)
    row = sorted((int(t) for t in np.unique(on_tooth)), key=along_arch_key)
    middle = np.array([centre[on_tooth == t].mean(axis=0) for t in row])
    found: dict[int, ToothFrame] = {}
    for k, tooth in enumerate(row):
        to_left = _flattened(_way_along(middle, k, tooth), occlusal)
        # Going from the patient's right to the left, lips and cheeks are on the left hand seen from above.
        outward = _flattened(np.array([-to_left[2], 0.0, to_left[0]]), occlusal)
        found[tooth] = ToothFrame(to_left if side_of(tooth) == "right" else -to_left, outward, occlusal)
    return found


def _way_along(middle: F64, k: int, tooth: int) -> F64:
    """Return the way along the arch, from right to left, at tooth ``k`` by its two neighbours on either side."""
    way = np.zeros(3)
    for step, weight in ((1, 1.0), (2, 0.5)):
        if k + step < len(middle):
            way += weight * (middle[k + step] - middle[k])
        if k - step >= 0:
            way -= weight * (middle[k - step] - middle[k])
    if (
        not way.any()
    ):  # the only tooth of its arch: a back tooth's row runs fore and aft, a front tooth's across
        side = 1.0 if side_of(tooth) == "right" else -1.0
        return np.array([side, 0.0, 0.0]) if is_posterior(tooth) else np.array([0.0, 0.0, -1.0])
    return way


def _flattened(direction: F64, occlusal: F64) -> F64:
    flat = direction - occlusal * float(direction @ occlusal)
    unit: F64 = flat / np.linalg.norm(flat)
    return unit


def facing(frame: ToothFrame, tooth: int, normal: F64) -> str:
    """Return in words which way the surface faces: ``"level"``, ``"mesial"``, ``"distal and lingual"``, ...

    ``normal`` (3,) unit, out of the tooth. Two words where neither direction clearly prevails (22.5 degrees to
    either side of the diagonal).
    """
    along, across = float(normal @ frame.mesial), float(normal @ frame.outward)
    tilt = np.degrees(np.arctan2(np.hypot(along, across), float(normal @ frame.occlusal)))
    if tilt < LEVEL_DEG:
        return say("level")
    cheek = say("buccal") if is_posterior(tooth) else say("labial")
    first = say("mesial") if along > 0 else say("distal")
    second = cheek if across > 0 else say("lingual")
    turn = float(np.degrees(np.arctan2(abs(across), abs(along))))
    if turn < 22.5:
        return first
    return second if turn > 67.5 else say("{first} and {second}", first=first, second=second)
