"""Which case a command means: a folder where there is one, else a case of the store by its code or its number."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from mountproof.case.files import load_case
from mountproof.case.model import Case
from mountproof.case.store.faults import refuse
from mountproof.case.store.place import Place, user_place
from mountproof.case.store.records import Listed
from mountproof.case.store.snapshot import Snapshot
from mountproof.case.store.store import Store
from mountproof.faults import Fault, FaultError
from mountproof.said import say

_LIST = say("Show the list with: mountproof cases")
_LONGEST_NUMBER = 18


class Meant(NamedTuple):
    """A case that a command means. For a case of the store ``listed`` is its line in the list, else None."""

    case: Case
    listed: Listed | None


def meant(name: str, folder: Path | None = None) -> Meant:
    """Return the case that ``name`` means: a case folder or file that is there, else a case of the user's store.

    Where ``folder`` is given it is a case of the store in there, whatever case folders there are. No store is begun
    for it. FaultError where there is neither, where several cases have this code, and with every fault in the case.
    """
    path = Path(name)
    if folder is None and (path.exists() or not user_place().database.is_file()):
        return Meant(load_case(path), None)
    with opened(folder) as store, store.snapshot() as seen:
        try:
            found = case_in(seen, name)
        except FaultError as error:
            raise FaultError(
                [_neither(fault) if folder is None else fault for fault in error.faults]
            ) from None
        return Meant(seen.case(found.case_id), found)


def opened(folder: Path | None, make: bool = False) -> Store:
    """Open the store in ``folder`` (the user's unless told); where there is none it is begun only if ``make`` says so.

    FaultError ``store.none`` otherwise, and as ``Store``.
    """
    place = user_place() if folder is None else Place(folder)
    if not make and not place.database.is_file():
        what = say("there is no store of cases here yet")
        todo = say("Bring a case in with: mountproof bring-in FOLDER, or begin one with: mountproof open")
        refuse("store.none", what, todo, str(place.folder))
    return Store(place.folder)


def case_in(seen: Snapshot, name: str) -> Listed:
    """Return the case that has this number in the list, or else the only one that has this code.

    FaultError ``store.missing`` where there is none, ``store.several`` with their numbers where there are more.
    """
    if name.isascii() and name.isdecimal() and len(name) <= _LONGEST_NUMBER:
        found = seen.listed(int(name))
        if found is not None:
            return found
    same = seen.with_code(name)
    if not same:
        refuse("store.missing", say("there is no case with this code or number"), _LIST, got=name)
    if len(same) > 1:
        numbers = ", ".join(str(one.case_id) for one in same)
        what = say("{many} cases have this code", many=len(same))
        todo = say("Name the one that is meant by its number. {then}", then=_LIST)
        refuse("store.several", what, todo, got=name, allowed=numbers)
    return same[0]


def _neither(fault: Fault) -> Fault:
    if fault.code != "store.missing":
        return fault
    what = say("there is no such file or folder, and no case of the store with this code or number")
    todo = say("{then}, or begin a case with: mountproof new FOLDER", then=_LIST)
    return replace(fault, what=what, todo=todo)
