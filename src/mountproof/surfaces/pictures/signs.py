"""The signs on our pictures: told apart by shape, so that colour never carries a meaning alone."""

from __future__ import annotations

from collections.abc import Callable

from mountproof.surfaces.pictures.plate import SMALL, XY, Plate


def plain(plate: Plate, at: XY) -> None:
    """An open ring: one record."""
    plate.ring(at, 4.0, "open")


def mounted(plate: Plate, at: XY) -> None:
    """A full square: the record that is mounted."""
    plate.box(at[0] - 5.0, at[1] - 5.0, 10.0, 10.0, "full")


def nearest(plate: Plate, at: XY) -> None:
    """A full dot in a ring: the record nearest the middle."""
    plate.ring(at, 6.5, "open")
    plate.ring(at, 3.0, "full")


def outlier(plate: Plate, at: XY) -> None:
    """A cross: the record that stands out."""
    x, y = at
    plate.path(f"M{x - 5:.1f} {y - 5:.1f} l10 10 M{x + 5:.1f} {y - 5:.1f} l-10 10", "thick")


def usual(plate: Plate, at: XY) -> None:
    """Two dashed ovals: the usual spread."""
    plate.oval(at, 10.0, 6.5, 0.0, "usual2")
    plate.oval(at, 5.0, 3.25, 0.0, "usual1")


def doubt(plate: Plate, at: XY) -> None:
    """A dotted oval: the doubt of one reading."""
    plate.oval(at, 9.0, 5.5, 0.0, "doubt")


def holds(plate: Plate, at: XY) -> None:
    """A full square: the foil holds."""
    plate.box(at[0] - 6.0, at[1] - 6.0, 12.0, 12.0, "full")


def drags(plate: Plate, at: XY) -> None:
    """A diamond, half of it full: the foil drags."""
    x, y = at
    plate.path(f"M{x - 8:.1f} {y:.1f} l8 -8 l8 8 l-8 8 Z", "open")
    plate.path(f"M{x - 8:.1f} {y:.1f} h16 l-8 8 Z", "full")


def free(plate: Plate, at: XY) -> None:
    """An open ring: the foil is free."""
    plate.ring(at, 6.5, "open")


def untried(plate: Plate, at: XY) -> None:
    """A short stroke: nobody tried."""
    plate.line([(at[0] - 4.0, at[1]), (at[0] + 4.0, at[1])], "soft")


def differs(plate: Plate, at: XY) -> None:
    """A thick frame: mouth and mounting differ."""
    plate.box(at[0] - 7.0, at[1] - 7.0, 14.0, 14.0, "frame")


def stroke(look: str) -> Callable[[Plate, XY], None]:
    """Return what draws a piece of a line, as it stands in a key."""
    return lambda plate, at: plate.line([(at[0] - 10.0, at[1]), (at[0] + 12.0, at[1])], look)


def star(plate: Plate, at: XY) -> None:
    """Draw the star of what is at least so much."""
    plate.word(at, "*", size=SMALL, anchor="middle")
