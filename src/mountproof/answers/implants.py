"""Implants: stone and implant give nothing, so where one bears the mounting is held to a limit of its own."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from mountproof.case.limits import Limit
from mountproof.case.model import Case
from mountproof.case.tooth_numbers import teeth_iso
from mountproof.said import say
from mountproof.teeth import opposite


class Held(NamedTuple):
    """A limit to judge by, and whether it is that of implants."""

    limit: Limit
    by_implants: bool = False

    def says(self, text: str) -> str:
        """Return the words of a reason that was judged by this limit; they tell where implants made it stricter."""
        return say("with implants: {what}", what=text) if self.by_implants else text


def held_to(case: Case, name: str) -> Held:
    """Return the limit of this name (of ``Limits``, of what teeth do where they meet, in mm) for a case.

    A case with implants is held to the limit of implants where that is stricter, at either end.
    """
    usual: Limit = getattr(case.limits, name)
    return _stricter(case, usual) if case.dentition.implants else Held(usual)


def held_at(case: Case, teeth: Iterable[int], usual: Limit) -> Held:
    """Return the limit (mm) for a place where ``teeth`` (ISO 3950) bear: that of implants where it is stricter there.

    A limit of teeth is never copied to an implant; a stricter one of the user's stays.
    """
    return _stricter(case, usual) if at_implants(case, teeth) else Held(usual)


def held_foils(case: Case, differ: Iterable[int]) -> Held:
    """Return the limit (%) of teeth at which foils may differ, where they differ at these (ISO 3950).

    Teeth sink under the foil and make up for little; an implant does not, so that none of those may differ.
    """
    usual = case.limits.foil_disagreement
    if not at_implants(case, differ) or usual.decent == 0.0:
        return Held(usual)
    own = Limit(decent=0.0, redo=usual.redo, unit=usual.unit, source=case.limits.implant_mounting.source)
    return Held(own, True)


def implants(case: Case) -> frozenset[int]:
    """Return the implant crowns of the case (ISO 3950)."""
    return frozenset(teeth_iso(case, case.dentition.implants))


def at_implants(case: Case, teeth: Iterable[int]) -> tuple[int, ...]:
    """Return those of ``teeth`` (ISO 3950) at which an implant bears: itself, or its opponent of that place."""
    here = implants(case)
    return tuple(t for t in teeth if t in here or opposite(t) in here)


def _stricter(case: Case, usual: Limit) -> Held:
    own = case.limits.implant_mounting
    decent, redo = min(own.decent, usual.decent), min(own.redo, usual.redo)
    if (decent, redo) == (usual.decent, usual.redo):
        return Held(usual)
    return Held(Limit(decent=decent, redo=redo, unit=usual.unit, source=own.source), True)
