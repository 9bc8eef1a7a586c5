"""What the picture in space is made of: surfaces, lines, sites, labels and the stops of the closing slider.

All of it is evidence of the answer to the contacts. Lengths are mm in the frame of the upper jaw, the lower as the
record holds it; what moves with the lower is turned about the hinge axis by the angle that the slider stands at.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.geometry.poses import Array
from mountproof.teeth import Arch

#: What is known of the gap at a vertex: nothing opposes it or its own arch hides it; it is known; a hole leaves it open.
NOTHING, KNOWN, UNKNOWN = 0, 1, 2

Kind = Literal["hinge", "pin", "table", "plane"]


class SceneArch(NamedTuple):
    """One arch, ready to be drawn.

    ``vertices_mm`` (n, 3), the lower as the record holds it; ``faces`` (m, 3); ``normals`` (n, 3) unit, outwards;
    ``relief_mm`` (n,) height over the surroundings, for shading; ``turn_rad`` (n,) how far the lower closes until this vertex
    meets its opponent, 0 where ``state`` is not ``KNOWN``; ``radius_mm`` (n,) from the hinge axis: the gap left along closure
    after closing by c is (turn - c) radius; ``tooth`` (n,) ISO 3950 or 0; ``state`` (n,).
    """

    arch: Arch
    vertices_mm: Array
    faces: NDArray[np.int32]
    normals: Array
    relief_mm: Array
    turn_rad: Array
    radius_mm: Array
    tooth: NDArray[np.int32]
    state: NDArray[np.uint8]


class SceneLine(NamedTuple):
    """A line with its words; ``points_mm`` (n, 3), closed where the first point comes again at the end.

    ``moves``: with the lower; ``assumed``: a length of it was not measured.
    """

    key: str
    kind: Kind
    words: str
    points_mm: Array
    moves: bool
    assumed: bool


class SceneLabel(NamedTuple):
    """A short text at a place: a tooth's number, a number on a contour line, R and L at the hinge points."""

    kind: Literal["tooth", "contour", "side", "line"]
    words: str
    point_mm: Array
    moves: bool


class SceneSite(NamedTuple):
    """One place where two teeth meet or come closest, at one closure.

    ``upper_point_mm`` and ``lower_point_mm`` (3,): on each arch, the lower as the record holds it; ``words`` says everything.
    """

    key: str
    upper_tooth: str
    lower_tooth: str
    along: str
    normal: str
    holds: str
    facing: str
    upper_point_mm: Array
    lower_point_mm: Array
    point_words: str
    words: str
    gap_mm: float


class SceneStep(NamedTuple):
    """One place of the slider: closed by ``closed_rad`` from the record's pose, in words, and what the pin reads."""

    closed_rad: float
    words: str
    pin: str


class SceneStop(NamedTuple):
    """What is to be told at one place of the slider: sites in the order in which they meet, numbers on the contours, notes."""

    step: SceneStep
    sites: tuple[SceneSite, ...]
    contours: tuple[tuple[SceneLabel, ...], tuple[SceneLabel, ...]]
    notes: tuple[str, ...]


class ScenePlace(NamedTuple):
    """What stands at one place of an arch at one closure, as read; ``point_mm`` (3,) in the frame, at that closure."""

    words: str
    tooth: str
    opposite: str
    along: str
    normal: str
    point_mm: Array
    point_words: str
