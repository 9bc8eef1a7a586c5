"""A record put back several times: two seats are told from one wide scatter, whatever the numbers."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from mountproof.records.reseat import reseating, two_seats

SD = 0.03


@st.composite
def rocked(draw):
    """A table of pairs by re-seatings that falls into two seats, and which re-seatings lie in the second."""
    n = draw(st.integers(5, 9))
    seats = draw(st.lists(st.booleans(), min_size=n, max_size=n))
    assume(2 <= sum(seats) <= n - 2)
    moved = draw(st.lists(st.floats(-1.0, 1.0), min_size=1, max_size=5))
    assume(max(abs(m) for m in moved) > 0.8)
    noise = draw(st.lists(st.floats(-0.6, 0.6), min_size=n * len(moved), max_size=n * len(moved)))
    table = 38.0 + 0.6 * np.outer(moved, seats) + SD * np.array(noise).reshape(len(moved), n)
    second = tuple(i for i, s in enumerate(seats) if s != seats[0])
    return table, second


@given(rocked())
@settings(max_examples=80, deadline=None)
def test_two_seats_far_apart_are_always_found(given_):
    table, second = given_
    got = two_seats(table, SD)
    assert got is not None
    assert got.second == second
    assert got.apart_mm == pytest.approx(0.6 * 0.9, abs=0.6 * 0.1 + 2 * 0.6 * SD)


@given(rocked(), st.randoms(use_true_random=False), st.floats(-20.0, 20.0))
@settings(max_examples=40, deadline=None)
def test_order_of_pairs_and_their_lengths_do_not_matter(given_, random, longer):
    table, second = given_
    rows = list(range(len(table)))
    random.shuffle(rows)
    got = two_seats(table[rows] + longer, SD)
    assert got is not None and got.second == second
    order = list(range(table.shape[1]))
    random.shuffle(order)
    again = two_seats(table[:, order], SD)
    assert again is not None
    there = {order[i] for i in again.second}
    assert there in (set(second), set(order) - set(second))


@given(st.integers(4, 8), st.integers(1, 4), st.integers(0, 10**6))
@settings(max_examples=100, deadline=None)
def test_readings_that_never_leave_what_reading_gives_are_one_seat(n, pairs, seed):
    rng = np.random.default_rng(seed)
    table = 38.0 + SD * np.clip(rng.standard_normal((pairs, n)), -1.5, 1.5)
    assert two_seats(table, SD) is None


@pytest.mark.parametrize("seat_sds", [0.0, 1.0, 2.0, 3.0])
@pytest.mark.parametrize("n", [4, 5, 8])
def test_at_most_one_honest_record_in_twenty_is_said_to_rock(n, seat_sds):
    """Reading alone, and seats that scatter as one normal up to three times as wide: 5 % and three standard errors."""
    rng = np.random.default_rng(38)
    trials = 800
    shape = np.array([[1.0], [0.6], [-0.4]])
    alarms = sum(
        two_seats(SD * (rng.standard_normal((3, n)) + seat_sds * shape * rng.standard_normal((1, n))), SD)
        is not None
        for _ in range(trials)
    )
    assert alarms / trials < 0.05 + 0.023


def test_what_rocks_by_ten_readings_is_found_where_both_seats_were_met():
    rng = np.random.default_rng(39)
    found = trials = 0
    for _ in range(400):
        seats = rng.integers(0, 2, 6)
        if 2 <= seats.sum() <= 4:
            trials += 1
            table = (
                38.0 + SD * rng.standard_normal((3, 6)) + 10 * SD * seats * np.array([[1.0], [0.2], [-0.8]])
            )
            found += two_seats(table, SD) is not None
    assert found / trials > 0.9


def test_rounded_readings_have_seats_of_no_width():
    table = np.array([[38.0, 38.4, 38.0, 38.4, 38.0]])
    got = reseating({"a": table[0]}, SD).two_seats
    assert got is not None and got.second == (1, 3)
    assert reseating({"a": [38.0] * 5}, SD).two_seats is None
