"""Nothing outside the data folder is read or written for a request: also not what only passes through the disk."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from mountproof.case.store import Store
from mountproof.case.store.faults import named
from mountproof.case.store.place import Place
from mountproof.faults import Fault, FaultError
from mountproof.said import say


@contextmanager
def passing_folder(store: Store) -> Iterator[Path]:
    """Give a folder for what is made on the way, inside the store, where only its owner reads; it goes with the block.

    What a kill leaves there lies among the views, which can be removed at any time.
    """
    with named(store.place.views):
        store.place.views.mkdir(parents=True, exist_ok=True)
        made = tempfile.TemporaryDirectory(prefix=".passing-", dir=store.place.views)
    with made as folder:
        yield Path(folder)


def require_inside(place: Place) -> None:
    """Raise FaultError ``store.link`` where a link in the folder of a store leads what is kept there elsewhere."""
    home = place.folder.resolve()
    inner = [place.database, place.scans, place.views, place.kept]
    with named(place.folder):
        inner += [one for folder in (place.scans, place.views) if folder.is_dir() for one in folder.iterdir()]
        for one in inner:
            if one.is_symlink() and not one.resolve().is_relative_to(home):
                what = say("a link in the folder of the store leads out of it")
                todo = say("Move the whole folder instead, and name it with --store")
                raise FaultError([Fault("store.link", what, todo, where=str(one))])
