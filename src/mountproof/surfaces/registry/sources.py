"""The cases that a registry is made of: those of folders, and those of a store."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from mountproof.answers.progress import Progress
from mountproof.case.store.find import opened
from mountproof.case.text_file import CASE_FILE, read_data
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.registry.one import digest_of, fault_text


class Source(NamedTuple):
    """One case: where it came from, the digest of its text, and the text; ``fault`` instead where there is none."""

    name: str
    digest: str
    data: bytes
    fault: str | None = None


def gathered(
    folders: Iterable[Path], store: Path | None, use_store: bool, progress: Progress
) -> list[Source]:
    """Return the cases of ``folders`` (each a case, or a folder of cases), then those of the store if it is used.

    ``store`` is its folder, None for the user's. FaultError ``registry.nothing`` for a folder without a case, or none at
    all; as ``opened`` where there is no store.
    """
    found: list[Source] = []
    for folder in folders:
        found += _of_folder(folder, progress)
    if use_store:
        found += _of_store(store, progress)
    if not found:
        _nothing("" if store is None else str(store))
    return found


def _of_folder(folder: Path, progress: Progress) -> Iterator[Source]:
    if (folder / CASE_FILE).is_file():
        yield _read(folder, folder.name)
        return
    try:
        inner = sorted(one for one in folder.iterdir() if (one / CASE_FILE).is_file())
    except OSError:
        inner = []
    if not inner:
        _nothing(str(folder))
    for i, one in enumerate(inner):
        progress(i / len(inner), say("reading the cases"))
        yield _read(one, one.name)


def _read(folder: Path, name: str) -> Source:
    try:
        data = read_data(folder / CASE_FILE)
    except FaultError as error:
        fault = fault_text(error.faults[0])
        # No text, no digest of it: the fault stands for it, so that a file that can be read later is a new one.
        return Source(name, hashlib.sha256(f"{name}\n{fault}".encode()).hexdigest(), b"", fault)
    return Source(name, digest_of(data), data)


def _of_store(folder: Path | None, progress: Progress) -> Iterator[Source]:
    with opened(folder) as store, store.snapshot() as seen:
        many = seen.count()
        for at, one in enumerate(seen.every_case()):
            progress(at / many, say("reading the cases"))
            data = seen.head(one.case_id).text
            yield Source(one.uid, digest_of(data), data)


def _nothing(where: str) -> None:
    what = say("there is no case here")
    todo = say("Name a folder that holds case folders, or bring cases into the store")
    raise FaultError([Fault("registry.nothing", what, todo, where)])
