"""What every request must pass: the right host, the right origin, a key, a body that is not too large.

Pages of other sites, and of other servers on this computer, can make a browser send requests here; names that lead here
(DNS rebinding) can make them look like ours. None of it gets in, and every answer tells the browser what the page may do.
"""

from __future__ import annotations

from collections.abc import Callable, Collection

from fastapi import Request
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from mountproof.faults import Fault, FaultError
from mountproof.surfaces.web.entry import SCOPE_KEY, Entry, vouch
from mountproof.surfaces.web.faulty import faults_response
from mountproof.surfaces.web.key import Key

#: Names of this computer for itself.
LOOPBACK = frozenset({"127.0.0.1", "localhost", "[::1]"})
#: The largest body of a request that is no file.
MOST_BODY = 4_000_000
#: Bodies that go to the disk in portions; they have limits of their own.
_STREAMED = ("/scans/", "/bring-in")

_CSP = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "connect-src 'self'",
        "img-src 'self' blob: data:",
        "font-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "form-action 'none'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
_HEADERS = {
    "Content-Security-Policy": _CSP,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(), usb=(), serial=(), payment=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Embedder-Policy": "require-corp",
}

_HOST = Fault(
    "request.host", "this is not the address of this server", "Open the address that the program shows"
)
_ORIGIN = Fault(
    "request.origin", "another page sent this; nothing was changed", "Open the address that the program shows"
)
_KEY = Fault(
    "request.key",
    "this browser was not let in yet, or was closed since",
    "Open the whole address that the program showed when it was started, or start it again: mountproof open",
)
_LARGE = Fault(
    "request.too_large", "this is more than anything in a case", "Send fewer entries at once",
    allowed=f"at most {MOST_BODY / 1e6:.0f} MB",
)  # fmt: skip


class Guard:
    """The outermost layer around the application. ``hosts`` gives the names this server answers to, without port."""

    def __init__(self, app: ASGIApp, key: Key, hosts: Callable[[], Collection[str]]) -> None:
        self._app, self._key, self._hosts = app, key, hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or answer it here."""
        if scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
            return
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        api = scope["path"].startswith("/api/")
        with_headers = _headed(send, api)
        fault, status = self._refused(scope, headers, api)
        if fault is not None:
            answer = faults_response(Request(scope, receive), [fault], status)
            await answer(scope, receive, with_headers)
            return
        if api and not any(part in scope["path"] for part in _STREAMED):
            receive = _limited(receive)
        await self._app(scope, receive, with_headers)

    def _refused(self, scope: Scope, headers: Headers, api: bool) -> tuple[Fault | None, int]:
        host = headers.get("host", "")
        if _name(host) not in self._hosts():
            return _HOST, 421
        if not api:
            return None, 0
        origin = headers.get("origin")
        if origin is not None and origin != f"{scope.get('scheme', 'http')}://{host}":
            return _ORIGIN, 403
        site = headers.get("sec-fetch-site")
        reads = scope["method"] in ("GET", "HEAD")
        if site is not None and site != "same-origin" and not (site == "none" and reads):
            return _ORIGIN, 403
        if SCOPE_KEY not in scope:
            if not self._key.knows(headers.get("cookie", "")):
                return _KEY, 401
            vouch(scope, Entry(here=True))
        length = headers.get("content-length", "0")
        large = length.isascii() and length.isdecimal() and int(length[:19]) > MOST_BODY
        if large and not any(part in scope["path"] for part in _STREAMED):
            return _LARGE, 413
        return None, 0


def _name(host: str) -> str:
    """Return the name in a Host header, without its port, in lower case."""
    name, colon, port = host.rpartition(":")
    if colon and port.isascii() and port.isdecimal():
        return name.lower()
    return host.lower()


def _headed(send: Send, api: bool) -> Send:
    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers[name] = value
            if api:
                headers["Cache-Control"] = "no-store"
        await send(message)

    return with_headers


def _limited(receive: Receive) -> Receive:
    """Refuse a body that is larger than it said, or did not say how large it is."""
    size = 0

    async def limited() -> Message:
        nonlocal size
        message = await receive()
        if message["type"] == "http.request":
            size += len(message.get("body", b""))
            if size > MOST_BODY:
                raise FaultError([_LARGE])
        return message

    return limited
