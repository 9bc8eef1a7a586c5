"""Buckets of requests: never more than the burst and what time brings, in memory that does not grow."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.surfaces.web.access_rates import Rate, Rates, network_of

RATE = Rate(burst=5, per_s=2)


class Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


@given(st.lists(st.tuples(st.floats(0, 3), st.integers(1, 12)), min_size=1, max_size=40))
def test_never_more_than_burst_and_rate(steps: list[tuple[float, int]]) -> None:
    """In every window of time the requests let through are at most the burst and what the time brought."""
    clock = Clock()
    rates = Rates(RATE, steady=clock)
    through: list[float] = []
    for wait_s, count in steps:
        clock.now += wait_s
        through += [clock.now for _ in range(count) if rates.wait_s("a") == 0]
    for start, first in enumerate(through):
        for stop in range(start, len(through)):
            assert stop - start + 1 <= RATE.burst + RATE.per_s * (through[stop] - first) + 1e-6


@given(st.integers(1, 30))
def test_waiting_as_long_as_told_is_enough(count: int) -> None:
    clock = Clock()
    rates = Rates(RATE, steady=clock)
    for _ in range(count):
        wait_s = rates.wait_s("a")
        if wait_s > 0:
            clock.now += wait_s + 1e-9
            assert rates.wait_s("a") == 0


def test_one_name_does_not_use_up_the_bucket_of_another() -> None:
    rates = Rates(RATE, steady=Clock())
    while rates.wait_s("a") == 0:
        pass
    assert rates.wait_s("b") == 0


def test_a_clock_that_stands_or_goes_back_fills_nothing() -> None:
    clock = Clock()
    rates = Rates(RATE, steady=clock)
    while rates.wait_s("a") == 0:
        pass
    clock.now -= 50
    assert rates.wait_s("a") > 0


def test_memory_is_bounded_and_nobody_in_use_is_forgotten() -> None:
    clock = Clock()
    rates = Rates(RATE, most=10, steady=clock)
    while rates.wait_s("first") == 0:
        pass
    passed = sum(rates.wait_s(f"guest {at}") == 0 for at in range(10_000))
    assert len(rates) <= 11
    # Nine had a place of their own, all others shared one bucket.
    assert passed == 9 + RATE.burst
    assert rates.wait_s("first") > 0
    clock.now += 60
    assert all(rates.wait_s(f"later {at}") == 0 for at in range(10))
    assert len(rates) <= 11


@pytest.mark.parametrize(
    ("address", "network"),
    [
        ("192.168.7.5", "192.168.7.5"),
        ("::ffff:192.168.7.5", "192.168.7.5"),
        ("fd00:1:2:3:aaaa::1", "fd00:1:2:3::/64"),
        ("fd00:1:2:3:bbbb:cccc::2", "fd00:1:2:3::/64"),
        ("fe80::1%eth0", "fe80::/64"),
        ("", "unknown"),
        ("testclient", "unknown"),
    ],
)
def test_addresses_are_counted_by_network(address: str, network: str) -> None:
    assert network_of(address) == network
