"""What is true of the made-up case: hinge, pin, marks and the pose of the lower cast in every state.

Poses are built from how far the two condyles stand from their place in maximum intercuspation (MIP), and a pitch.

    c_R = (0, 0, 55), c_L = (0, 0, -55)        the hinge points in MIP
    c_R' = c_R + d_R, c_L' = c_L + d_L         where they stand in the state
    Q = least rotation that takes c_R - c_L to the direction of c_R' - c_L'
    upper_from_lower = [ Q Rz(-pitch) | (c_R' + c_L') / 2 ]

that is: open about the hinge, then carry the hinge to where it stands. The lower is rigid, so its hinge points keep
110 mm between them; the displaced points differ from that by under 3 um in the centric records and by 0.23 mm in the
lateral ones, shared by both sides along the hinge, where a condyle has no mark to be read from.

Nothing here comes from the mathematics that the answers use.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mountproof.phantom import kestrel

Array = NDArray[np.float64]


class Condyles(NamedTuple):
    """Displacement of the right and left condyle from MIP (forward, left, up; mm) and opening pitch (degrees)."""

    right_mm: tuple[float, float, float]
    left_mm: tuple[float, float, float]
    pitch_deg: float


#: The four centric records, as the case was made. Record 3 was taken braced: its left condyle sags.
RECORDS: Final = (
    Condyles((-0.59, 0.10, 0.24), (-0.30, 0.10, 0.07), 2.25),
    Condyles((-0.67, 0.06, 0.26), (-0.24, 0.06, 0.06), 2.41),
    Condyles((-0.58, 0.11, 0.23), (0.06, 0.11, -0.34), 2.18),
    Condyles((-0.62, 0.09, 0.22), (-0.23, 0.09, 0.09), 2.30),
)
#: While the stone set, the lower went this far away from the upper.
SET_AWAY_MM: Final = 0.05
#: Pin openings that make the members parallel at MIP and at CR first contact, as the case was made.
PIN_PARALLEL_MIP_MM: Final = 4.37
PIN_PARALLEL_CR_MM: Final = 3.16
#: First contact on the instrument, and what the runners-up still lack along closure, mm, as the case was made.
FIRST_TOOTH: Final = 15
FIRST_MATE: Final = 45
RUNNERS_UP_MM: Final[dict[int, float]] = {
    14: 0.22,
    16: 0.22,
    17: 0.22,
    25: 0.27,
    24: 0.30,
    26: 0.30,
    27: 0.34,
}
#: Slide from CR first contact to MIP at the incisors (forward, left, up), mm, as the case was made.
SLIDE_INCISORS_MM: Final = (0.89, 0.21, 0.90)
#: Place of the incisors of the average skull, and of the second molars (right; left has -z), program frame, mm.
INCISORS_MM: Final = (92.0, -42.0, 0.0)
SECOND_MOLAR_MM: Final = (50.0, -35.0, 28.0)


class Excursion(NamedTuple):
    """How an excursion leaves record 1: forward amount and inclination of each moving condyle, chord angle, pitch.

    Amounts in mm along x, inclinations in degrees below it; None for a condyle that only turns. ``chord_deg`` is the
    angle to the side of the moving condyle's straight path (0 in protrusion), towards the middle.
    """

    right_mm: float | None
    right_deg: float
    left_mm: float | None
    left_deg: float
    chord_deg: float
    pitch_deg: float


#: Inclinations, chords and protrusive amounts are those the case was made with. The pitches, and the forward amounts of
#: the two laterals, were fitted to the columns H, I, J of the caliper table (least squares, rounded).
EXCURSIONS: Final[dict[str, Excursion]] = {
    "H": Excursion(5.0, 38.0, 4.7, 33.0, 0.0, 0.80),
    "I": Excursion(5.23, 42.0, None, 0.0, 12.3, 1.45),
    "J": Excursion(None, 0.0, 4.87, 37.0, 12.4, 1.71),
}


def rotation_z(angle_rad: float) -> Array:
    """Turn about the hinge axis (z), 3 x 3; positive closes the lower."""
    c, s = np.cos(angle_rad), np.sin(angle_rad)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def to_program_axes(forward_left_up: tuple[float, float, float]) -> Array:
    """Change (forward, left, up) to the program's (x anterior, y up, z right)."""
    x, y, z = forward_left_up
    return np.array([x, z, -y])


def pose_of(condyles: Condyles) -> Array:
    """Pose `upper_from_lower` (4 x 4, mm) from condyle displacements and pitch; derivation in the module's docstring."""
    half = 0.5 * kestrel.INTERCONDYLAR_MM
    right = np.array([0.0, 0.0, half]) + to_program_axes(condyles.right_mm)
    left = np.array([0.0, 0.0, -half]) + to_program_axes(condyles.left_mm)
    u = (right - left) / np.linalg.norm(right - left)
    # Least rotation from (0, 0, 1) to u, by Rodrigues with the axis (0, 0, 1) x u.
    v = np.array([-u[1], u[0], 0.0])
    k = np.array([[0.0, -v[2], v[1]], [v[2], 0.0, -v[0]], [-v[1], v[0], 0.0]])
    q = np.eye(3) + k + k @ k / (1.0 + u[2])
    pose = np.eye(4)
    pose[:3, :3] = q @ rotation_z(-np.radians(condyles.pitch_deg))
    pose[:3, 3] = 0.5 * (right + left)
    return pose


def record_pose(number: int) -> Array:
    """Pose of the lower with centric record 1, 2, 3 or 4 in, before stone."""
    if not 1 <= number <= len(RECORDS):
        raise ValueError(f"record 1 to {len(RECORDS)} wanted, got {number}")
    return pose_of(RECORDS[number - 1])


def closed_by(pose: Array, angle_rad: float) -> Array:
    """Pose after closing about the hinge axis of the instrument by an angle (rad)."""
    turn = np.eye(4)
    turn[:3, :3] = rotation_z(angle_rad)
    out: Array = turn @ pose
    return out


def pin_mm(opening_rad: float) -> float:
    """Rise of the straight pin on the flat table for an opening: x tan(t) + |y| (1 / cos(t) - 1)."""
    rise = kestrel.PIN_AHEAD_MM * np.tan(opening_rad) + kestrel.PIN_BELOW_MM * (
        1.0 / np.cos(opening_rad) - 1.0
    )
    return float(rise)


def opening_of_pin_rad(pin: float) -> float:
    """Opening (rad) at which the straight pin rises by this many mm: the root of `pin_mm`, in closed form.

    x sin t + |y| (1 - cos t) = p cos t, so x sin t - (p + |y|) cos t = -|y|, a phase-shifted sine.
    """
    x, y = kestrel.PIN_AHEAD_MM, kestrel.PIN_BELOW_MM
    return float(np.arctan2(pin + y, x) - np.arcsin(y / np.hypot(x, pin + y)))


def closing_rad() -> float:
    """Angle from record 1 after set to first contact on the instrument: the pin opening for parallel members there."""
    return opening_of_pin_rad(PIN_PARALLEL_CR_MM)


def excursion_pose(state: str) -> Array:
    """Pose of the lower with the protrusive (H), left lateral (I) or right lateral (J) record in."""
    e, base = EXCURSIONS[state], RECORDS[0]
    # In a lateral both condyles share the shift to the side: the lower is rigid.
    amount = e.right_mm if e.left_mm is None else e.left_mm
    side = (amount or 0.0) * np.tan(np.radians(e.chord_deg)) * (1.0 if e.left_mm is None else -1.0)

    def moved(
        start: tuple[float, float, float], forward: float | None, deg: float
    ) -> tuple[float, float, float]:
        f = 0.0 if forward is None else forward
        return (start[0] + f, start[1] + side, start[2] - f * float(np.tan(np.radians(deg))))

    return pose_of(
        Condyles(
            moved(base.right_mm, e.right_mm, e.right_deg),
            moved(base.left_mm, e.left_mm, e.left_deg),
            e.pitch_deg,
        )
    )


def pose(state: str) -> Array:
    """Pose `upper_from_lower` (4 x 4, mm) of the lower in a state 'A' to 'J' of the caliper table.

    Raises ValueError for another letter.
    """
    if state == "A":
        return np.eye(4)
    if state in ("B", "C", "D", "E"):
        return record_pose(1 + "BCDE".index(state))
    if state in ("F", "G"):
        after = record_pose(1)
        after[1, 3] -= SET_AWAY_MM
        return after if state == "F" else closed_by(after, closing_rad())
    if state in EXCURSIONS:
        return excursion_pose(state)
    raise ValueError(f"state A to J wanted, got {state!r}")


def slide_mm(place_mm: tuple[float, float, float], state: str = "G") -> tuple[float, float, float]:
    """Path (forward, left, up) of a point of the lower from a state to MIP; `place_mm` is where it lies in MIP."""
    m = pose(state)
    p = np.array(place_mm)
    d = p - (m[:3, :3] @ p + m[:3, 3])
    return (float(d[0]), float(-d[2]), float(d[1]))


def distance_mm(pair: tuple[str, str], upper_from_lower: Array) -> float:
    """Distance between an upper and a lower mark at a pose, without error."""
    low = np.array(kestrel.LOWER_MARKS_MM[pair[1]])
    at = upper_from_lower[:3, :3] @ low + upper_from_lower[:3, 3]
    return float(np.linalg.norm(np.array(kestrel.UPPER_MARKS_MM[pair[0]]) - at))


def readings(
    seed: int,
    *,
    sd_mm: float = kestrel.CALIPER_SD_MM,
    step_mm: float = kestrel.CALIPER_STEP_MM,
    repeats: int = 1,
) -> Array:
    """Caliper readings made from the truth: shape (13 pairs, 10 states, repeats), mm.

    ``seed`` of the generator, standard deviation of one reading, step the caliper rounds to (0: no rounding). The order of
    rows and columns is that of `kestrel.TABLE_MM` and `kestrel.STATES`.
    """
    rng = np.random.default_rng(seed)
    exact = np.array(
        [[distance_mm(pair, pose(state)) for state in kestrel.STATES] for pair in kestrel.TABLE_MM]
    )
    read = exact[:, :, None] + sd_mm * rng.standard_normal((*exact.shape, repeats))
    return np.round(read / step_mm) * step_mm if step_mm > 0 else read
