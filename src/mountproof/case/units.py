"""Units of the entries of a case, told by the ends of their names."""

from __future__ import annotations

from mountproof.case.lines import Path

_UNITS = (
    ("_ml_per_100g", "mL per 100 g"),
    ("_g_per_ml", "g/mL"),
    ("_per_mark", "mm"),
    ("_percent", "%"),
    ("_mm2", "mm²"),
    ("_mm", "mm"),
    ("_deg", "deg"),
    ("_um", "µm"),
    ("_ml", "mL"),
    ("_min", "min"),
    ("_g", "g"),
    ("_s", "s"),
    ("_c", "°C"),
)


def unit_of(path: Path) -> str:
    """Return the unit of an entry, from the end of its name; ``value`` and ``u`` have that of what holds them."""
    names = [part for part in path if isinstance(part, str)]
    while names and names[-1] in ("value", "u"):
        names.pop()
    last = names[-1] if names else ""
    if last in ("reads", "zero_reads"):
        return "marks"
    return next((unit for ending, unit in _UNITS if last.endswith(ending)), "")
