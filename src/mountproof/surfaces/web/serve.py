"""The server as a process: an address on this computer, a browser, and an orderly end."""

from __future__ import annotations

import errno
import gc
import os
import socket
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import Any

import uvicorn

from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.access_lan import Wish as Wish
from mountproof.surfaces.web.access_lan import addresses_here, plan, told
from mountproof.surfaces.web.access_lan import wish_of as wish_of
from mountproof.surfaces.web.access_serve import COMMON, Guests, listening_at
from mountproof.surfaces.web.app import create_app

#: Only this computer itself.
HOST = "127.0.0.1"
#: Taken where it is free, so that a page that is open finds the server again; else any free one.
USUAL_PORT = 47810
#: How long running requests may take to end, in seconds.
_LAST_S = 3


def serve(
    store: Path | None = None,
    port: int | None = None,
    *,
    browser: bool = True,
    show: Callable[[str], None] = print,
    opener: Callable[[str], Any] = webbrowser.open,
    lan: Wish | None = None,
) -> None:
    """Serve the web bench on this computer until somebody stops it with Ctrl+C.

    ``show`` gets what a person should read, the address first; ``opener`` opens the address. With ``lan`` paired devices
    of the network come in, too. FaultError where the port is taken, the store cannot be opened, or the network or the
    certificate is not as it has to be.
    """
    # The command line does without it for its short life; a server that runs all day must not.
    gc.enable()
    with _listener(port) as listener:
        number = listener.getsockname()[1]
        planned = None if lan is None else plan(lan, number, addresses_here())
        sockets = [] if planned is None else listening_at(planned, number)
        app = create_app(store, lan=None if planned is None else planned.lan)
        guests = None if planned is None else Guests(app, planned, sockets, _LAST_S)
        address = f"http://{HOST}:{number}/?key="
        key = app.state.key

        def ready() -> None:
            show(say("The bench is open at {address}", address=f"{address}{key.word}"))
            for text in () if planned is None else told(planned):
                show(text)
            show(say("Stop it with Ctrl+C. What was entered is saved."))
            if browser:
                # Every user of this computer can read with what a program was started: this word is good once.
                # Some browsers only come back from this when they are closed.
                threading.Thread(target=opener, args=(address + key.once(),), daemon=True).start()

        server = _Server(_config(app), ready, app.state.bench.hub.close, guests)
        try:
            server.run(sockets=[listener])
        except KeyboardInterrupt:
            show("Stopped.")


def _config(app: Any) -> uvicorn.Config:
    return uvicorn.Config(app, lifespan="on", timeout_graceful_shutdown=_LAST_S, **COMMON)


class _Server(uvicorn.Server):
    """A server that says when it is ready, and lets the streams of events end before it waits for them."""

    def __init__(
        self,
        config: uvicorn.Config,
        ready: Callable[[], None],
        closing: Callable[[], None],
        guests: Guests | None = None,
    ) -> None:
        super().__init__(config)
        self._ready, self._closing, self._guests = ready, closing, guests

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to answer, then say so."""
        await super().startup(sockets)
        if self.started:
            if self._guests is not None:
                await self._guests.begin()
            self._ready()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End the streams, then everything else."""
        self._closing()
        if self._guests is not None:
            await self._guests.end()
        await super().shutdown(sockets)


def _listener(port: int | None) -> socket.socket:
    """Return a socket on this computer's own address. FaultError where the port that was asked for is not free."""
    for one in (USUAL_PORT, 0) if port is None else (port,):
        # With the protocol named: only then are answers sent at once, not held back 40 ms for the next part.
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        if os.name == "posix":
            # A server that was stopped a moment ago must not keep the next one from its address.
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((HOST, one))
            listener.listen(256)
            return listener
        except (OSError, OverflowError) as error:
            listener.close()
            if port is not None:
                taken = isinstance(error, OSError) and error.errno == errno.EADDRINUSE
                what = say("another program uses this port") if taken else say("this port cannot be used")
                todo = say("Leave out --port, and a free one is found")
                raise FaultError([Fault("web.port", what, todo, got=str(port))]) from error
    raise AssertionError("the system gives a free port to whoever asks for any")
