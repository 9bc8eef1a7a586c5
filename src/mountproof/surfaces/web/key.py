"""The secret that tells the page of this computer from every other page and program on it.

The address that the program opens carries a word that is good until the server stops; for it the browser gets a cookie.
What the cookie holds lies with the store, readable by its owner only: a page that is open goes on where the server was
started again, and nothing that was typed in it is lost.
"""

from __future__ import annotations

import hmac
import os
import re
import secrets
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from pathlib import Path

from mountproof.case.store.faults import named

#: Name of the file that holds what the cookie does.
_FILE = "web.key"
_FORM = re.compile(r"[A-Za-z0-9_-]{43}")


@dataclass(frozen=True, slots=True)
class Key:
    """``secret`` stands in the cookie; ``word`` opens the door once the server runs."""

    secret: str = field(repr=False)
    word: str = field(default_factory=lambda: secrets.token_urlsafe(32), repr=False)
    _once: set[str] = field(default_factory=set, repr=False)

    def once(self) -> str:
        """Return another word, which opens the door one time only: for where others may read it later."""
        word = secrets.token_urlsafe(32)
        self._once.add(word)
        return word

    def opens(self, word: str) -> bool:
        """Tell whether the word of an opening address is a right one; one that was good once is used up by it."""
        if hmac.compare_digest(word.encode(), self.word.encode()):
            return True
        found = [one for one in tuple(self._once) if hmac.compare_digest(word.encode(), one.encode())]
        self._once.difference_update(found)
        return bool(found)

    def knows(self, cookie_header: str, port: int) -> bool:
        """Tell whether the cookies of a request to a port hold the secret."""
        try:
            found = SimpleCookie(cookie_header).get(_cookie_name(port))
        except CookieError:
            return False
        return found is not None and hmac.compare_digest(found.value.encode(), self.secret.encode())

    def cookie(self, port: int) -> str:
        """Return the cookie: not for scripts, not for other sites, gone when the browser is closed."""
        return f"{_cookie_name(port)}={self.secret}; Path=/; HttpOnly; SameSite=Strict"


def _cookie_name(port: int) -> str:
    """Browsers do not keep the cookies of ports apart: two benches of one computer must not take each other's."""
    return f"mountproof-{port}"


def key_of(store: Path) -> Key:
    """Return the key of a store, made anew where there is none. FaultError where it cannot be read or kept."""
    file = store / _FILE
    with named(file):
        try:
            found = file.read_text(encoding="ascii").strip()
        except (FileNotFoundError, UnicodeDecodeError):
            found = ""
        if not _FORM.fullmatch(found):
            found = secrets.token_urlsafe(32)
            passing = file.with_name(f".{_FILE}.{secrets.token_hex(4)}")
            handle = os.open(passing, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "w", encoding="ascii") as sink:
                sink.write(found)
            passing.replace(file)
    return Key(found)
