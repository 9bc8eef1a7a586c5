"""What the commands on the store do. Imported late, so that help is quick."""

from __future__ import annotations

import getpass
import os
import shlex
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from mountproof.case.files import load_case, parse_case
from mountproof.case.names import parse_field
from mountproof.case.store import CaseState, Listed, Revision, Store, why
from mountproof.case.store.find import case_in, opened
from mountproof.case.store.place import Place, user_place
from mountproof.case.store.texts import plain_text
from mountproof.case.table_edits import is_table
from mountproof.case.typed import as_asked
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.cli.store_screen import show_cases, show_changes
from mountproof.surfaces.cli.work import print_json

_PAGE = 500
_NUMBER_SIGNS = frozenset("0123456789.,")


def cases(search: str, state: str, order: str, most: int, folder: Path | None, as_json: bool) -> None:
    """Print the list of cases."""
    chosen = _one_of(state, [str(one) for one in CaseState], "--state") if state else None
    _one_of(order, ["changed", "code"], "--order")
    if most < 1:
        what, todo = say("this asks for no case at all"), say("Name a number from 1 up")
        raise FaultError([Fault("cases.option", what, todo, "--most", got=str(most))])
    found: list[Listed] = []
    with opened(folder) as store, store.snapshot() as seen:
        after = None
        while len(found) < most:
            some = min(_PAGE, most - len(found))
            page = seen.cases(search, CaseState(chosen) if chosen else None, order, after, some)
            found += page.cases
            after = page.after
            if after is None:
                break
    if as_json:
        print_json({"cases": [_as_dict(one) for one in found], "more": after is not None})
        return
    show_cases(found, more=after is not None, searched=bool(search or state))


def bring_in(what: Path, as_new: bool, who: str, folder: Path | None, as_json: bool) -> None:
    """Bring a folder or a bundle into the store, begun where there is none; say which case it is now."""
    by = _who(who)
    bundle = what.suffix.lower() == ".zip"
    if bundle and not what.is_file():
        raise FaultError(
            [Fault("case.missing", say("there is no such file"), say("Put the name right"), str(what))]
        )
    if not bundle:
        load_case(what)  # what is wrong with it is said before a store is begun
    with opened(folder, make=True) as store:
        case_id = store.import_bundle(what, by, as_new) if bundle else store.import_folder(what, by).case_id
        with store.snapshot() as seen:
            found = seen.listed(case_id)
            revisions = len(seen.history(case_id))
    assert found is not None
    if as_json:
        print_json({"case": _as_dict(found), "revisions": revisions})
        return
    many = "1 revision" if revisions == 1 else f"{revisions} revisions"
    sys.stdout.write(
        f"{found.code} is case {case_id} of the store, with {many}.\n"
        f"  mountproof answer {shlex.quote(found.code)}{_of(folder)}\n"
    )


def take_out(case: str, to: Path, revision: int | None, folder: Path | None, as_json: bool) -> None:
    """Write a case as a folder or a bundle, where nothing stands yet; say where it is."""
    bundle = to.suffix.lower() == ".zip"
    if bundle and revision is not None:
        what, todo = say("a bundle holds every revision"), say("Leave --revision out, or name a folder")
        raise FaultError([Fault("out.revision", what, todo, str(to))])
    if to.exists() and (bundle or not to.is_dir() or any(to.iterdir())):
        what = say("there is such a file already") if bundle else say("this is no empty folder")
        todo = say("Name a new file, ending in .zip") if bundle else say("Name a folder that is new or empty")
        raise FaultError([Fault("out.exists", what, todo, str(to))])
    with opened(folder) as store:
        with store.snapshot() as seen:
            found = case_in(seen, case)
        made = (
            store.export_bundle(found.case_id, to)
            if bundle
            else store.export_folder(found.case_id, to, revision)
        )
    if as_json:
        print_json({"case": _as_dict(found), "to": str(made)})
        return
    sys.stdout.write(f"{found.code} is in {made if bundle else to}; it stays in the store.\n")


def enter(
    case: str,
    field: str,
    words: Sequence[str],
    nothing: bool,
    based_on: int | None,
    who: str,
    folder: Path | None,
    as_json: bool,
) -> None:
    """Change one entry of a case; say what changed, and which accepted answers are out of date by it."""
    value = _value(field, words, nothing)
    by = _who(who)
    with opened(folder) as store:
        with store.snapshot() as seen:
            case_id = case_in(seen, case).case_id
        with store.change(by) as change:
            before = change.head(case_id)
            after = change.edit(
                case_id,
                [(field, value)],
                before.number if based_on is None else based_on,
                why.ENTERED,
            )
            dated = [one.question for one in change.out_of_date(case_id)]
            found = change.listed(case_id)
    assert found is not None
    changes = after.changes if after.number != before.number else ()
    if as_json:
        told = [one._asdict() for one in changes]
        print_json({"case": _as_dict(found), "changes": told, "out_of_date": dated})
        return
    show_changes(found, changes, read=_newly_read(before, after), out_of_date=dated)


def backup(to: Path, folder: Path | None, as_json: bool) -> None:
    """Copy the store; say where the copy is."""
    with opened(folder) as store:
        made = store.backup(to)
        with store.snapshot() as seen:
            many = seen.count()
    if as_json:
        print_json({"backup": str(made), "cases": many})
        return
    sys.stdout.write(
        f"{_cases(many)} with every revision and scan: {made}\n"
        f"Back again: mountproof put-back {shlex.quote(str(made))}{_of(folder)}\n"
    )


def put_back(backup_folder: Path, who: str, folder: Path | None, as_json: bool) -> None:
    """Put a backup in the place of the store; say where what was there is kept."""
    by = _who(who)
    place = user_place() if folder is None else Place(folder)
    if not Place(backup_folder).database.is_file():
        what = say("this folder holds no backup")
        todo = say("Name a folder that a backup was made in")
        raise FaultError([Fault("store.not_a_store", what, todo, str(backup_folder))])
    try:
        with opened(folder, make=True) as store:
            kept = store.restore(backup_folder, by)
    except FaultError as error:
        if not any(
            f.code == "store.damaged" and f.where.endswith(str(place.database)[-200:]) for f in error.faults
        ):
            raise
        kept = Store.recover(place.folder, backup_folder, by)
    with opened(folder) as store, store.snapshot() as seen:
        many = seen.count()
    if as_json:
        print_json({"cases": many, "kept": str(kept)})
        return
    sys.stdout.write(f"In the store from the backup: {_cases(many)}. What was there is kept: {kept}\n")


def _value(field: str, words: Sequence[str], nothing: bool) -> Any:
    if nothing != (not words):
        what = say("it is not said what to enter")
        if nothing:
            what = say("nothing and something are both asked for")
        todo = say("Name the value, or --nothing to take the entry out")
        raise FaultError([Fault("enter.value", what, todo, field=field[:80])])
    for word in words:
        if word.startswith("-") and word != "-" and not {word[1:2]} <= _NUMBER_SIGNS:
            what = say("there is no such option")
            todo = say("To enter text that begins with -, put a space in front of it")
            raise FaultError([Fault("enter.value", what, todo, field=field[:80], got=word[:40])])
    if nothing:
        return None
    path = parse_field(field)
    if is_table(path):
        return words[0] if len(words) == 1 else list(words)
    return as_asked(path, words)


def _who(given: str) -> str:
    name = given.strip() or os.environ.get("MOUNTPROOF_WHO", "").strip()
    if not name:
        try:
            name = getpass.getuser().strip()
        except (OSError, KeyError, ImportError):
            name = ""
    if not name or not name.isprintable():
        what, todo = say("it is not said who does this"), say("Name initials with --who")
        raise FaultError([Fault("store.who", what, todo)])
    return name


def _newly_read(before: Revision, after: Revision) -> list[str]:
    """Return how an entry that can be read two ways was read, where it was not there before."""
    known = parse_case(plain_text(before.text)).echoes
    return [one for one in parse_case(plain_text(after.text)).echoes if one not in known]


def _one_of(word: str, words: Sequence[str], option: str) -> str:
    if word not in words:
        allowed = ", ".join(words)
        raise FaultError(
            [
                Fault(
                    "cases.option",
                    say("this word is not known here"),
                    say("Write one of the words allowed"),
                    option,
                    got=word[:40],
                    allowed=allowed,
                )
            ]
        )
    return word


def _of(folder: Path | None) -> str:
    return "" if folder is None else f" --store {shlex.quote(str(folder))}"


def _cases(many: int) -> str:
    return "1 case" if many == 1 else f"{many} cases"


def _as_dict(one: Listed) -> dict[str, Any]:
    return {
        "number": one.case_id,
        "code": one.code,
        "lab": one.lab,
        "note": one.note,
        "state": str(one.state),
        "revision": one.number,
        "who": one.who,
        "begun": one.begun.isoformat(),
        "changed": one.changed.isoformat(),
    }
