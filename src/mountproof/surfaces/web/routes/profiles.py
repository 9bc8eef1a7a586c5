"""Instruments that are kept beside the cases, with their calibration and their own steps."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query

from mountproof.case.store import Profile, why
from mountproof.surfaces.web.asked import BenchOf, CaseId, In, Who
from mountproof.surfaces.web.saved import saved
from mountproof.surfaces.web.wire import (
    MOST_ID,
    Conflicts,
    ProfileIn,
    ProfileOut,
    ProfileUseIn,
    SavedOut,
)

router = APIRouter(tags=["profiles"])
Name = Annotated[str, Path(max_length=100, description="name of the profile")]
_CONFLICT: dict[int | str, dict[str, Any]] = {
    409: {"model": Conflicts, "description": "Somebody else kept another one meanwhile; nothing was changed"}
}


@router.get("/profiles", summary="Every instrument that is kept")
def profiles(bench: BenchOf) -> list[ProfileOut]:
    """The newest revision of each, by name."""
    with bench.store.snapshot() as snapshot:
        return [_out(one) for one in snapshot.profiles()]


@router.put("/profiles/{name}", summary="Keep an instrument under a name", responses=_CONFLICT)
def keep(bench: BenchOf, who: Who, name: Name, new: ProfileIn) -> ProfileOut:
    """Made from revision ``based_on``; 0 for a new name."""
    with bench.store.change(who) as change:
        kept = change.keep_profile(name, new.entered, new.based_on)
    bench.watch.look()
    return _out(kept)


@router.delete("/profiles/{name}", summary="Take an instrument out of the list", responses=_CONFLICT)
def take_out(
    bench: BenchOf,
    who: Who,
    name: Name,
    based_on: Annotated[int, Query(ge=1, le=MOST_ID, description="the revision that was seen")],
) -> list[ProfileOut]:
    """Its revisions stay in the store, and cases that use it keep what they have."""
    with bench.store.change(who) as change:
        change.take_out_profile(name, based_on)
        left = [_out(one) for one in change.profiles()]
    bench.watch.look()
    return left


@router.post("/cases/{id}/profile", summary="Put a kept instrument into a case", responses=_CONFLICT)
def use(bench: BenchOf, language: In, who: Who, case_id: CaseId, chosen: ProfileUseIn) -> SavedOut:
    """In the place of the instrument that was entered there."""
    with bench.store.change(who) as change:
        profile = change.profile(chosen.name)
        change.edit(
            case_id,
            {"instrument": profile.entered},
            chosen.based_on,
            why.instrument(chosen.name, profile.at),
        )
    return saved(bench, case_id, language)


def _out(one: Profile) -> ProfileOut:
    return ProfileOut(name=one.name, entered=one.entered, revision=one.number, who=one.who, at=one.at)
