"""What decides who comes in, and the decision itself: nothing of a request is read before it."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field
from typing import NamedTuple

from starlette.datastructures import Headers
from starlette.types import Scope

from mountproof.faults import Fault
from mountproof.surfaces.web import access_faults as faults
from mountproof.surfaces.web.access_codes import Pairing
from mountproof.surfaces.web.access_devices import Devices, Visits
from mountproof.surfaces.web.access_hosts import LOOPBACK, comes_from_here, port_of, stranger
from mountproof.surfaces.web.access_limits import MOST_HEAD, most_bytes, said_length
from mountproof.surfaces.web.access_rates import Rate, Rates, network_of
from mountproof.surfaces.web.access_tokens import cookie_name, token_in
from mountproof.surfaces.web.entry import Entry
from mountproof.surfaces.web.key import Key

#: Any address of the network; one that shows no token; a paired device.
_ANY, _UNKNOWN, _DEVICE = Rate(400, 60), Rate(120, 10), Rate(300, 40)
#: What one device may have open at once: a stream of events for each window, and what they ask for.
_MOST_OPEN = 24
#: The one address below ``/api`` that a device may call before it is paired.
PAIR = ("POST", "/api/pair")


@dataclass(frozen=True, slots=True)
class Lan:
    """Through which names other devices reach this server, and the address that they are shown."""

    names: frozenset[str]
    address: str
    tls: bool


@dataclass(frozen=True, slots=True)
class Door:
    """Everything that decides who comes in. Without ``lan`` only this computer does."""

    key: Key
    devices: Devices
    lan: Lan | None = None
    pairing: Pairing = field(default_factory=Pairing)
    visits: Visits = field(default_factory=Visits)
    any_rate: Rates = field(default_factory=lambda: Rates(_ANY))
    unknown_rate: Rates = field(default_factory=lambda: Rates(_UNKNOWN))
    device_rate: Rates = field(default_factory=lambda: Rates(_DEVICE))


class Caller(NamedTuple):
    """Where a request comes from, before anything is known of who sends it. ``token`` is that of a device, if any."""

    here: bool
    network: str
    tls: bool
    port: int
    token: str | None


class Refused(Exception):
    """A request ends here."""

    def __init__(self, fault: Fault, status: int, wait_s: float = 0.0) -> None:
        super().__init__(fault.code)
        self.fault, self.status, self.wait_s = fault, status, wait_s


def is_api(scope: Scope) -> bool:
    """Tell whether a request asks for more than a file of the page."""
    return bool(scope["path"].startswith("/api/")) or scope["path"] == "/api"


def caller_of(scope: Scope) -> Caller:
    """Return where a request comes from, by the two ends of its connection; no header is believed."""
    server, client = scope.get("server") or ("", 0), scope.get("client") or ("", 0)
    headers, tls = Headers(scope=scope), scope["scheme"] == "https"
    port = port_of(headers.get("host", ""), scope["scheme"])
    here = comes_from_here(str(server[0]))
    token = None if here else token_in(headers.get("cookie", ""), cookie_name(port, tls=tls))
    return Caller(here, network_of(str(client[0])), tls, port, token)


async def admitted(door: Door, scope: Scope, caller: Caller) -> Entry | None:
    """Return who sends a request, None for whoever asks for a file of the page. Refused for everybody else."""
    headers, api = Headers(scope=scope), is_api(scope)
    if not caller.here:
        _within(door.any_rate, caller.network)
    _meant(door, scope, caller, headers)
    if not caller.here:
        return await _from_network(door, scope, caller)
    if api and not door.key.knows(headers.get("cookie", ""), caller.port):
        raise Refused(faults.KEY, 401)
    return Entry(here=True) if api else None


def _meant(door: Door, scope: Scope, caller: Caller, headers: Headers) -> None:
    """Refuse what was not meant for this server, was not sent by our page, or is too large."""
    names = LOOPBACK if caller.here else door.lan.names if door.lan else frozenset[str]()
    strange = stranger(headers, names, scheme=scope["scheme"], method=scope["method"], api=is_api(scope))
    if strange is not None:
        raise Refused(faults.HOST, 421) if strange == "host" else Refused(faults.ORIGIN, 403)
    if sum(len(name) + len(value) for name, value in scope["headers"]) > MOST_HEAD:
        raise Refused(faults.HEAD, 431)
    most = most_bytes(scope["method"], scope["path"])
    if said_length(headers) > most:
        raise Refused(faults.too_large(most), 413)


async def _from_network(door: Door, scope: Scope, caller: Caller) -> Entry | None:
    device = None
    if caller.token is not None:
        device = await asyncio.to_thread(door.devices.with_token, caller.token)
    if device is None:
        _within(door.unknown_rate, caller.network)
        if (scope["method"], scope["path"]) == PAIR:
            return Entry(here=False)
        if is_api(scope):
            raise Refused(faults.UNPAIRED, 401)
        return None
    _within(door.device_rate, device.id)
    if door.visits.count(device.id) >= _MOST_OPEN:
        raise Refused(faults.TOO_OFTEN, 429, wait_s=1.0)
    return Entry(here=False, device=device.id)


def _within(rates: Rates, name: str) -> None:
    wait_s = rates.wait_s(name)
    if wait_s > 0:
        raise Refused(faults.TOO_OFTEN, 429, wait_s)
