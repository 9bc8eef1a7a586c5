"""Do the tooth numbers of a case exist, and do they agree with each other?"""

from __future__ import annotations

from collections.abc import Iterator

from mountproof.case.checks_change import change_teeth
from mountproof.case.finding import Finding
from mountproof.case.lines import Path
from mountproof.case.model import Case, Numbering
from mountproof.case.tooth_numbers import is_number
from mountproof.said import say

_ALLOWED = {
    Numbering.ISO_3950: "11 to 18, 21 to 28, 31 to 38, 41 to 48; deciduous 51 to 55, 61 to 65, 71 to 75, 81 to 85",
    Numbering.UNIVERSAL: "1 to 32",
}


def tooth_findings(case: Case) -> Iterator[Finding]:
    """Yield what is wrong with the tooth numbers of a case."""
    listed = _listed(case)
    for path, number in listed:
        if not is_number(number, case.dentition.numbering):
            yield _no_tooth(path, number, case.dentition.numbering)
    missing = set(case.dentition.missing)
    for path, number in listed:
        if path[:2] != ("dentition", "missing") and number in missing:
            yield Finding(
                "case.contradiction",
                path,
                say("tooth {number} is named here, and is listed as missing", number=number),
                say("Take it out here or under dentition.missing"),
            )
    yield from _foil_findings(case)


def _listed(case: Case) -> list[tuple[Path, int]]:
    """Return every tooth number and where it stands."""
    found: list[tuple[Path, int]] = []
    for name in ("missing", "implants", "meant_free"):
        found += [(("dentition", name, i), n) for i, n in enumerate(getattr(case.dentition, name))]
    for at, foil in enumerate(case.foils):
        for name in ("held", "drags", "free"):
            found += [(("foils", at, name, i), n) for i, n in enumerate(getattr(foil, name))]
    for at, width in enumerate(case.casts.widths):
        found += [(("casts", "widths", at, "between", i), n) for i, n in enumerate(width.between)]
    for at, wanted in enumerate(case.space.wanted):
        found += [(("space", "wanted", at, "teeth", i), n) for i, n in enumerate(wanted.teeth)]
    for part in ("contacts", "steps"):
        for at, one in enumerate(getattr(case.prescription, part)):
            found += [(("prescription", part, at, "teeth", i), n) for i, n in enumerate(one.teeth)]
    found += change_teeth(case)
    for at, visit in enumerate(case.followups):
        found += [
            (("followups", at, "adjusted", i, "tooth"), one.tooth) for i, one in enumerate(visit.adjusted)
        ]
        for part in ("first_contact", "held", "free"):
            found += [(("followups", at, part, i), n) for i, n in enumerate(getattr(visit, part))]
    for name, record in case.records.items():
        for at, stop in enumerate(record.stops):
            if stop.tooth is not None:
                found.append((("records", name, "stops", at, "tooth"), stop.tooth))
        found += [(("records", name, "perforated_at", i), n) for i, n in enumerate(record.perforated_at)]
    return found


def _no_tooth(path: Path, number: int, numbering: Numbering) -> Finding:
    other = Numbering.UNIVERSAL if numbering is Numbering.ISO_3950 else Numbering.ISO_3950
    todo = say("Put the number right")
    if is_number(number, other):
        todo = say(
            "Put the number right; in the other system it is a tooth: if that is meant, write "
            'dentition.numbering = "{other}"',
            other=other.value,
        )
    return Finding(
        "case.tooth_number",
        path,
        say(
            "{number} is no tooth in the numbering of this case ({numbering})",
            number=number,
            numbering=numbering.value,
        ),
        todo,
        str(number),
        _ALLOWED[numbering],
        about=("dentition", "numbering"),
    )


def _foil_findings(case: Case) -> Iterator[Finding]:
    for at, foil in enumerate(case.foils):
        seen: dict[int, str] = {}
        for name in ("held", "drags", "free"):
            for i, number in enumerate(getattr(foil, name)):
                before = seen.setdefault(number, name)
                if before != name:
                    yield Finding(
                        "case.contradiction",
                        ("foils", at, name, i),
                        say(
                            "tooth {number} stands under {before} and under {name}",
                            number=number,
                            before=before,
                            name=name,
                        ),
                        say("Keep one of the two"),
                    )
