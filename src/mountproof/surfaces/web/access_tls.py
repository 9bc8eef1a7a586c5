"""The user's own certificate: read, tried out, and its faults told before anything is served with it."""

from __future__ import annotations

import datetime as dt
import ssl
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn

from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.access_hosts import as_host

_OVER, _NOT_YET = 10, 9  # what OpenSSL's verification calls them (X509_V_ERR_...)
_LARGEST_BYTES = 1_000_000
_EXPORT = say("Export it once more as PEM, the certificate first, then those it was signed with")


@dataclass(frozen=True, slots=True)
class Certificate:
    """A certificate that works: what to serve with, the names it stands for, and the moment when it is over."""

    context: ssl.SSLContext = field(repr=False)
    names: frozenset[str]
    end: dt.datetime


def certificate(cert: Path, key: Path) -> Certificate:
    """Return the certificate in two PEM files. FaultError ``tls....`` where browsers could not use it."""
    text = _text(cert)
    _text(key)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    asked: list[bool] = []

    def no_password() -> str:
        asked.append(True)
        return ""

    try:
        context.load_cert_chain(cert, key, no_password)
    except ssl.SSLError as error:
        _explain(error, cert, key, locked=bool(asked))
    found = _seen_by_a_browser(context, text, cert)
    pairs = [pair for pair in found.get("subjectAltName", ()) if pair[0] in ("DNS", "IP Address")]
    names = frozenset(as_host(value) for _, value in pairs)
    if not pairs:
        what, todo = say("this certificate names no address"), say("Ask for one with a subjectAltName")
        raise FaultError([Fault("tls.names", what, todo, where=str(cert))])
    end = dt.datetime.fromtimestamp(ssl.cert_time_to_seconds(found["notAfter"]), dt.UTC)
    return Certificate(context, names, end)


def _text(file: Path) -> str:
    try:
        with file.open("rb") as source:
            return source.read(_LARGEST_BYTES).decode("ascii")
    except (OSError, UnicodeDecodeError) as error:
        what = say("this file cannot be read as a certificate or key")
        todo = say(
            "Check the name of the file and whether you may read it; it has to be PEM, which begins with -----BEGIN"
        )
        raise FaultError([Fault("tls.unreadable", what, todo, where=str(file))]) from error


def _explain(error: ssl.SSLError, cert: Path, key: Path, *, locked: bool) -> NoReturn:
    if error.reason == "KEY_VALUES_MISMATCH":
        what, todo = (
            say("this key is not that of the certificate"),
            say("Name the key that the certificate was made with"),
        )
        raise FaultError([Fault("tls.mismatch", what, todo, where=str(key), got=str(cert))]) from error
    if locked:
        what, todo = (
            say("this key is locked with a password"),
            say("Store it without one, readable by you alone"),
        )
        raise FaultError([Fault("tls.locked", what, todo, where=str(key))]) from error
    what = say(
        "the certificate or its key is not in a form that can be used ({why})", why=error.reason or "PEM"
    )
    raise FaultError([Fault("tls.unreadable", what, _EXPORT, where=str(cert))]) from error


def _seen_by_a_browser(server: ssl.SSLContext, text: str, cert: Path) -> dict[str, Any]:
    """Return what a client reads of the certificate when it connects, in memory; what it refuses is a fault.

    The client takes the certificate itself as known: whether a device trusts its issuer is the device's affair.
    """
    client = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    client.check_hostname = False
    client.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN
    client.load_verify_locations(cadata=text)
    up, down = ssl.MemoryBIO(), ssl.MemoryBIO()
    asks, serves = client.wrap_bio(down, up), server.wrap_bio(up, down, server_side=True)
    try:
        while not _shaken(asks):
            _shaken(serves)
    except ssl.SSLCertVerificationError as error:
        _refused(error, cert)
    return asks.getpeercert() or {}


def _shaken(end: ssl.SSLObject) -> bool:
    try:
        end.do_handshake()
    except ssl.SSLWantReadError:
        return False
    return True


def _refused(error: ssl.SSLCertVerificationError, cert: Path) -> NoReturn:
    code = {_OVER: "tls.over", _NOT_YET: "tls.not_yet"}.get(error.verify_code, "tls.refused")
    what = {
        "tls.over": say("this certificate is over"),
        "tls.not_yet": say("this certificate is not valid yet"),
        "tls.refused": say("browsers would refuse this certificate ({why})", why=str(error.verify_message)),
    }[code]
    todo = (
        say("Put in a new one")
        if code == "tls.over"
        else say("Check the clock of this computer, and the certificate")
    )
    raise FaultError([Fault(code, what, todo, where=str(cert))]) from error
