"""Are the scans of a case there, one an arch, inside its folder, none placed in two ways?

A scan that is not placed yet, or by too few landmarks so far, is a case all the same: the answers ask for the rest.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path as FilePath
from pathlib import PurePosixPath, PureWindowsPath

from mountproof.case.finding import Finding
from mountproof.case.lines import Path
from mountproof.case.model import Case, Placement
from mountproof.case.scan_names import named_files
from mountproof.said import joined, say

#: Ways to place a scan, by the field that declares each.
_WAYS = ("frame_from_scan", "landmarks", "hinge_distances", "average", "with_other_arch")
_SCANS: Path = ("scans",)


def scan_findings(case: Case, folder: FilePath | None) -> Iterator[Finding]:
    """Yield what is wrong with the scans of a case; files are looked for only where the folder is known."""
    first: dict[str, int] = {}
    for at, scan in enumerate(case.scans):
        here: Path = ("scans", at)
        before = first.setdefault(scan.arch, at)
        if before != at:
            yield Finding(
                "case.reference",
                (*here, "arch"),
                say("there are two scans of the {arch} arch", arch=scan.arch),
                say("Keep one of the two, or put the arch right"),
                f'"{scan.arch}"',
                say("one scan an arch"),
                about=_SCANS,
            )
        yield from _placement_findings(scan.placement, (*here, "placement"), len(case.scans))
    if folder is not None:
        for path, name in named_files(case):
            yield from _file_findings(name, path, folder)
    if len(case.scans) == 2 and all(scan.placement.with_other_arch for scan in case.scans):
        yield Finding(
            "case.reference",
            ("scans", 1, "placement", "with_other_arch"),
            say("each of the two scans is said to be placed as the other is"),
            say("Place one of them in another way"),
            about=_SCANS,
        )


def file_in(folder: FilePath, name: str) -> FilePath | None:
    """Return the file that ``name`` means inside ``folder``; None where it leads out of it."""
    pure = PurePosixPath(name)
    if (
        pure.is_absolute()
        or PureWindowsPath(name).is_absolute()
        or PureWindowsPath(name).drive
        or "\0" in name
    ):
        return None
    try:
        root, file = folder.resolve(), (folder / pure).resolve()
    except (OSError, RuntimeError, ValueError):
        return None
    return file if file.is_relative_to(root) else None


def _file_findings(name: str, path: Path, folder: FilePath) -> Iterator[Finding]:
    file = file_in(folder, name)
    shown = f'"{name}"'
    if file is None:
        yield Finding(
            "case.reference",
            path,
            say("this file lies outside the case folder"),
            say("Copy it into the case folder and write only its name"),
            shown,
            say("a file inside the case folder"),
        )
        return
    try:
        there = file.is_file()
    except OSError:
        there = False
    if not there:
        todo = say("Copy the file there, or put its name right")
        if "\\" in name:
            todo = say('Write / between folder and file: "{name}"', name=name.replace(chr(92), "/"))
        yield Finding("case.reference", path, say("there is no such file in the case folder"), todo, shown)


def _placement_findings(placement: Placement, path: Path, scans: int) -> Iterator[Finding]:
    ways = [way for way in _WAYS if getattr(placement, way)]
    if len(ways) > 1:
        yield Finding(
            "case.reference",
            path,
            say("the scan is placed in more than one way"),
            say("Keep one of them"),
            joined(say(" and "), ways),
            say("one of {ways}", ways=", ".join(_WAYS)),
        )
    if placement.with_other_arch and scans < 2:
        yield Finding(
            "case.reference",
            (*path, "with_other_arch"),
            say("there is no scan of the other arch"),
            say("Add the other scan, or place this one in another way"),
            about=_SCANS,
        )
    if placement.frame_from_scan is not None and placement.frame_from_scan[3] != (0, 0, 0, 1):
        yield Finding(
            "case.out_of_range",
            (*path, "frame_from_scan", 3),
            say("the last row of the matrix is not 0, 0, 0, 1"),
            say("Write it row by row; if it was written column by column, turn it over"),
            str(list(placement.frame_from_scan[3])),
            "[0, 0, 0, 1]",
        )
    for at, landmark in enumerate(placement.hinge_distances):
        given = [landmark.from_right_hinge_mm, landmark.from_left_hinge_mm, landmark.from_third_point_mm]
        if all(distance is None for distance in given):
            yield Finding(
                "case.missing_field",
                (*path, "hinge_distances", at),
                say("no distance is given for {name!r}", name=landmark.name),
                say("Give one or more of from_right_hinge_mm, from_left_hinge_mm, from_third_point_mm"),
            )
        if landmark.from_third_point_mm is not None and placement.third_point is None:
            yield Finding(
                "case.missing_field",
                (*path, "hinge_distances", at, "from_third_point_mm"),
                say("it is not said where the third point of the instrument is"),
                say("Add third_point, with ahead_mm, above_mm and right_mm"),
            )
