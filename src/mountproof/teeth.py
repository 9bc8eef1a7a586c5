"""Tooth numbers: two digits of ISO 3950, and the 1-32 system where a case says that it uses it.

A tooth is a plain ``int`` in ISO 3950: the first digit names the quadrant (1 upper right, 2 upper left,
3 lower left, 4 lower right; 5 to 8 the same for deciduous teeth), the second the place from the midline
distally. Sides are the patient's. The two systems share numbers (11 to 18, 21 to 28, 31, 32), so the system
is always an argument and is never guessed from the number.
"""

from __future__ import annotations

from typing import Literal

from mountproof.said import numbered, say

Arch = Literal["upper", "lower"]
Side = Literal["right", "left"]
ToothClass = Literal["incisor", "canine", "premolar", "molar"]
System = Literal["iso3950", "universal"]

ARCHES: tuple[Arch, Arch] = ("upper", "lower")

_PERMANENT_WORDS = (
    say("central incisor"),
    say("lateral incisor"),
    say("canine"),
    say("first premolar"),
    say("second premolar"),
    say("first molar"),
    say("second molar"),
    say("third molar"),
)
_DECIDUOUS_WORDS = (
    say("deciduous central incisor"),
    say("deciduous lateral incisor"),
    say("deciduous canine"),
    say("deciduous first molar"),
    say("deciduous second molar"),
)
_PERMANENT_CLASS: tuple[ToothClass, ...] = (
    "incisor",
    "incisor",
    "canine",
    "premolar",
    "premolar",
    "molar",
    "molar",
    "molar",
)

#: Along the arch: upper 18 ... 11, 21 ... 28 (patient's right to left), lower 38 ... 31, 41 ... 48 (left to
#: right).
UPPER_TEETH: tuple[int, ...] = (*range(18, 10, -1), *range(21, 29))
LOWER_TEETH: tuple[int, ...] = (*range(38, 30, -1), *range(41, 49))


def is_permanent(tooth: int) -> bool:
    """Tell whether ``tooth`` is an ISO 3950 number of a permanent tooth (11-18, 21-28, 31-38, 41-48)."""
    return tooth in UPPER_TEETH or tooth in LOWER_TEETH


def is_deciduous(tooth: int) -> bool:
    """Tell whether ``tooth`` is an ISO 3950 number of a deciduous tooth (51-55, 61-65, 71-75, 81-85)."""
    return 5 <= tooth // 10 <= 8 and 1 <= tooth % 10 <= 5


def is_tooth(tooth: int) -> bool:
    """Tell whether ``tooth`` names a tooth in ISO 3950; codes of quadrants and sextants (10, 03) do not."""
    return is_permanent(tooth) or is_deciduous(tooth)


def _checked(tooth: int) -> int:
    if not is_tooth(tooth):
        raise ValueError(f"{tooth!r} is no tooth number of ISO 3950")
    return int(tooth)


def quadrant(tooth: int) -> int:
    """Return the quadrant 1-4 (upper right, upper left, lower left, lower right); ValueError for no tooth."""
    return (_checked(tooth) // 10 - 1) % 4 + 1


def place(tooth: int) -> int:
    """Return the place from the midline distally: 1-8, deciduous 1-5; ValueError for no tooth."""
    return _checked(tooth) % 10


def arch_of(tooth: int) -> Arch:
    """Return ``"upper"`` or ``"lower"``; ValueError for no tooth."""
    return "upper" if quadrant(tooth) <= 2 else "lower"


def side_of(tooth: int) -> Side:
    """Return the patient's side, ``"right"`` or ``"left"``; ValueError for no tooth."""
    return "right" if quadrant(tooth) in (1, 4) else "left"


def class_of(tooth: int) -> ToothClass:
    """Return incisor, canine, premolar or molar; ValueError for no tooth."""
    p = place(tooth)
    if is_deciduous(tooth):
        return "molar" if p >= 4 else _PERMANENT_CLASS[p - 1]
    return _PERMANENT_CLASS[p - 1]


def is_posterior(tooth: int) -> bool:
    """Tell whether the tooth is a premolar or molar; ValueError for no tooth."""
    return place(tooth) >= 4


def name(tooth: int) -> str:
    """Return the words, side the patient's (``upper right first molar``); ValueError for no tooth."""
    words = _DECIDUOUS_WORDS if is_deciduous(tooth) else _PERMANENT_WORDS
    word = words[place(tooth) - 1]
    match quadrant(tooth):
        case 1:
            return say("upper right {tooth}", tooth=word)
        case 2:
            return say("upper left {tooth}", tooth=word)
        case 3:
            return say("lower left {tooth}", tooth=word)
        case _:
            return say("lower right {tooth}", tooth=word)


def mirrored(tooth: int) -> int:
    """Return the tooth of the same name on the other side; ValueError for no tooth."""
    q = _checked(tooth) // 10
    return (q + 1 if q % 2 else q - 1) * 10 + place(tooth)


def opposite(tooth: int) -> int:
    """Return the tooth of that place and side in the other arch (16 gives 46); ValueError for no tooth."""
    q = quadrant(tooth)
    return (5 - q + (4 if is_deciduous(tooth) else 0)) * 10 + place(tooth)


def opposing(tooth: int) -> tuple[int, ...]:
    """Return the one or two teeth that usually stand against ``tooth``, same place first.

    An upper tooth stands against the lower of its place and the next distal one, a lower tooth against
    the upper of its place and the next mesial one (normal sagittal relation; common practice, no source).
    ValueError for no tooth.
    """
    same = opposite(tooth)
    neighbour = same + (1 if arch_of(tooth) == "upper" else -1)
    return (same, neighbour) if is_tooth(neighbour) else (same,)


def teeth_of(arch: Arch) -> tuple[int, ...]:
    """Return the 16 permanent teeth along the arch: 18 ... 11, 21 ... 28 or 38 ... 31, 41 ... 48."""
    return UPPER_TEETH if arch == "upper" else LOWER_TEETH


def right_to_left(arch: Arch) -> tuple[int, ...]:
    """Return the 16 permanent teeth from the patient's right to left: 18 ... 28 or 48 ... 38."""
    return UPPER_TEETH if arch == "upper" else LOWER_TEETH[::-1]


def along_arch_key(tooth: int) -> tuple[int, int]:
    """Return a key that sorts teeth upper arch first, each arch from the patient's right to left."""
    signed = place(tooth) if side_of(tooth) == "left" else -place(tooth)
    return (0 if arch_of(tooth) == "upper" else 1, signed)


def universal_from_iso(tooth: int) -> int:
    """Return the 1-32 number of a permanent tooth (18 gives 1, 28 gives 16, 38 gives 17, 48 gives 32).

    ValueError for a deciduous tooth (that system uses letters for them) and for no tooth.
    """
    if not is_permanent(tooth):
        raise ValueError(f"{tooth!r} has no number in the 1-32 system")
    q, p = divmod(int(tooth), 10)
    return (9 - p, 8 + p, 25 - p, 24 + p)[q - 1]


def iso_from_universal(number: int) -> int:
    """Return the ISO 3950 number of a number of the 1-32 system; ValueError outside 1-32."""
    if not 1 <= number <= 32:
        raise ValueError(f"{number!r} is no number of the 1-32 system")
    q, i = divmod(int(number) - 1, 8)
    return 10 * (q + 1) + (i + 1 if q % 2 else 8 - i)


def parse_tooth(text: str, system: System) -> int:
    """Return the ISO 3950 number of a tooth number typed in the stated system.

    ``system`` is ``"iso3950"`` or ``"universal"``; it is the case's and never inferred.
    ValueError, in words, for anything that is no tooth of that system.
    """
    stripped = text.strip()
    if not (stripped.isascii() and stripped.isdigit() and len(stripped) <= 2):
        raise ValueError(f"{text!r} is not a tooth number; two digits are expected")
    number = int(stripped)
    return iso_from_universal(number) if system == "universal" else _checked(number)


def tooth_text(tooth: int) -> str:
    """Return the tooth (ISO 3950) for a text, to be said in the numbering of the case; ValueError for no tooth."""
    return numbered(str(_checked(tooth)), str(universal_from_iso(tooth)) if is_permanent(tooth) else "")


def format_tooth(tooth: int, system: System) -> str:
    """Return the tooth (ISO 3950) as the stated system writes it; ValueError where it has no number there."""
    return str(universal_from_iso(tooth) if system == "universal" else _checked(tooth))
