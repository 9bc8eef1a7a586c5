"""Under which addresses of the network this computer listens, and what a person is told of that."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.access_door import Lan
from mountproof.surfaces.web.access_hosts import as_host
from mountproof.surfaces.web.access_tls import Certificate, certificate

#: Addresses to which a way is asked for; nothing is sent. The first is kept for documentation, the others are private.
_SOMEWHERE = ("192.0.2.1", "10.255.255.254", "172.31.255.254", "192.168.255.254")


class Wish(NamedTuple):
    """What a person asked for: to be reached ``at`` a name or address (found where empty), with a certificate or without."""

    at: str = ""
    cert: Path | None = None
    key: Path | None = None


class Plan(NamedTuple):
    """Where to listen beside this computer itself, and what comes of it."""

    lan: Lan
    addresses: tuple[str, ...]
    certificate: Certificate | None


def wish_of(lan: bool, at: str, cert: Path | None, key: Path | None) -> Wish | None:
    """Return what was asked for on a command line. FaultError ``lan.left_out`` where it makes sense with ``--lan`` only."""
    if not lan and (at or cert or key):
        what = say("--at, --cert and --key say how other devices come in, and none may")
        raise FaultError([Fault("lan.left_out", what, say("Add --lan, or leave them out"))])
    return Wish(at, cert, key) if lan else None


def addresses_here() -> tuple[str, ...]:
    """Return the private IPv4 addresses of this computer, that of its usual way out first."""
    found: dict[str, None] = {}
    for goal in _SOMEWHERE:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
            try:
                asking.connect((goal, 9))
            except OSError:
                continue
            found[asking.getsockname()[0]] = None
    try:
        own = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET, socket.SOCK_STREAM)
    except OSError:
        own = []
    found |= {str(one[4][0]): None for one in own}
    return tuple(one for one in found if _private(one))


def plan(wish: Wish, port: int, here: Sequence[str]) -> Plan:
    """Return where to listen on ``port``; ``here`` are the addresses of this computer. FaultError ``lan....``, ``tls....``."""
    if (wish.cert is None) != (wish.key is None):
        what = say("a certificate and its key go together")
        raise FaultError([Fault("tls.half", what, say("Give both --cert and --key, or neither"))])
    own = None if wish.cert is None or wish.key is None else certificate(wish.cert, wish.key)
    at = wish.at.strip().lower()
    literal = _address(at)
    if literal is not None and own is None and literal.is_global:
        what = say(
            "this address can be reached from outside; without a certificate everything could be read on the way"
        )
        raise FaultError(
            [Fault("lan.public", what, say("Give --cert and --key, or name a private address"), got=at)]
        )
    addresses = (str(literal),) if literal is not None else tuple(here)
    if not addresses:
        what, todo = (
            say("this computer has no address in a private network"),
            say("Connect it, or name its address: --at"),
        )
        raise FaultError([Fault("lan.none", what, todo)])
    # A name with * stands for many: which of them leads here has to be said.
    known = frozenset(one for one in (own.names if own is not None else ()) if "*" not in one)
    chosen = _shown(at, addresses, known)
    if own is not None and at and as_host(at) not in known and not _wild(at, own):
        what, todo = (
            say("the certificate does not name this address"),
            say("Choose one that it names, or ask for another"),
        )
        raise FaultError([Fault("tls.names", what, todo, got=at, allowed=", ".join(sorted(known)))])
    names = known | {as_host(one) for one in addresses} | ({as_host(at)} if at else set())
    scheme = "http" if own is None else "https"
    return Plan(Lan(names, f"{scheme}://{chosen}:{port}", own is not None), addresses, own)


def told(planned: Plan) -> tuple[str, ...]:
    """Return what a person has to know of being reached from the network."""
    reach = say(
        "Other devices of this network open {address}, once they are paired: Devices, in the page, makes a code.",
        address=planned.lan.address,
    )
    if planned.certificate is not None:
        until = say("Its certificate is valid until {day}.", day=planned.certificate.end.date())
        return (reach, until)
    plainly = say(
        "It is not encrypted: whoever listens in this network can read what passes, names and notes included, and can do what "
        "a paired device may. Use it only where you know everybody who is in the network, or give --cert and --key."
    )
    return (reach, plainly)


def _shown(at: str, addresses: Sequence[str], known: frozenset[str]) -> str:
    """Return the name that devices are shown: what was asked for, else what the certificate names, else an address."""
    if at:
        return as_host(at)
    hosts = [as_host(one) for one in addresses]
    named = [*(one for one in hosts if one in known), *sorted(known)] or hosts
    return named[0]


def _wild(at: str, own: Certificate) -> bool:
    return any(one.startswith("*.") and at.partition(".")[2] == one[2:] for one in own.names)


def _address(text: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    try:
        return ipaddress.ip_address(text)
    except ValueError:
        return None


def _private(address: str) -> bool:
    known = ipaddress.ip_address(address)
    return known.is_private and not known.is_loopback and not known.is_link_local and not known.is_unspecified
