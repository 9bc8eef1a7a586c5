"""What goes into a table of marks by states and what comes out of it: marks, plausible motion, poses, checks."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from mountproof.geometry.carry import Carried
from mountproof.geometry.poses import Array
from mountproof.said import joined, say

#: The six directions, rotation first: about x, y, z, then along x, y, z.
DIRECTIONS = (say("roll"), say("yaw"), say("opening"), say("fore-aft"), say("height"), say("side"))


class Place(NamedTuple):
    """Where a mark is in the reference state (x, y, z, mm), and the standard uncertainty of each coordinate."""

    xyz_mm: tuple[float, float, float]
    u_mm: float = 0.0


class MarkPair(NamedTuple):
    """The name of a pair and of its upper and lower mark."""

    name: str
    upper: str
    lower: str


class Marks(NamedTuple):
    """The marks of both casts by name, and the pairs that are measured."""

    upper: Mapping[str, Place]
    lower: Mapping[str, Place]
    pairs: tuple[MarkPair, ...]


class Slack(NamedTuple):
    """How far a state may plausibly differ from the reference, as standard deviations at the middle of the hinge."""

    roll_rad: float
    yaw_rad: float
    opening_rad: float
    fore_aft_mm: float
    height_mm: float
    side_mm: float


#: Centric relation against maximal intercuspation. Condylar shifts of 0.2 to 0.9 mm and slides near 1 mm are
#: reported (see the sources of the acceptance limits): one millimetre covers them; 0.5 mm of difference between the
#: joints over half the usual 110 mm gives roll and yaw. Our choice, to be shown as assumed.
RECORD_SLACK = Slack(math.radians(0.5), math.radians(0.5), math.radians(10.0), 1.0, 0.7, 0.5)

#: Protrusive and lateral records. Our choice, to be shown as assumed.
EXCURSION_SLACK = Slack(math.radians(4.0), math.radians(8.0), math.radians(10.0), 10.0, 6.0, 3.0)

#: The hinge alone: what a pure-hinge computation silently assumes.
HINGE_SLACK = Slack(0.0, 0.0, math.radians(10.0), 0.0, 0.0, 0.0)


class ReadingCheck(NamedTuple):
    """One reading against all others: found, expected without it (with its u), and the distance in SDs.

    Where nothing else sees what this reading sees, ``expected_u_mm`` is infinite and ``off_by_sds`` zero.
    """

    state: str
    pair: str
    found_mm: float
    residual_mm: float
    expected_mm: float
    expected_u_mm: float
    off_by_sds: float


class Seen(NamedTuple):
    """What one direction of motion is worth: in words, as a unit vector (6, rotation times lever), and its SD (mm)."""

    words: str
    direction: tuple[float, ...]
    sd_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """The lower cast in one state: ``upper_from_lower`` (4, 4), its small motion with doubt (6), what is not seen.

    ``seen`` lists the six directions about the middle of the lower marks, worst first; ``lever_mm`` is the distance
    over which rotations are counted in millimetres; ``rank`` of them are carried by the readings.
    """

    state: str
    upper_from_lower: Array
    motion: Carried
    rank: int
    seen: tuple[Seen, ...]
    not_seen: tuple[Seen, ...]
    lever_mm: float
    pairs: int

    @property
    def condition(self) -> float:
        """Largest over smallest SD of the six directions."""
        return self.seen[0].sd_mm / self.seen[-1].sd_mm if self.seen else 1.0


@dataclass(frozen=True, slots=True, eq=False)
class PoseTable:
    """All states against the reference: poses by state, the check of every reading, and the fit as a whole.

    ``settled`` is False when the search did not end; its numbers must not be used then. ``usable_mm`` is the doubt
    beyond which a direction counts as not seen.
    """

    reference: str
    poses: Mapping[str, Pose]
    checks: tuple[ReadingCheck, ...]
    chi_square: float
    dof: int
    tail: float
    settled: bool
    usable_mm: float
    marks: Marks

    @property
    def inflation(self) -> float:
        """Return sqrt(chi_square / dof), never below one."""
        return max(1.0, math.sqrt(self.chi_square / self.dof)) if self.dof > 0 else 1.0


def words(direction: Array | Sequence[float]) -> str:
    """Return a direction of motion (6, rotation times lever) in words: its large components, largest first."""
    v = [abs(float(part)) for part in direction]
    half = 0.5 * max(v)
    large = [i for i in sorted(range(len(v)), key=lambda i: -v[i]) if v[i] >= half]
    return _named(tuple(large[:3]))


@lru_cache
def _named(which: tuple[int, ...]) -> str:
    return joined(say(" with "), (DIRECTIONS[i] for i in which))
