"""A flow of events whose reader has gone is no fault of the program; anything else that goes wrong is told."""

from __future__ import annotations

import asyncio
import logging
from typing import Any

import anyio
import pytest

from mountproof.surfaces.web.access import Access
from mountproof.surfaces.web.access_answer import Answer
from mountproof.surfaces.web.access_limits import Body

SCOPE = {"type": "http", "method": "GET", "path": "/events", "headers": [], "query_string": b""}


def sent(error: Exception, *, started: bool) -> list[dict[str, Any]]:
    """What goes out when an application fails so, before or after its answer began."""
    out: list[dict[str, Any]] = []

    async def app(scope: Any, receive: Any, send: Any) -> None:
        if started:
            await send({"type": "http.response.start", "status": 200, "headers": []})
        raise error

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": b""}

    async def send(message: dict[str, Any]) -> None:
        out.append(message)

    access = Access(app, None)  # type: ignore[arg-type]
    answer = Answer(send, api=True, apart=True)
    asyncio.run(access._answered(SCOPE, Body(receive, 100), answer))
    return out


@pytest.mark.parametrize(
    "error",
    [
        anyio.BrokenResourceError(),
        ExceptionGroup(
            "g", [ExceptionGroup("h", [anyio.BrokenResourceError()]), anyio.BrokenResourceError()]
        ),
    ],
)
def test_a_reader_that_has_gone_is_no_complaint(error: Exception, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.ERROR):
        assert [m["type"] for m in sent(error, started=True)] == ["http.response.start"]
    assert not caplog.records


@pytest.mark.parametrize(
    ("error", "started"),
    [
        (ExceptionGroup("g", [anyio.BrokenResourceError(), ValueError("a fault")]), True),
        (ValueError("a fault"), True),
        (anyio.BrokenResourceError(), False),
    ],
)
def test_anything_else_is_told(error: Exception, started: bool, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.ERROR):
        out = sent(error, started=started)
    assert any("went wrong" in record.message for record in caplog.records)
    assert out[0]["status"] == (200 if started else 500)
