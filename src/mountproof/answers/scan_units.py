"""Units of scans: quick to load, for answers that look no further into a scan."""

from __future__ import annotations

from typing import Final

from mountproof.case.model import OtherScan, RecordScan, ScanEntry
from mountproof.case.scans import UNITS_MM

_UNIT: Final = {"mm": "millimeter", "cm": "centimeter", "metre": "meter", "um": "micron"}


def unit_mm(entry: ScanEntry | RecordScan | OtherScan) -> float:
    """Return how many millimetres one unit of a scan's numbers is."""
    return UNITS_MM[unit_name(entry)]


def unit_name(entry: ScanEntry | RecordScan | OtherScan) -> str:
    """Return the unit of a scan by the name that readers of scans know it by."""
    return _UNIT.get(entry.unit.value, entry.unit.value)
