"""The code that pairs a tablet: shown at the desk, good once, for a short time, and for few guesses.

Eight signs of thirty are 39 bits. Before a code is closed it sees at most ``MOST_WRONG`` wrong ones, so that whoever
guesses comes in with a probability of 3e-11 for each code that somebody at the desk asks for.
"""

from __future__ import annotations

import datetime as dt
import hmac
import secrets
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from mountproof.case.store.times import utc_now

#: Signs that cannot be taken for each other: no 0 and O, no 1, I and L, no U.
ALPHABET = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
#: How many of them make a code, and how many stand together when it is shown.
LETTERS, GROUP = 8, 4
#: How long a code is good.
LIFE = dt.timedelta(minutes=5)
#: Wrong codes from one address, and from all together, after which nothing more is compared.
MOST_WRONG_OF_ONE, MOST_WRONG = 5, 20

Outcome = Literal["opens", "wrong", "closed"]


@dataclass(frozen=True, slots=True)
class Offer:
    """A code that is open. ``end_s`` is on the steady clock, ``start`` and ``end`` are moments of the day."""

    code: str = field(repr=False)
    end_s: float
    start: dt.datetime
    end: dt.datetime
    wrong: Mapping[str, int] = field(default_factory=dict)


def new_code() -> str:
    """Return a code that nobody can foresee."""
    return "".join(secrets.choice(ALPHABET) for _ in range(LETTERS))


def shown(code: str) -> str:
    """Return a code as it is read out and typed: in groups."""
    return "-".join(code[at : at + GROUP] for at in range(0, len(code), GROUP))


def plain(typed: str) -> str:
    """Return what was typed without spaces and dashes, in capitals."""
    return "".join(sign for sign in typed.upper() if sign.isalnum())


def is_open(offer: Offer, now_s: float, now: dt.datetime) -> bool:
    """Tell whether a code is still good.

    Both clocks have to say so: the steady one cannot be set back, and the one of the day goes on while the computer
    sleeps. A clock of the day that stands before the code was made was set back: nothing is known of its age then.
    """
    return now_s < offer.end_s and offer.start <= now < offer.end and sum(offer.wrong.values()) < MOST_WRONG


def tried(
    offer: Offer | None, typed: str, of: str, now_s: float, now: dt.datetime
) -> tuple[Offer | None, Outcome]:
    """Return what is left of an offer after somebody at address ``of`` typed a code, and what came of it.

    A right code uses the offer up. Codes are compared in constant time, and also where none is open.
    """
    alike = hmac.compare_digest(plain(typed).encode(), (offer.code if offer else new_code()).encode())
    if offer is None or not is_open(offer, now_s, now):
        return None, "closed"
    if offer.wrong.get(of, 0) >= MOST_WRONG_OF_ONE:
        return offer, "closed"
    if alike:
        return None, "opens"
    counted = replace(offer, wrong={**offer.wrong, of: offer.wrong.get(of, 0) + 1})
    return (counted if is_open(counted, now_s, now) else None), "wrong"


class Pairing:
    """The one code that may be open, shared by threads. ``steady`` and ``clock`` tell the time."""

    def __init__(
        self, steady: Callable[[], float] = time.monotonic, clock: Callable[[], dt.datetime] = utc_now
    ) -> None:
        self._steady, self._clock = steady, clock
        self._lock = threading.Lock()
        self._offer: Offer | None = None

    def make(self) -> Offer:
        """Open a new code; the one before is closed."""
        now = self._clock()
        offer = Offer(new_code(), self._steady() + LIFE.total_seconds(), now, now + LIFE)
        with self._lock:
            self._offer = offer
        return offer

    def close(self) -> None:
        """Let no code be open."""
        with self._lock:
            self._offer = None

    def try_code(self, typed: str, of: str) -> Outcome:
        """Say what comes of a code typed at address ``of``: it opens once, and never for two at the same time."""
        with self._lock:
            self._offer, outcome = tried(self._offer, typed, of, self._steady(), self._clock())
        return outcome
