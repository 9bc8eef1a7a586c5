"""Text from a case, made fit to print: it stays data, and what our typeface lacks is spelt out."""

from __future__ import annotations

import struct
import unicodedata
from functools import lru_cache
from pathlib import Path

FONTS = Path(__file__).parent / "fonts"
#: Longest run without a space that is left alone; longer runs get places where a line may end.
_RUN = 24
_BREAK = "\u200b"


@lru_cache(maxsize=3)
def covered(style: str = "Regular") -> frozenset[str]:
    """Return the characters that our typeface can show, read from the font itself (cmap table, format 4)."""
    data = (FONTS / f"MountproofSans-{style}.ttf").read_bytes()
    (tables,) = struct.unpack_from(">H", data, 4)
    places = {
        data[at : at + 4]: struct.unpack_from(">I", data, at + 8)[0] for at in range(12, 12 + 16 * tables, 16)
    }
    cmap = places[b"cmap"]
    (offset,) = struct.unpack_from(">I", data, cmap + 8)
    at = cmap + offset
    (segments2,) = struct.unpack_from(">H", data, at + 6)
    count = segments2 // 2
    ends = struct.unpack_from(f">{count}H", data, at + 14)
    starts = struct.unpack_from(f">{count}H", data, at + 16 + segments2)
    found = (chr(c) for start, end in zip(starts, ends, strict=True) for c in range(start, end + 1))
    return frozenset(c for c in found if c != "\uffff")


def clean(text: object, *, at_most: int = 2000) -> str:
    """Return text on one line that our typeface can show in full.

    White space of any kind becomes one space; a character that the typeface lacks, or that would steer the
    layout, is spelt out as ``[U+4E2D]``; text longer than ``at_most`` characters is cut and says so; a run of
    more than 24 characters without a space gets places where a line may end.
    """
    whole = unicodedata.normalize("NFC", " ".join(str(text).split()))
    cut = whole[:at_most].rstrip()
    have = covered()
    shown = "".join(c if c in have else f"[U+{ord(c):04X}]" for c in cut)
    if len(whole) > at_most:
        shown += f" … (cut here; {len(whole)} characters in the case)"
    return " ".join(_breakable(word) for word in shown.split(" "))


def _breakable(word: str) -> str:
    if len(word) <= _RUN:
        return word
    return _BREAK.join(word[i : i + _RUN] for i in range(0, len(word), _RUN))
