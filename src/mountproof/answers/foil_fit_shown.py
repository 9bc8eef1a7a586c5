"""What a fit of foils shows: numbers, the table tooth by tooth, and the arrays of the picture."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.foil_lists import Lists, TeethRead
from mountproof.answers.foils import state_of, written
from mountproof.answers.ledger import Ledger
from mountproof.answers.picture_data import FoilChart, FoilSide
from mountproof.answers.result import Quantity, Table
from mountproof.case.model import Case, Closure, Relation
from mountproof.doubt.foil_fit import Ends, FoilFit, Site
from mountproof.geometry.poses import Array
from mountproof.said import capital, say
from mountproof.teeth import name

DEG: Final = 180.0 / math.pi
#: A number of which more than this part of the variance beforehand is left is an assumption, not a measurement.
_ASSUMED: Final = 0.25
#: Where incisors and second molars stand when no foil was tried there, and how far aside (mm). Common practice, no source.
_FRONT_MM, _BACK_MM, _ASIDE_MM = 92.0, 50.0, 28.0


class Fitted(NamedTuple):
    """One pair of lists with its teeth, the fit, and the gap that is left at each tooth."""

    lists: Lists
    read: TeethRead
    fit: FoilFit
    gaps: tuple[Ends, ...]


def places(found: Fitted) -> tuple[tuple[str, str, tuple[float, float]], ...]:
    """Return incisors and second molars: key, words, and where (ahead, right; mm)."""
    ahead = [s.ahead_mm for s in found.fit.sites]
    front, back = max(*ahead, _FRONT_MM), min(*ahead, _BACK_MM)
    return (
        ("front", say("incisors"), (front, 0.0)),
        ("right", say("second molar right"), (back, _ASIDE_MM)),
        ("left", say("second molar left"), (back, -_ASIDE_MM)),
    )


def note_change(found: Fitted, ledger: Ledger) -> dict[str, Ends]:
    """Note the change as three numbers and at three places; return them by key."""
    lists, fit = found.lists, found.fit
    what = named(lists)
    tail = "" if lists.relation is Relation.CR and lists.closure is Closure.LIGHT else _tail(lists)
    out: dict[str, Ends] = {}
    rows: list[tuple[str, str, str, float, Array]] = [
        (
            "down",
            say("{lists}: casts apart against the mouth, middle of the teeth", lists=what),
            "mm",
            1.0,
            _row(0),
        ),
        ("pitch", say("{lists}: casts open to the front against the mouth", lists=what), "deg", DEG, _row(1)),
        ("roll", say("{lists}: casts open to the right against the mouth", lists=what), "deg", DEG, _row(2)),
    ]
    for key, words, (ahead, right) in places(found):
        row = np.array([1.0, ahead - fit.middle_mm, right])
        label = say("{lists}: casts apart against the mouth, {place}", lists=what, place=words)
        rows.append((key, label, "mm", 1.0, row))
    for key, label, unit, factor, row in rows:
        e = fit.along(row)
        e = Ends(*(factor * v for v in e))
        before = factor**2 * float(row @ fit.prior_cov @ row)
        out[key] = e
        ledger.quantities.append(
            Quantity(
                f"foil_fit_{key}{tail}",
                label,
                e.mean,
                say("mm") if unit == "mm" else say("deg"),
                e.u,
                e.low,
                e.high,
                assumed=e.u**2 > _ASSUMED * before,
            )
        )
    return out


def _row(i: int) -> Array:
    out: Array = np.eye(3)[i]
    return out


def _tail(lists: Lists) -> str:
    parts = [] if lists.relation is Relation.CR else ["mip"]
    parts += [] if lists.closure is Closure.LIGHT else ["firm"]
    return "".join(f"_{p}" for p in parts)


def named(lists: Lists) -> str:
    """Return what lists these are, in words."""
    return say("foils in {relation}, {closure} closure", relation=lists.relation, closure=lists.closure)


def note_table(case: Case, found: Fitted, ledger: Ledger) -> None:
    """Note the change and the gap that is left at each tooth, and which tooth contradicts the others."""
    rows = []
    odd = found.fit.odd()
    for i, (tooth, site, gap) in enumerate(zip(found.read.teeth, found.fit.sites, found.gaps, strict=True)):
        change = found.fit.at(site.ahead_mm, site.right_mm)
        open_ended = _open(site, found)
        rows.append(
            (
                written(case, tooth),
                name(tooth),
                say("{low:+.2f} to {high:+.2f}", low=change.low, high=change.high),
                say("above {um:.0f}", um=1000.0 * open_ended)
                if open_ended is not None
                else say("{low:.0f} to {high:.0f}", low=1000.0 * gap.low, high=1000.0 * gap.high),
                say("contradicts the others") if i in odd else "",
            )
        )
    ledger.tables.append(
        Table(
            say("{lists}, all foils together: change and gap left (95 %)", lists=capital(named(found.lists))),
            (say("tooth"), "", say("casts apart, mm"), say("gap left, um"), ""),
            tuple(rows),
        )
    )


def note_chart(case: Case, found: Fitted, differs: tuple[int, ...], ledger: Ledger) -> None:
    """Leave the picture of both lists side by side, with the gap that is left at each tooth (um)."""
    mouth, casts = found.lists.alike()
    sides = []
    for foil in (mouth, casts):
        states = {t: state_of(case, foil, t) for t in found.read.teeth}
        sides.append(
            FoilSide(
                foil.where.value,
                foil.closure.value,
                foil.thickness_um,
                {t: s for t, s in states.items() if s},
            )
        )
    fitted = {}
    for tooth, site, gap in zip(found.read.teeth, found.fit.sites, found.gaps, strict=True):
        low = _open(site, found)
        um = (gap.mean, gap.low, gap.high) if low is None else (math.nan, low, math.inf)
        fitted[tooth] = tuple(1000.0 * v for v in um)
    ledger.pictures.append(
        FoilChart(found.lists.relation.value, sides[0], sides[1], found.read.teeth, differs, fitted)  # type: ignore[arg-type]
    )


def _open(site: Site, found: Fitted) -> float | None:
    """Return above what the gap lies (mm) where no foil bounds it, neither in the mouth nor on the casts; else None."""
    if site.mouth is None or math.isfinite(site.mouth.high_mm) or math.isfinite(site.casts.high_mm):
        return None
    return site.mouth.low_mm + (float(np.mean(found.fit.gives_mm)) if site.gives else 0.0)
