"""Typed results of fitting the two casts to each other: small heights found once, at the default density.

They were found by sampling both casts in hinge coordinates on a fine grid and moving each upper tooth, and the inclines
it meets on, until the gap along closure was 4 um in maximum intercuspation on the eight upper premolars and molars,
14 um on the centrals, 50 to 70 um on the other front teeth, and, at first contact on the instrument, 0 on 15 and
0.22 to 0.34 mm on the other seven. The tests sample again.
"""

from __future__ import annotations

from mountproof.phantom.occlusal import Cusp, Element, Facet
from mountproof.phantom.shapes import LOWER, UPPER

#: Teeth 15 and 45 are little worn: steeper, sharper inclines where they meet on the way back.
_STEEP: dict[int, dict[str, tuple[float, float, float]]] = {
    15: {"B": (0.97, 0.56, 0.40), "L": (0.97, 0.58, 0.40)},
    45: {"B": (0.75, 0.97, 0.40)},
}

#: Inclines that a person has worn or kept: soft changes of height on single teeth.
_FACETS: dict[int, tuple[Facet, ...]] = {
    14: (Facet(-0.95, -0.72, 0.1251, 0.75, 1),),
    15: (Facet(-0.72, -0.76, 0.0901, 0.75, 1),),
    16: (Facet(-3.2, -1.17, 0.3344, 0.75, 1),),
    17: (Facet(-2.53, -1.11, 0.4723, 0.75, 1),),
    24: (Facet(-1.05, -0.99, 0.3158, 0.75, 1),),
    25: (Facet(-1.35, -1.07, 0.3324, 0.75, 1),),
    26: (Facet(-3.24, -1.22, 0.2388, 0.75, 1),),
    27: (Facet(-2.72, -1.27, 0.2739, 0.75, 1),),
    34: (
        Facet(1.08, 0.81, -0.4445, 0.75, 1),
        Facet(0.69, 0.83, 0.0157, 0.75, 1),
    ),
    35: (
        Facet(0.76, 1.31, -0.3702, 0.75, 1),
        Facet(1.32, 1.32, -0.0945, 0.75, 1),
        Facet(0.42, 1.13, -0.1289, 0.75, 1),
    ),
    36: (Facet(-1.61, 1.33, -0.2192, 0.75, 1),),
    37: (Facet(-1.72, 1.06, -0.1489, 0.75, 1),),
    44: (
        Facet(1.09, 0.88, -0.2959, 0.75, 1),
        Facet(0.69, 0.86, 0.0113, 0.75, 1),
    ),
    45: (Facet(0.98, 1.29, -0.0633, 0.75, 1),),
    46: (
        Facet(-4.26, 2.47, -0.1084, 0.75, 1),
        Facet(-1.59, 1.29, -0.3174, 0.75, 1),
    ),
    47: (
        Facet(-1.57, 1.16, -0.299, 0.75, 1),
        Facet(-1.22, 1.19, -0.012, 0.75, 1),
    ),
}

#: How far single teeth stand from where their seat puts them (mm, up).
_LIFT_MM: dict[int, float] = {
    11: 0.1529,
    12: 0.1904,
    13: -0.7056,
    14: -0.684,
    15: -0.3644,
    16: -0.06,
    17: 0.1787,
    21: 0.1529,
    22: 0.2044,
    23: -0.6934,
    24: -0.6423,
    25: -0.2221,
    26: -0.0567,
    27: 0.1652,
}


def elements_of(tooth: int) -> tuple[Element, ...]:
    """Occlusal elements of one tooth (ISO 3950), with its own adjustments."""
    own = _STEEP.get(tooth, {})
    out: list[Element] = []
    for e in (UPPER if tooth // 10 in (1, 2) else LOWER)[tooth % 10].elements:
        if isinstance(e, Cusp) and e.name in own:
            mesial, distal, rounding = own[e.name]
            out.append(e._replace(slope_mesial=mesial, slope_distal=distal, round_mm=rounding))
        else:
            out.append(e)
    return (*out, *_FACETS.get(tooth, ()))


def lift_of(tooth: int) -> float:
    """How far (mm, up) one tooth stands from where its seat puts it."""
    return _LIFT_MM.get(tooth, 0.0)
