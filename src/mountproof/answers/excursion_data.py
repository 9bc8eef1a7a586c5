"""The arrays behind the pictures of excursions and of the settings; surfaces draw them, answers fill them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

from mountproof.geometry.poses import Array

if TYPE_CHECKING:
    # Its module needs compiled kernels, which are slow to import.
    from mountproof.geometry.driven import Station

Direction = Literal["ahead", "right", "left"]
#: What a tooth does over the whole range of settings: touches in all, in some, in none; or a hole may hide it.
Touch = Literal["always", "depends", "never", "unknown"]


class Travel(NamedTuple):
    """One excursion, tooth by tooth: the jaw goes ``ahead``, or to its ``right`` or ``left``.

    ``travel_mm`` (n,) of the condyles that go forward, ``incisor_mm`` (n,) of the lower incisors from first contact. ``teeth``
    (t): ISO 3950, the upper from right to left, then the lower. ``gap_mm`` (t, n) along closing with the middle settings,
    infinite where nothing opposes within ``far_mm``; ``guides`` (n): upper and lower tooth that stop the closing, None where
    no tooth does. ``low_mm``, ``high_mm`` (t): the least gap from ``from_mm`` of travel on, least and greatest over all
    settings, and ``touch`` (t) what follows. ``settings``: how many were tried; ``touch_mm``: closer than this counts as
    touching. ``stations`` (n): the lower at each travel with the middle settings, against where the record holds it.
    ``by_table`` (n): whether the incisal table stops the closing; empty where none was set.
    """

    direction: Direction
    travel_mm: Array
    incisor_mm: Array
    teeth: tuple[int, ...]
    gap_mm: Array
    guides: tuple[tuple[int, int] | None, ...]
    low_mm: Array
    high_mm: Array
    touch: tuple[Touch, ...]
    settings: int
    touch_mm: float
    from_mm: float
    far_mm: float
    stations: tuple[Station, ...] = ()
    by_table: tuple[bool, ...] = ()


class Setting(NamedTuple):
    """One line of the settings card: what it is, its value and 95 % ends (NaN: not told), its unit.

    ``along_mm``: over how many mm it was read (NaN: of no one length). ``told`` false: ``why`` says why, or what to measure.
    ``typed``: nobody measured it; it is what the user typed as set.
    """

    words: str
    value: float
    low: float
    high: float
    unit: str
    along_mm: float
    told: bool
    why: str
    typed: bool = False


class JointCard(NamedTuple):
    """Settings of one joint, ``right`` or ``left`` of the patient."""

    side: str
    settings: tuple[Setting, ...]


class GuidanceEvidence(NamedTuple):
    """Behind the answer to the guidance: the card, the plane that its angles are against, and the excursions."""

    plane: str
    instrument: str
    joints: tuple[JointCard, ...]
    travels: tuple[Travel, ...]
