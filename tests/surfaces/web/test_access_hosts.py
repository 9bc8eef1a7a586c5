"""Whether a request was meant for this server, by this page."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.surfaces.web.access_hosts import (
    LOOPBACK,
    as_host,
    comes_from_here,
    name_of,
    port_of,
    stranger,
)

NAMES = LOOPBACK | {"192.168.7.5", "[fd00::5]", "bench.example"}


def said(method: str = "GET", *, api: bool = True, scheme: str = "http", **headers: str) -> str | None:
    given_headers = {
        "host": "127.0.0.1:47810",
        **{name.replace("_", "-"): text for name, text in headers.items()},
    }
    return stranger(given_headers, NAMES, scheme=scheme, method=method, api=api)


@pytest.mark.parametrize(
    "host",
    [
        "127.0.0.1:47810",
        "127.0.0.1",
        "localhost:1",
        "LOCALHOST",
        "[::1]:47810",
        "192.168.7.5:80",
        "bench.example.",
        "[FD00::5]:1",
    ],
)
def test_own_names(host: str) -> None:
    assert said(host=host) is None


@pytest.mark.parametrize(
    "host",
    [
        "", "evil.example", "evil.example:47810", "127.0.0.1.evil.example", "localhost.evil.example", "127.0.0.2",
        "127.0.0.1:", "127.0.0.1:x", "127.0.0.1:47810:1", "127.1", "2130706433", "0.0.0.0", "[::]", "::1",
        "127.0.0.1@evil.example", "evil.example#127.0.0.1", "evil.example/127.0.0.1", " 127.0.0.1", "１２７.0.0.1",
        "localhost\x00",
    ],
)  # fmt: skip
def test_names_of_others(host: str) -> None:
    assert said(host=host) == "host"


@given(st.text(max_size=30))
def test_any_other_name_is_refused(host: str) -> None:
    known = name_of(host) in NAMES
    assert (said(host=host) is None) == known


@pytest.mark.parametrize(
    "origin",
    ["http://127.0.0.1:47811", "http://localhost:47810", "https://127.0.0.1:47810", "http://evil.example", "null", "",
     "http://127.0.0.1:47810.evil.example", "http://127.0.0.1:47810/", "file://", "chrome-extension://abcdef"],
)  # fmt: skip
@pytest.mark.parametrize("method", ["GET", "POST", "DELETE", "OPTIONS"])
def test_other_origins_are_refused(origin: str, method: str) -> None:
    assert said(method, origin=origin) == "origin"


@pytest.mark.parametrize("site", ["cross-site", "same-site", "none", "", "Same-Origin", "nonsense"])
def test_the_browser_says_who_sends(site: str) -> None:
    """Another port of the same host is same-site: cookies go with it, so it has to be refused here."""
    assert said("POST", sec_fetch_site=site) == "origin"
    assert (said("GET", sec_fetch_site=site) is None) == (site == "none")


def test_our_own_page_and_programs_without_a_browser_pass() -> None:
    own = "http://127.0.0.1:47810"
    assert said("POST", origin=own, sec_fetch_site="same-origin") is None
    assert said("POST") is None
    assert said("POST", scheme="https", origin="https://127.0.0.1:47810") is None


def test_files_of_the_page_may_be_opened_from_anywhere_but_under_our_name_only() -> None:
    assert said(api=False, sec_fetch_site="cross-site") is None
    assert said(api=False, host="evil.example") == "host"


@pytest.mark.parametrize(
    ("end", "here"),
    [
        ("127.0.0.1", True),
        ("::1", True),
        ("127.0.0.2", False),
        ("192.168.7.5", False),
        ("", False),
        ("0.0.0.0", False),
    ],
)
def test_what_counts_as_this_computer(end: str, here: bool) -> None:
    assert comes_from_here(end) is here


@pytest.mark.parametrize(
    ("host", "port"), [("a", 80), ("a:1", 1), ("[::1]:47810", 47810), ("a:999999", 80), ("a:x", 80)]
)
def test_ports(host: str, port: int) -> None:
    assert port_of(host, "http") == port


def test_the_usual_port_of_tls() -> None:
    assert port_of("bench.example", "https") == 443


@pytest.mark.parametrize(
    ("address", "host"),
    [("FD00::5", "[fd00::5]"), ("192.168.7.5", "192.168.7.5"), ("Bench.Example", "bench.example")],
)
def test_addresses_as_hosts(address: str, host: str) -> None:
    assert as_host(address) == host
