"""Which way a place on a tooth faces: mesial or distal, towards cheek or lip, or towards the tongue."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.occlusion.archline import fit_archline, project
from mountproof.occlusion.crowns import table_plane
from mountproof.teeth import Arch, is_posterior, side_of

F64 = NDArray[np.float64]
I32 = NDArray[np.int32]

#: A place tilted less than this against the occlusal table faces neither way.
LEVEL_DEG = 8.0


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

    ``vertices_mm`` (n, 3) mm in the program's frame, ``faces`` (m, 3), ``teeth`` (m,) ISO 3950 or 0. The arch line is
    fitted to all crowns; the occlusal table is the plane that rests on them. Empty where there is no tooth.
    """
    on = np.flatnonzero(teeth > 0)
    if on.size < 12:
        return {}
    pick = on[:: max(1, on.size // 6000)]
    centre = vertices_mm[faces[pick]].mean(axis=1)
    corner = vertices_mm[faces[pick]]
    area = np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1)
    towards = 1.0 if arch == "lower" else -1.0
    line = fit_archline(centre[:, 0], centre[:, 2], area)
    _, b, c = table_plane(centre[:, 0], centre[:, 2], towards * centre[:, 1])
    occlusal = np.array([-b, towards, -c])
    occlusal /= np.linalg.norm(occlusal)
    found: dict[int, ToothFrame] = {}
    for number in np.unique(teeth[on]):
        middle = vertices_mm[faces[teeth == number]].mean(axis=(0, 1))
        s, _ = project(line, middle[:1], middle[2:])
        i = int(np.argmin(np.abs(line.s_mm - s[0])))
        towards_left = np.array(
            [line.nz[i], 0.0, -line.nx[i]]
        )  # the way s runs: from the patient's right to the left
        mesial = towards_left if side_of(int(number)) == "right" else -towards_left
        mesial = _flattened(mesial, occlusal)
        outward = _flattened(np.array([line.nx[i], 0.0, line.nz[i]]), occlusal)
        outward = outward - mesial * float(outward @ mesial)
        found[int(number)] = ToothFrame(mesial, outward / np.linalg.norm(outward), occlusal)
    return found


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
        return "level"
    cheek = "buccal" if is_posterior(tooth) else "labial"
    first = "mesial" if along > 0 else "distal"
    second = cheek if across > 0 else "lingual"
    turn = float(np.degrees(np.arctan2(abs(across), abs(along))))
    if turn < 22.5:
        return first
    return second if turn > 67.5 else f"{first} and {second}"
