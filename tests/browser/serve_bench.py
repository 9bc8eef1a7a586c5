"""A real server for the page tests: `python serve_bench.py STORE PAGE [--lan]` says its opening address, then serves.

It stands on a free port of the loopback and ends with SIGTERM. With ``--lan`` tablets reach it at 127.0.0.2, which the
program takes for an address of the network. While a file ``hold`` lies beside the store, no cast of the demo gets done.
"""

from __future__ import annotations

import socket
import sys
import time
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import uvicorn

from mountproof.phantom import arch
from mountproof.surfaces.web.access_door import Lan
from mountproof.surfaces.web.access_serve import COMMON
from mountproof.surfaces.web.app import create_app
from mountproof.surfaces.web.page_files import page_files

NETWORK = "127.0.0.2"


def hold_casts(hold: Path) -> None:
    """Let the making of a cast wait while the file is there, so that a test can look at it."""
    whole = arch.build_arch

    def held(*given: Any) -> Any:
        while hold.exists():
            time.sleep(0.05)
        return whole(*given)

    arch.build_arch = held


def main(store: Path, page: Path, *, lan: bool) -> None:
    hold_casts(store.parent / "hold")
    with ExitStack() as open_sockets:
        desk = open_sockets.enter_context(socket.create_server(("127.0.0.1", 0)))
        port = desk.getsockname()[1]
        sockets = [desk]
        if lan:
            sockets.append(open_sockets.enter_context(socket.create_server((NETWORK, port))))
        for one in sockets:
            # As the program does: answers are not held back for what follows.
            one.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        reach = Lan(frozenset({NETWORK}), f"http://{NETWORK}:{port}", tls=False)
        app = create_app(store, page=page_files(page), lan=reach if lan else None)
        sys.stdout.write(f"http://127.0.0.1:{port}/?key={app.state.key.word}\n")
        sys.stdout.flush()
        uvicorn.Server(uvicorn.Config(app, timeout_graceful_shutdown=1, **COMMON)).run(sockets=sockets)


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]), lan="--lan" in sys.argv[3:])
