"""Are the scans of the casts what is said of them: their unit, upper and lower, right and left, outside?

The same checks as those of the contacts, made once for a set of files, for the answers that can do without scans.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final, Literal, NamedTuple

from mountproof.answers.ledger import Ledger
from mountproof.answers.placement import placements
from mountproof.answers.progress import quiet
from mountproof.answers.told_apart import Told
from mountproof.case.model import Case, ScanEntry
from mountproof.faults import Fault, FaultError
from mountproof.said import in_numbering, joined, say

#: What the findings of scans are about, by code; the others say nothing of what the scans are.
ABOUT: Final[dict[str, str]] = {
    "scan.arches_swapped": "arches",
    "scan.same_arch_twice": "arches",
    "scan.same_scan_twice": "arches",
    "scan.both_arches": "arches",
    "scan.sides_swapped": "sides",
    "scan.transform_mirrored": "sides",
    "scan.inside_out": "outside",
    "scan.mirrored_mesh_undetectable": "untold",
}
_UNIT: Final = "scan.unit_"


class Seen(NamedTuple):
    """One finding: what it is about (``unit``, or a word of ``ABOUT``), its code, sentence, what to do, and its weight."""

    about: str
    code: str
    what: str
    todo: str
    weight: Literal["note", "ask", "stop"]


class ScansSeen(NamedTuple):
    """What the checks find of the scans of the casts.

    ``numbered``: they carry tooth numbers of their own, so that exchanged sides would show; ``compared``: somebody held
    a tooth against the patient; ``paired``: both were looked at, one against the other.
    """

    found: tuple[Seen, ...]
    numbered: bool
    compared: bool
    paired: bool

    def about(self, word: str) -> tuple[Seen, ...]:
        """Return the findings about one thing."""
        return tuple(f for f in self.found if f.about == word)


def scans_seen(case: Case) -> ScansSeen | None:
    """Return what the checks find of the scans of a case; None where there is none, or none that can be read."""
    if not case.scans or case.folder is None:
        return None
    try:
        return _seen(Told(case, ("scans", "instrument", "dentition"), quiet))
    except FaultError:
        return None  # no file there: the answers that rest on it say what to do


def refused(case: Case) -> Fault | None:
    """Return why nothing can be built on the scans of the casts, or None: what rests on them is then not judged."""
    seen = scans_seen(case)
    stop = next((f for f in seen.found if f.weight == "stop"), None) if seen is not None else None
    return None if stop is None else Fault(stop.code, stop.what, stop.todo, field="scans")


@lru_cache(maxsize=8)
def _seen(told: Told) -> ScansSeen | None:
    # these need compiled kernels, which are slow to import
    from mountproof.answers.scan_checks import placement_of
    from mountproof.answers.scans import read_entry
    from mountproof.case.scans import read_face_teeth
    from mountproof.geometry.poses import transform
    from mountproof.geometry.topology import Finding, inspect
    from mountproof.occlusion.arch import ArchScan, Look, check_scan, compare, look

    case = told.case
    assert case.folder is not None
    found: list[Seen] = []
    looks: list[Look] = []
    numbered, read = True, 0

    def note(where: str, findings: tuple[Finding, ...]) -> None:
        for f in in_numbering(findings, case.dentition.numbering.value):
            about = "unit" if f.code.startswith(_UNIT) else ABOUT.get(f.code)
            if about is not None:
                found.append(Seen(about, f.code, joined(": ", (where, f.what)), f.todo, f.severity))

    for entry in case.scans:
        try:
            scan = read_entry(case, entry)
            labels = None
            if entry.teeth_file is not None:
                labels = read_face_teeth(case.folder / entry.teeth_file, len(scan.faces))
        except FaultError:
            continue  # the answers that rest on this file say what to do
        read += 1
        numbered = numbered and labels is not None
        placed = placement_of(case, entry)
        found += _mirrored_by_placement(case, entry) if placed is None else ()
        v = scan.vertices if placed is None else transform(placed.frame_from_scan, scan.vertices)
        top = inspect(v, scan.faces)
        findings = check_scan(v, scan.faces, labels, top)
        note(entry.file, findings)
        if placed is not None and not any(f.code.startswith(_UNIT) for f in findings):
            looks.append(look(entry.arch.value, ArchScan(v, scan.faces, None, labels), top))
    if not read:
        return None
    upper, lower = (next((one for one in looks if one.name == name), None) for name in ("upper", "lower"))
    if upper is not None and lower is not None:
        note(say("both scans"), compare(upper, lower))
    compared = all(e.sides_compared for e in case.scans)
    # each scan alone and both together may say that sides are not told: once is enough, and not where they were compared
    untold = [f for f in found if f.about == "untold"]
    kept = [f for f in found if f.about != "untold"] + ([] if compared else untold[:1])
    return ScansSeen(tuple(kept), numbered, compared, upper is not None and lower is not None)


def _mirrored_by_placement(case: Case, entry: ScanEntry) -> tuple[Seen, ...]:
    """Return that the matrix which places a scan mirrors it, where that is why it is not placed."""
    from mountproof.answers.scan_units import unit_mm

    alone = case.model_copy(update={"scans": (entry,)})
    try:
        placements(alone, Ledger("contacts"), {entry.arch: unit_mm(entry)})
    except FaultError as error:
        return tuple(
            Seen(ABOUT[f.code], f.code, f.what, f.todo, "stop") for f in error.faults if f.code in ABOUT
        )
    except ValueError:
        return ()  # landmarks that place nothing: told where they are entered
    return ()
