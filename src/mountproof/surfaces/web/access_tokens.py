"""Tokens of paired devices, and the cookies that carry them."""

from __future__ import annotations

import hashlib
import re
import secrets
from http.cookies import CookieError, SimpleCookie

_BYTES = 32
_FORM = re.compile(r"[A-Za-z0-9_-]{43}")
#: A browser forgets its cookie after this; the device is paired again then.
LIFE_DAYS = 180


def new_token() -> str:
    """Return 256 bits that nobody can foresee."""
    return secrets.token_urlsafe(_BYTES)


def digest_of(token: str) -> str:
    """Return what is kept of a token. 256 random bits need no slow hash: nobody can try them out."""
    return hashlib.sha256(token.encode()).hexdigest()


def cookie_name(port: int, *, tls: bool) -> str:
    """Return the name of a device's cookie: browsers do not keep the cookies of ports apart, so the port is in it.

    Over TLS the name begins so that a browser takes it from this very address only, and never over plain HTTP.
    """
    return f"{'__Host-' if tls else ''}mountproof-device-{port}"


def cookie(name: str, token: str, *, tls: bool, life_s: int = LIFE_DAYS * 86400) -> str:
    """Return the value of Set-Cookie: not for scripts, not from other sites, over TLS only where there is TLS."""
    return f"{name}={token}; Path=/; Max-Age={life_s}; HttpOnly; SameSite=Strict{'; Secure' if tls else ''}"


def no_cookie(name: str, *, tls: bool) -> str:
    """Return the value of Set-Cookie that takes the cookie away."""
    return cookie(name, "", tls=tls, life_s=0)


def token_in(cookies: str, name: str) -> str | None:
    """Return the token among the cookies of a request, or None for none or one that is none of ours."""
    try:
        found = SimpleCookie(cookies).get(name)
    except CookieError:
        return None
    return found.value if found is not None and _FORM.fullmatch(found.value) else None
