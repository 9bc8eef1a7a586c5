"""What every answer tells the browser: what the page may do, and that nobody else may read it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

#: What the page may use. Nothing from elsewhere, no script or style in the text of a page, no frame, no form.
CONTENT_POLICY = "; ".join(
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
#: On every answer, whatever it is.
HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(), usb=(), serial=(), payment=()",
    "Cross-Origin-Resource-Policy": "same-origin",
}
#: Browsers take these from TLS and from this computer only, and complain of them elsewhere.
_APART = {"Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Embedder-Policy": "require-corp"}
_NEVER = b"access-control-"
#: What an answer that holds something of a case may say of being kept: asked about each time, by this browser alone.
_MAY_BE_KEPT = (b"cache-control", b"private, no-cache")

Pairs = Iterable[tuple[bytes, bytes]]


def with_headers(found: Pairs, *, kept: bool, apart: bool = True) -> list[tuple[bytes, bytes]]:
    """Return the headers of an answer with ours set, and with none that would let other sites read it.

    ``kept`` tells whether the answer itself says if it may be kept (files of the page do), ``apart`` whether it came over
    TLS or from this computer.
    """
    found = [(name.lower(), value) for name, value in found]
    kept = kept or _MAY_BE_KEPT in found
    ours = {**HEADERS, **(_APART if apart else {}), **({} if kept else {"Cache-Control": "no-store"})}
    names = {name.lower().encode() for name in ours}
    left = [(name, value) for name, value in found if name not in names and not name.startswith(_NEVER)]
    return left + [(name.lower().encode(), value.encode()) for name, value in ours.items()]
