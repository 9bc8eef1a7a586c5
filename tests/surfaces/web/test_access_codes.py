"""The pairing code: once, for a short time, for few guesses; against a slow and obviously right account of it."""

from __future__ import annotations

import datetime as dt
import math
import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.surfaces.web.access_codes import (
    ALPHABET,
    LETTERS,
    LIFE,
    MOST_WRONG,
    MOST_WRONG_OF_ONE,
    Pairing,
    new_code,
    plain,
    shown,
    tried,
)

NOON = dt.datetime(2031, 5, 6, 12, tzinfo=dt.UTC)


class Clocks:
    """A steady clock and one of the day, which a person can set."""

    def __init__(self) -> None:
        self.steady_s, self.day = 1000.0, NOON

    def pairing(self) -> Pairing:
        return Pairing(lambda: self.steady_s, lambda: self.day)

    def later(self, s: float) -> None:
        self.steady_s += s
        self.day += dt.timedelta(seconds=s)


def test_a_code_is_made_of_signs_that_cannot_be_confused() -> None:
    made = [new_code() for _ in range(200)]
    assert len(set(made)) == 200
    assert {len(one) for one in made} == {LETTERS}
    assert set("".join(made)) == set(ALPHABET)
    assert not set(ALPHABET) & set("01OILU")
    assert len(set(ALPHABET)) == len(ALPHABET)


def test_guessing_is_hopeless() -> None:
    """The chance of all guesses that one code allows is below one in ten thousand million."""
    assert MOST_WRONG / len(ALPHABET) ** LETTERS < 1e-10
    assert LETTERS * math.log2(len(ALPHABET)) > 39


@given(st.text(ALPHABET, min_size=LETTERS, max_size=LETTERS), st.data())
def test_a_code_is_read_however_it_is_typed(code: str, data: st.DataObject) -> None:
    typed = "".join(
        data.draw(st.sampled_from(["", " ", "-", "  ", "\t"]))
        + data.draw(st.sampled_from([sign, sign.lower()]))
        for sign in code
    )
    assert plain(typed) == code == plain(shown(code))


def test_a_code_opens_once() -> None:
    pairing = Clocks().pairing()
    code = pairing.make().code
    assert [pairing.try_code(code, "a") for _ in range(3)] == ["opens", "closed", "closed"]


def test_a_new_code_closes_the_one_before() -> None:
    pairing = Clocks().pairing()
    old, new = pairing.make().code, pairing.make().code
    assert pairing.try_code(old, "a") == "wrong"
    assert pairing.try_code(new, "a") == "opens"


def test_a_closed_code_does_not_open() -> None:
    pairing = Clocks().pairing()
    code = pairing.make().code
    pairing.close()
    assert pairing.try_code(code, "a") == "closed"


@pytest.mark.parametrize(
    ("age_s", "outcome"), [(LIFE.total_seconds() - 1, "opens"), (LIFE.total_seconds(), "closed")]
)
def test_a_code_grows_old(age_s: float, outcome: str) -> None:
    clocks = Clocks()
    pairing = clocks.pairing()
    code = pairing.make().code
    clocks.later(age_s)
    assert pairing.try_code(code, "a") == outcome


@given(st.floats(-(10**9), 10**9))
def test_setting_the_clock_keeps_no_code_alive(set_by_s: float) -> None:
    """However the clock of the day is set, a code is closed after its time; set back, at once."""
    clocks = Clocks()
    pairing = clocks.pairing()
    code = pairing.make().code
    clocks.later(LIFE.total_seconds())
    clocks.day += dt.timedelta(seconds=set_by_s)
    assert pairing.try_code(code, "a") == "closed"


def test_set_back_at_once_closes_it() -> None:
    clocks = Clocks()
    pairing = clocks.pairing()
    code = pairing.make().code
    clocks.day -= dt.timedelta(hours=1)
    assert pairing.try_code(code, "a") == "closed"


def test_the_time_asleep_counts() -> None:
    """The steady clock of a computer stands still while it sleeps; the clock of the day does not."""
    clocks = Clocks()
    pairing = clocks.pairing()
    code = pairing.make().code
    clocks.day += LIFE
    assert pairing.try_code(code, "a") == "closed"


def test_one_address_guesses_five_times_and_others_may_still_pair() -> None:
    pairing = Clocks().pairing()
    code = pairing.make().code
    assert {
        pairing.try_code("2" * 8 if code != "2" * 8 else "3" * 8, "guest") for _ in range(MOST_WRONG_OF_ONE)
    } == {"wrong"}
    assert pairing.try_code(code, "guest") == "closed"
    assert pairing.try_code(code, "tablet") == "opens"


def test_many_addresses_guess_twenty_times_and_nothing_opens_any_more() -> None:
    pairing = Clocks().pairing()
    code = pairing.make().code
    wrong = "2" * 8 if code != "2" * 8 else "3" * 8
    assert [pairing.try_code(wrong, f"guest {at}") for at in range(MOST_WRONG)] == ["wrong"] * MOST_WRONG
    assert pairing.try_code(code, "tablet") == "closed"
    assert pairing.try_code(pairing.make().code, "tablet") == "opens"


@given(st.lists(st.tuples(st.sampled_from("abcdefgh"), st.booleans(), st.floats(0, 60)), max_size=60))
def test_against_a_plain_account(steps: list[tuple[str, bool, float]]) -> None:
    clocks = Clocks()
    pairing = clocks.pairing()
    offer = pairing.make()
    spent, wrong_of, used = 0.0, dict.fromkeys("abcdefgh", 0), False
    for who, right, wait_s in steps:
        clocks.later(wait_s)
        spent += wait_s
        # Rounding of a moment of the day is a microsecond; a plain account does not say what happens within it.
        if abs(spent - LIFE.total_seconds()) < 1e-3:
            return
        shut = (
            used
            or spent > LIFE.total_seconds()
            or sum(wrong_of.values()) >= MOST_WRONG
            or wrong_of[who] >= MOST_WRONG_OF_ONE
        )
        expected = "closed" if shut else "opens" if right else "wrong"
        assert pairing.try_code(offer.code if right else "no such code", who) == expected
        used = used or expected == "opens"
        wrong_of[who] += expected == "wrong"


def test_of_many_at_the_same_moment_one_comes_in() -> None:
    pairing = Pairing()
    code = pairing.make().code
    barrier, outcomes = threading.Barrier(8), []

    def one(at: int) -> None:
        barrier.wait()
        outcomes.append(pairing.try_code(code, f"tablet {at}"))

    threads = [threading.Thread(target=one, args=(at,)) for at in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes) == ["closed"] * 7 + ["opens"]


def test_without_a_code_nothing_opens_and_comparing_goes_on_all_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    compared = []
    monkeypatch.setattr(
        "mountproof.surfaces.web.access_codes.hmac.compare_digest",
        lambda a, b: compared.append((a, b)) or a == b,
    )
    assert tried(None, "ABCD-EFGH", "a", 0.0, NOON) == (None, "closed")
    assert len(compared) == 1
    assert len(compared[0][1]) == LETTERS


def test_a_code_is_not_in_the_picture_of_its_offer() -> None:
    offer = Clocks().pairing().make()
    assert offer.code not in repr(offer)
