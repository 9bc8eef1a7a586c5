"""The user's own certificate: what works is served with, what browsers would refuse is told before."""

from __future__ import annotations

import datetime as dt
import ssl
from pathlib import Path

import httpx
import pytest
import trustme
from cryptography.hazmat.primitives.serialization import (
    BestAvailableEncryption,
    Encoding,
    PrivateFormat,
    load_pem_private_key,
)

from mountproof.faults import FaultError
from mountproof.surfaces.web.access_lan import Wish, plan, told, wish_of
from mountproof.surfaces.web.access_tls import certificate

NOW = dt.datetime.now(dt.UTC)
DAY = dt.timedelta(days=1)
HERE = ("192.168.7.5", "10.0.0.5")


@pytest.fixture(scope="module")
def issuer() -> trustme.CA:
    return trustme.CA()


def files(folder: Path, leaf: trustme.LeafCert, key: trustme.LeafCert | None = None) -> tuple[Path, Path]:
    """Write a certificate and a key (its own unless another is given) as a person would have them."""
    cert_file, key_file = folder / "bench.pem", folder / "bench.key"
    cert_file.write_bytes(b"".join(one.bytes() for one in leaf.cert_chain_pems))
    key_file.write_bytes((key or leaf).private_key_pem.bytes())
    return cert_file, key_file


def code_of(cert: Path, key: Path) -> str:
    with pytest.raises(FaultError) as caught:
        certificate(cert, key)
    fault = caught.value.faults[0]
    assert fault.what and fault.todo
    assert fault.where in (str(cert), str(key))
    return fault.code


def test_a_certificate_that_works(tmp_path: Path, issuer: trustme.CA) -> None:
    end = (NOW + 30 * DAY).replace(microsecond=0)
    leaf = issuer.issue_cert("Bench.Practice.example", "192.168.7.5", "fd00::5", not_after=end)
    found = certificate(*files(tmp_path, leaf))
    assert found.names == {"bench.practice.example", "192.168.7.5", "[fd00::5]"}
    assert found.end == end
    assert found.context.minimum_version >= ssl.TLSVersion.TLSv1_2


def test_its_key_is_not_in_the_picture_of_it(tmp_path: Path, issuer: trustme.CA) -> None:
    assert "context" not in repr(certificate(*files(tmp_path, issuer.issue_cert("a.example"))))


@pytest.mark.parametrize(
    ("start", "end", "code"),
    [(NOW - 9 * DAY, NOW - DAY, "tls.over"), (NOW + DAY, NOW + 9 * DAY, "tls.not_yet")],
)
def test_over_or_not_yet(
    tmp_path: Path, issuer: trustme.CA, start: dt.datetime, end: dt.datetime, code: str
) -> None:
    leaf = issuer.issue_cert("bench.example", not_before=start, not_after=end)
    assert code_of(*files(tmp_path, leaf)) == code


def test_the_key_of_another_certificate(tmp_path: Path, issuer: trustme.CA) -> None:
    leaf = issuer.issue_cert("bench.example")
    assert code_of(*files(tmp_path, leaf, key=issuer.issue_cert("bench.example"))) == "tls.mismatch"


def test_a_locked_key_is_told_and_nobody_is_asked_for_a_password(tmp_path: Path, issuer: trustme.CA) -> None:
    leaf = issuer.issue_cert("bench.example")
    cert, key = files(tmp_path, leaf)
    open_key = load_pem_private_key(key.read_bytes(), None)
    key.write_bytes(
        open_key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, BestAvailableEncryption(b"a password"))
    )
    assert code_of(cert, key) == "tls.locked"


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"no certificate",
        b"\xff\xfe\x00",
        b"-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n",
    ],
)
@pytest.mark.parametrize("which", [0, 1])
def test_files_that_hold_none(tmp_path: Path, issuer: trustme.CA, text: bytes, which: int) -> None:
    pair = files(tmp_path, issuer.issue_cert("bench.example"))
    pair[which].write_bytes(text)
    assert code_of(*pair) == "tls.unreadable"


@pytest.mark.parametrize("which", [0, 1])
def test_files_that_are_not_there(tmp_path: Path, issuer: trustme.CA, which: int) -> None:
    pair = files(tmp_path, issuer.issue_cert("bench.example"))
    pair[which].unlink()
    assert code_of(*pair) == "tls.unreadable"
    pair[which].mkdir()
    assert code_of(*pair) == "tls.unreadable"


def test_a_certificate_without_a_name(tmp_path: Path, issuer: trustme.CA) -> None:
    leaf = issuer.issue_cert(common_name="bench.example")
    assert code_of(*files(tmp_path, leaf)) == "tls.names"


def planned(wish: Wish, here: tuple[str, ...] = HERE) -> tuple[str, frozenset[str]]:
    made = plan(wish, 47810, here)
    return made.lan.address, made.lan.names


def fault(wish: Wish, here: tuple[str, ...] = HERE) -> str:
    with pytest.raises(FaultError) as caught:
        plan(wish, 47810, here)
    return caught.value.faults[0].code


def test_without_anything_it_is_the_first_address_in_plain() -> None:
    assert planned(Wish()) == ("http://192.168.7.5:47810", frozenset(HERE))
    assert "not encrypted" in " ".join(told(plan(Wish(), 47810, HERE)))


def test_at_an_address_or_a_name() -> None:
    assert planned(Wish(at="10.0.0.5")) == ("http://10.0.0.5:47810", frozenset({"10.0.0.5"}))
    assert plan(Wish(at="10.0.0.5"), 1, HERE).addresses == ("10.0.0.5",)
    assert planned(Wish(at="Bench.local")) == ("http://bench.local:47810", frozenset({*HERE, "bench.local"}))
    assert planned(Wish(at="fd00::5")) == ("http://[fd00::5]:47810", frozenset({"[fd00::5]"}))


def test_no_address_and_no_address_for_the_world() -> None:
    assert fault(Wish(), ()) == "lan.none"
    assert fault(Wish(at="8.8.8.8")) == "lan.public"


def test_with_a_certificate_the_names_are_its_own(tmp_path: Path, issuer: trustme.CA) -> None:
    cert, key = files(tmp_path, issuer.issue_cert("bench.example", "10.0.0.5"))
    address, names = planned(Wish(cert=cert, key=key))
    assert address == "https://10.0.0.5:47810"
    assert names == {"bench.example", *HERE}
    assert fault(Wish("other.example", cert, key)) == "tls.names"
    assert "not encrypted" not in " ".join(told(plan(Wish("", cert, key), 1, HERE)))


def test_a_name_for_many(tmp_path: Path, issuer: trustme.CA) -> None:
    cert, key = files(tmp_path, issuer.issue_cert("*.practice.example"))
    address, names = planned(Wish("bench.practice.example", cert, key))
    assert address == "https://bench.practice.example:47810"
    assert "bench.practice.example" in names
    assert not [one for one in names if "*" in one]
    assert fault(Wish("deep.bench.practice.example", cert, key)) == "tls.names"


def test_half_of_it(tmp_path: Path) -> None:
    assert fault(Wish(cert=tmp_path / "a")) == fault(Wish(key=tmp_path / "a")) == "tls.half"


@pytest.mark.parametrize("left", [("here.example", None, None), ("", Path("a"), None), ("", None, Path("a"))])
def test_what_says_how_others_come_in_needs_lan(left: tuple[str, Path | None, Path | None]) -> None:
    with pytest.raises(FaultError) as caught:
        wish_of(False, *left)
    assert caught.value.faults[0].code == "lan.left_out"
    assert wish_of(False, "", None, None) is None
    assert wish_of(True, *left) == Wish(*left)


def test_served_with_it(tmp_path: Path, issuer: trustme.CA) -> None:
    """A process as a person would start it: the desk in plain on the loopback, a tablet over TLS, its cookie Secure."""
    from surfaces.web.access_bench import NETWORK, watched
    from surfaces.web.bench_client import running

    cert, key = files(tmp_path, issuer.issue_cert(NETWORK))
    trusting = ssl.create_default_context()
    issuer.configure_trust(trusting)
    options = ("--lan", "--at", NETWORK, "--cert", str(cert), "--key", str(key))
    with running(tmp_path / "store", *options) as server, server.client() as desk:
        made = desk.post("/api/pairing").json()
        assert made["encrypted"] is True
        with httpx.Client(
            base_url=made["address"], verify=trusting, event_hooks={"response": [watched]}
        ) as tablet:
            assert tablet.get("/api/about").status_code == 401
            paired = tablet.post("/api/pair", json={"code": made["code"], "name": "tablet"})
            assert paired.status_code == 200
            given = paired.headers["set-cookie"]
            assert given.startswith("__Host-mountproof-device-")
            assert {"Secure", "HttpOnly", "SameSite=Strict", "Path=/"} <= set(given.split("; "))
            assert "Domain" not in given
            about = tablet.get("/api/about").json()
            assert about["here"] is False and about["store"] == ""
            assert paired.headers["cross-origin-opener-policy"] == "same-origin"
        plain = made["address"].replace("https:", "http:")
        with pytest.raises(httpx.TransportError):
            httpx.get(plain + "/api/about")
