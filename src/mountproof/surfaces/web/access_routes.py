"""Pairing a tablet, the list of what is paired, and taking it back."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, Path, Request, Response

from mountproof.case.store import Device
from mountproof.faults import FaultError
from mountproof.surfaces.web import access_faults as faults
from mountproof.surfaces.web.access_codes import shown
from mountproof.surfaces.web.access_door import Door, caller_of
from mountproof.surfaces.web.access_qr import qr_svg
from mountproof.surfaces.web.access_tokens import cookie, cookie_name, new_token, no_cookie
from mountproof.surfaces.web.asked import BenchOf, In
from mountproof.surfaces.web.entry import Entry, entry_of
from mountproof.surfaces.web.hub import Happened
from mountproof.surfaces.web.wire import DeviceOut, PairIn, PairingOut

router = APIRouter(tags=["access"])
#: Who the store is told made a change, where nobody has to say their initials.
_DESK = "desk"


async def _door(request: Request) -> Door:
    door: Door = request.app.state.door
    return door


async def _entry(request: Request) -> Entry:
    return entry_of(request.scope)


DoorOf = Annotated[Door, Depends(_door)]
EntryOf = Annotated[Entry, Depends(_entry)]
DeviceId = Annotated[str, Path(alias="id", max_length=100, description="the device, as the list names it")]


@router.post("/pairing", summary="Show a code for one device")
def make_code(door: DoorOf, entry: EntryOf, language: In) -> PairingOut:
    """Only at the computer that keeps the cases. The code before is closed; this one opens once, for five minutes."""
    _at_desk(entry)
    if door.lan is None:
        raise FaultError([faults.NO_LAN])
    offer = door.pairing.make()
    code = shown(offer.code)
    # Behind the sign '#' nothing is sent to a server or written into a log.
    address = f"{door.lan.address}/#/devices/pair/{quote(code)}"
    return PairingOut(
        code=code,
        address=door.lan.address,
        until=offer.end,
        qr_svg=qr_svg(address),
        encrypted=door.lan.tls,
    )


@router.delete("/pairing", summary="Close the code", status_code=204)
def close_code(door: DoorOf, entry: EntryOf) -> None:
    """Also when none is open."""
    _at_desk(entry)
    door.pairing.close()


@router.post("/pair", summary="Pair this device")
def pair(
    request: Request, response: Response, bench: BenchOf, door: DoorOf, language: In, given: PairIn
) -> DeviceOut:
    """With the code that the desk shows. The device gets its cookie; where it was paired before, that ends."""
    caller = caller_of(request.scope)
    if door.lan is None or caller.here:
        raise FaultError([faults.NO_LAN if door.lan is None else faults.PAIR_ELSEWHERE])
    name = _device_name(given.name)
    if door.pairing.try_code(given.code, caller.network) != "opens":
        raise FaultError([faults.CODE])
    before = None if caller.token is None else door.devices.with_token(caller.token)
    token = new_token()
    device = door.devices.add(name, token, _DESK)
    if before is not None:
        _end(door, before.id, device.name)
    name_of_cookie = cookie_name(caller.port, tls=caller.tls)
    response.headers.append("Set-Cookie", cookie(name_of_cookie, token, tls=caller.tls))
    bench.hub.publish(Happened("devices"))
    return _device_out(device, device.id)


@router.get("/devices", summary="Paired devices")
def devices(door: DoorOf, entry: EntryOf, language: In) -> list[DeviceOut]:
    """All of them at the computer that keeps the cases; a device sees itself."""
    found = door.devices.every()
    return [_device_out(one, entry.device) for one in found if entry.here or one.id == entry.device]


@router.delete("/devices/{id}", summary="Take back the pairing of a device")
def unpair(
    request: Request, response: Response, bench: BenchOf, door: DoorOf, entry: EntryOf, language: In, device: DeviceId
) -> list[DeviceOut]:  # fmt: skip
    """What it has open ends at once. A device may do so for itself only."""
    if device != entry.device:
        _at_desk(entry)
    left = [one for one in devices(door, entry, language) if one.id != device]
    _end(door, device, _DESK if entry.here else "device")
    if device == entry.device:
        caller = caller_of(request.scope)
        gone = no_cookie(cookie_name(caller.port, tls=caller.tls), tls=caller.tls)
        response.headers.append("Set-Cookie", gone)
    bench.hub.publish(Happened("devices"))
    return left


def _end(door: Door, device_id: str, who: str) -> None:
    door.devices.revoke(device_id, who)
    door.visits.end(device_id)


def _at_desk(entry: Entry) -> None:
    if not entry.here:
        raise FaultError([faults.DESK_ONLY])


def _device_name(typed: str) -> str:
    """Return the name of a device; checked before the code is used up by it. FaultError ``pair.name``."""
    name = " ".join(typed.split())
    if not name or not name.isprintable():
        raise FaultError([faults.NAME])
    return name


def _device_out(device: Device, own: str) -> DeviceOut:
    return DeviceOut(
        id=device.id, name=device.name, paired=device.paired, last_seen=device.seen, here=device.id == own
    )
