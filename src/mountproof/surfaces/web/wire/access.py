"""What runs here, and the tablets that may speak to it."""

from __future__ import annotations

import datetime as dt

from pydantic import Field

from mountproof.surfaces.web.wire.base import Wire


class DeviceOut(Wire):
    """A paired tablet."""

    id: str
    name: str
    paired: dt.datetime
    last_seen: dt.datetime | None
    here: bool


class AboutOut(Wire):
    """What runs here."""

    version: str
    languages: list[str]
    lan: bool = Field(description="whether other devices of this network may be paired")
    here: bool = Field(description="whether the page is open on the computer that keeps the cases")
    store: str = Field(description="where the cases are kept; empty on another device")


class PairingOut(Wire):
    """A code for one tablet, for a short time, with its picture."""

    code: str
    address: str
    until: dt.datetime
    qr_svg: str
    encrypted: bool = Field(description="whether nobody else in the network can read what passes")


class PairIn(Wire):
    """The code that the other screen shows, and what to call this device."""

    code: str = Field(min_length=1, max_length=40)
    name: str = Field(min_length=1, max_length=60)
