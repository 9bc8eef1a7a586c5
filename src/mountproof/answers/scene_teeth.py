"""Where the numbers of the teeth stand in the picture: beside the crowns, towards lip and cheek, over nothing."""

from __future__ import annotations

import numpy as np

from mountproof.answers.foils import written
from mountproof.answers.scene_parts import SceneArch, SceneLabel
from mountproof.case.model import Case
from mountproof.occlusion.incline import ToothFrame

#: A number stands this far outside its crown, at the height of its table less this.
_BESIDE_MM, _BELOW_TABLE_MM = 2.2, 1.0
#: The crown counts this far down from its highest place: below it roots and gum flare out.
_CROWN_MM = 4.0


def tooth_labels(case: Case, arch: SceneArch, frames: dict[int, ToothFrame]) -> tuple[SceneLabel, ...]:
    """Return one label for each tooth of an arch that has a frame."""
    found = []
    for tooth, frame in frames.items():
        points = arch.vertices_mm[arch.tooth == tooth]
        if not len(points):
            continue
        height = points @ frame.occlusal
        top = float(np.quantile(height, 0.99))
        crown = points[height > top - _CROWN_MM]
        middle = crown.mean(axis=0)
        reach = float(np.quantile((crown - middle) @ frame.outward, 0.99)) + _BESIDE_MM
        lift = top - _BELOW_TABLE_MM - float(middle @ frame.occlusal)
        at = middle + frame.outward * reach + frame.occlusal * lift
        found.append(SceneLabel("tooth", written(case, tooth), at, arch.arch == "lower"))
    return tuple(found)
