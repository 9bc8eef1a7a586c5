"""What every request says of itself: who works, in which language, on which bench; and the words for its parts."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import unquote

from fastapi import Depends, Header, Path, Query, Request

from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.bench import Bench
from mountproof.surfaces.web.tongue import LANGUAGES
from mountproof.surfaces.web.wire import MOST_ID

_LONGEST_WHO = 64


async def _bench(request: Request) -> Bench:
    bench: Bench = request.app.state.bench
    return bench


def language_of_request(request: Request) -> str:
    """Return the language of the texts: ``?lang=`` where it is given, else the first known of Accept-Language."""
    chosen = request.query_params.get("lang", "")
    return _first_known([chosen, *_accepted(request.headers.get("accept-language", ""))])


async def _language(
    request: Request,
    lang: Annotated[str, Query(max_length=20, description="language of the texts: en or de")] = "",
    accept_language: Annotated[str, Header(max_length=1000, description="used where lang is not given")] = "",
) -> str:
    return _first_known([lang, *_accepted(accept_language)])


async def _who(
    x_who: Annotated[str, Header(max_length=600, description="initials of who works, percent-encoded")] = "",
) -> str:
    """Return who makes a change. FaultError ``request.who`` where nobody is named."""
    who = unquote(x_who, errors="replace").strip()
    if not who or len(who) > _LONGEST_WHO or not who.isprintable():
        raise FaultError(
            [
                Fault(
                    "request.who",
                    say("it is not said who makes this change")
                    if not who
                    else say("this is no name, initials or code"),
                    say("Enter your initials"),
                    got=who[:20] if who.isprintable() else "",
                    allowed=say("1 to {most} characters", most=_LONGEST_WHO),
                )
            ]
        )
    return who


def _accepted(header: str) -> list[str]:
    """Return the languages of an Accept-Language header, the most wanted first."""
    found: list[tuple[float, int, str]] = []
    for at, part in enumerate(header.split(",")[:20]):
        name, _, quality = part.partition(";")
        try:
            weight = float(quality.strip().removeprefix("q=")) if quality.strip() else 1.0
        except ValueError:
            weight = 0.0
        found.append((-weight, at, name.strip()))
    return [name for _, _, name in sorted(found)]


def _first_known(names: list[str]) -> str:
    for name in names:
        for known in LANGUAGES:
            if name.lower().split("-")[0] == known:
                return known
    return LANGUAGES[0]


BenchOf = Annotated[Bench, Depends(_bench)]
In = Annotated[str, Depends(_language)]
Who = Annotated[str, Depends(_who)]
CaseId = Annotated[int, Path(alias="id", ge=1, le=MOST_ID, description="number of the case in this store")]
Number = Annotated[
    int | None, Query(ge=1, le=MOST_ID, alias="revision", description="a revision; the newest unless told")
]
