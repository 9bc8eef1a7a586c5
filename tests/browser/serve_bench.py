"""A real server for the page tests: `python serve_bench.py STORE PAGE` says its opening address, then serves.

It stands on a free port of the loopback and ends with SIGTERM.
"""

from __future__ import annotations

import socket
import sys
from pathlib import Path

import uvicorn

from mountproof.surfaces.web.app import create_app
from mountproof.surfaces.web.page_files import page_files


def main(store: Path, page: Path) -> None:
    listening = socket.create_server(("127.0.0.1", 0))
    app = create_app(store, page=page_files(page))
    address = f"http://127.0.0.1:{listening.getsockname()[1]}"
    sys.stdout.write(f"{address}/?key={app.state.key.word}\n")
    sys.stdout.flush()
    config = uvicorn.Config(app, log_level="warning", access_log=False, timeout_graceful_shutdown=1)
    uvicorn.Server(config).run(sockets=[listening])


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
