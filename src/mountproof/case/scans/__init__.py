"""Scan files in and out. ``read_scan`` is the door; each format has its own small reader.

The readers are our own rather than a general mesh library's: such a library merges, reorders and drops on
loading, which would alter a person's scan silently, and it trusts what a file promises about its own size.
Here every promise of a file is held against the bytes that are there before anything is made from it.
"""

from mountproof.case.scans._read import joined, read_scan
from mountproof.case.scans._scan import MAX_FILE_BYTES, MAX_TRIANGLES, UNITS_MM, Scan, to_millimetres
from mountproof.case.scans._teeth import read_face_teeth
from mountproof.case.scans._write import write_ply, write_stl

__all__ = [
    "MAX_FILE_BYTES",
    "MAX_TRIANGLES",
    "UNITS_MM",
    "Scan",
    "joined",
    "read_face_teeth",
    "read_scan",
    "to_millimetres",
    "write_ply",
    "write_stl",
]
