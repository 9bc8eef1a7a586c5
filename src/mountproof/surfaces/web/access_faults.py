"""What is said to whoever is not let in: what to do next, and nothing that helps to get in."""

from __future__ import annotations

from mountproof.faults import Fault
from mountproof.said import say

_OPEN = say("Open the address that the program shows")
_DESK = say("At the computer that keeps the cases, open Devices, make a code, and enter it on this device")

HOST = Fault("request.host", say("this is not the address of this server"), _OPEN)
ORIGIN = Fault("request.origin", say("another page sent this; nothing was changed"), _OPEN)
HEAD = Fault("request.too_large", say("the head of this request is too long"), say("Open the page again"))
KEY = Fault(
    "request.key",
    say("this browser was not let in yet, or was closed since"),
    say(
        "Open the whole address that the program showed when it was started, or start it again: mountproof open"
    ),
)
UNPAIRED = Fault("request.unpaired", say("this device is not paired, or was revoked"), _DESK)
TOO_OFTEN = Fault("request.too_often", say("this asks too often"), say("Wait a moment, then repeat this"))
SLOW = Fault(
    "request.slow",
    say("the transfer came too slowly and was ended; nothing of it was kept"),
    say("Go nearer to the access point or use a cable, then send it once more"),
)
CODE = Fault(
    "pair.code",
    say("this code does not open: it is mistyped, was used, or is too old"),
    say(
        "Look at the code again; after some wrong ones, or five minutes, a new one has to be made at the desk"
    ),
)
NAME = Fault(
    "pair.name",
    say("this cannot be the name of a device"),
    say("Give it a short name, such as where it stands"),
)
PAIR_ELSEWHERE = Fault(
    "pair.here",
    say("this is the computer that keeps the cases; it needs no pairing"),
    say("Open the address that Devices shows on the other device"),
)
DESK_ONLY = Fault(
    "pair.desk", say("this is done at the computer that keeps the cases"), say("Open Devices there")
)
NO_LAN = Fault(
    "pair.lan",
    say("the program was started for this computer only"),
    say("Stop it and start it with: mountproof open --lan"),
)


def too_large(most: int) -> Fault:
    """Return the fault of a body of more than ``most`` bytes."""
    return Fault(
        "request.too_large",
        say("this is more than anything in a case"),
        say("Send fewer entries at once, or a smaller file"),
        allowed=say("at most {size:.3g} MB", size=most / 1e6),
    )
