"""Units of the entries of a case, told by the ends of their names."""

from __future__ import annotations

from mountproof.case.lines import Path
from mountproof.said import say

_UNITS = (
    ("_ml_per_100g", say("mL per 100 g")),
    ("_g_per_ml", say("g/mL")),
    ("_per_mark", say("mm")),
    ("_percent", say("%")),
    ("_mm2", say("mm²")),
    ("_mm", say("mm")),
    ("_deg", say("deg")),
    ("_um", say("µm")),
    ("_ml", say("mL")),
    ("_min", say("min")),
    ("_g", say("g")),
    ("_s", say("s")),
    ("_c", say("°C")),
)


def unit_of(path: Path) -> str:
    """Return the unit of an entry, from the end of its name; ``value`` and ``u`` have that of what holds them."""
    names = [part for part in path if isinstance(part, str)]
    while names and names[-1] in ("value", "u"):
        names.pop()
    last = names[-1] if names else ""
    if last in ("reads", "zero_reads"):
        return say("marks")
    return next((unit for ending, unit in _UNITS if last.endswith(ending)), "")
