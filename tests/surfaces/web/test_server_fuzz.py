"""Whatever is sent to any address: the answer fits its description, and never says that the program went wrong.

MOUNTPROOF_FUZZ sets how many requests each address gets.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from tempfile import TemporaryDirectory

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, settings
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from mountproof.surfaces.demo_case import make_demo
from surfaces.web.bench_client import ADDRESS, Client, bench, bring_in

OPENAPI = Path(__file__).parents[3] / "docs" / "openapi.json"
SCHEMA = schemathesis.openapi.from_dict(json.loads(OPENAPI.read_text(encoding="utf-8"))).exclude(
    # A stream that does not end by itself.
    path="/api/events"
)
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_schema_conformance,
]
#: Names of cases that there are, so that more than the door is tried.
CASES = 3
_LEFT_OUT = {"host", "content-length", "transfer-encoding", "cookie", "origin"}


@pytest.fixture(scope="module")
def client() -> Iterator[Client]:
    with ExitStack() as stack:
        folder = Path(stack.enter_context(TemporaryDirectory()))
        patch = stack.enter_context(pytest.MonkeyPatch.context())
        patch.setitem(make_demo.__kwdefaults__, "triangles", 5000)
        client = stack.enter_context(bench(folder))
        for _ in range(CASES):
            bring_in(client)
        yield client


@SCHEMA.parametrize()
@settings(
    max_examples=int(os.environ.get("MOUNTPROOF_FUZZ", "6")),
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
def test_no_request_breaks_the_program(case: schemathesis.Case, client: Client) -> None:
    if isinstance(case.path_parameters.get("id"), int):
        case.path_parameters["id"] = case.path_parameters["id"] % (CASES + 2)
    sent = case.as_transport_kwargs(base_url=ADDRESS)
    headers = {
        name: value
        for name, value in dict(sent.get("headers") or {}).items()
        if name.lower() not in _LEFT_OUT
    }
    headers.setdefault("X-Who", "QP")
    body = {"content": sent["data"]} if sent.get("data") is not None else {}
    if "json" in sent:
        body = {"json": sent["json"]}
    try:
        request = client.asking.build_request(
            sent["method"], sent["url"], params=sent.get("params"), headers=headers, **body
        )
    except (httpx.InvalidURL, UnicodeEncodeError, ValueError, TypeError):
        return  # nobody can send this
    response = client.portal.call(client.asking.send, request)
    case.validate_response(response, checks=CHECKS)
    assert b"program.broken" not in response.content
