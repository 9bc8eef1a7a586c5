"""Whether a request was meant for this server, by this page: names, origins, and what the browser says of the sender.

A name that somebody else owns can be made to lead here (DNS rebinding); the browser then takes their page and this
server for one. It still writes that name into every request, and such requests end here.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Collection, Mapping
from typing import Literal

#: Names of this computer for itself.
LOOPBACK = frozenset({"127.0.0.1", "localhost", "[::1]"})
#: The same as addresses of a listening socket. The other 2^24 of 127.0.0.0/8 are treated as foreign.
_LOOPBACK_ENDS = frozenset({"127.0.0.1", "localhost", "::1"})

Stranger = Literal["host", "origin"]


def name_of(host: str) -> str:
    """Return the name in a Host header, without its port, in lower case."""
    name, colon, port = host.rpartition(":")
    plain = name if colon and port.isascii() and port.isdecimal() else host
    return plain.lower().removesuffix(".")


def port_of(host: str, scheme: str) -> int:
    """Return the port in a Host header, or the usual one."""
    _, colon, port = host.rpartition(":")
    if colon and port.isascii() and port.isdecimal() and len(port) <= 5:
        return int(port)
    return 443 if scheme == "https" else 80


def as_host(address: str) -> str:
    """Return an address as it stands in a Host header: IPv6 in brackets."""
    try:
        known = ipaddress.ip_address(address)
    except ValueError:
        return address.lower()
    return f"[{known}]" if known.version == 6 else str(known)


def comes_from_here(local_end: str) -> bool:
    """Tell whether a connection was made to the loopback: only programs of this computer can do that."""
    return local_end in _LOOPBACK_ENDS


def stranger(
    headers: Mapping[str, str], names: Collection[str], *, scheme: str, method: str, api: bool
) -> Stranger | None:
    """Say why a request is none of our page's, or None.

    ``names`` are those that this server answers to. Files of the page may be opened from anywhere (a link, a QR code);
    what is below ``api`` only by our own page, or typed in by a person where it only reads.
    """
    host = headers.get("host", "")
    if name_of(host) not in names:
        return "host"
    if not api:
        return None
    origin = headers.get("origin")
    if origin is not None and origin.lower() != f"{scheme}://{host}".lower():
        return "origin"
    site = headers.get("sec-fetch-site", "same-origin")
    reads = method in ("GET", "HEAD")
    return None if site == "same-origin" or (site == "none" and reads) else "origin"
