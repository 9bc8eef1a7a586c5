"""Where a store lies, and what lies where in it."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple


class Place(NamedTuple):
    """The folder of a store. ``kept`` holds what stood there before a restore or a new version."""

    folder: Path

    @property
    def database(self) -> Path:
        """The database file."""
        return self.folder / "cases.sqlite"

    @property
    def scans(self) -> Path:
        """The folder of stored scans."""
        return self.folder / "scans"

    @property
    def views(self) -> Path:
        """Folders in which stored scans stand under their names in a case; can be removed at any time."""
        return self.folder / "views"

    @property
    def kept(self) -> Path:
        """Databases as they were before a restore or a new version of the tables."""
        return self.folder / "kept"


def user_place() -> Place:
    """Return the place of the store in the data folder of whoever uses this computer."""
    from platformdirs import user_data_path

    return Place(user_data_path("mountproof", appauthor=False))
