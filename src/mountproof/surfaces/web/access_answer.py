"""The way of an answer out: our headers on it, nothing of it where its request was stopped on the way in."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from starlette.types import Message, Send

from mountproof.surfaces.web.access_headers import with_headers

#: An answer that nobody takes off the line for so long is given up.
SEND_S = 60.0


class NobodyReads(Exception):
    """An answer stays on the line."""


class Unwelcome(Exception):
    """A stream is to begin for a device that may come in no more."""


class Answer:
    """``send`` of one request. ``held`` tells whether the application's answer is to be dropped before it has begun."""

    def __init__(self, send: Send, *, api: bool, apart: bool) -> None:
        self.started = self.over = self.endless = False
        self.held: Callable[[], bool] = lambda: False
        self.unwelcome: Callable[[], bool] = lambda: False
        self._send, self._api, self._apart = send, api, apart

    async def __call__(self, message: Message) -> None:
        """Send a part of the answer. NobodyReads, Unwelcome."""
        if not self.started and self.held():
            return
        if message["type"] == "http.response.start":
            headers = with_headers(message.get("headers", ()), kept=not self._api, apart=self._apart)
            kinds = [value for name, value in headers if name.lower() == b"content-type"]
            self.endless = any(kind.startswith(b"text/event-stream") for kind in kinds)
            if self.endless and self.unwelcome():
                raise Unwelcome
            self.started = True
            message = {**message, "headers": headers}
        elif message["type"] == "http.response.body":
            self.over = not message.get("more_body", False)
        try:
            await asyncio.wait_for(self._send(message), SEND_S)
        except TimeoutError as error:
            raise NobodyReads from error
