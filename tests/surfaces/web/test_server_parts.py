"""The parts of the server by themselves: what is kept, what is told, what is worked on."""

from __future__ import annotations

import asyncio
import threading
from collections import OrderedDict

import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, rule

from mountproof.answers.progress import Progress
from mountproof.faults import Fault, FaultError
from mountproof.surfaces.web.hub import Happened, Hub, Told
from mountproof.surfaces.web.kept import Kept
from mountproof.surfaces.web.shapes.cases import age_text
from mountproof.surfaces.web.works import Standing, Work, Works


@given(
    st.lists(st.tuples(st.sampled_from("abcdefgh"), st.one_of(st.none(), st.integers(0, 20)))),
    st.integers(1, 5),
    st.integers(1, 3),
)
def test_what_is_kept_is_what_was_used_last(
    steps: list[tuple[str, int | None]], most: int, large: int
) -> None:
    """Against a twin that sorts by the moment of use. Values above 9 are large."""
    kept: Kept[int] = Kept(most, large, lambda value: value > 9)
    twin: OrderedDict[str, int] = OrderedDict()
    for key, value in steps:
        if value is None:
            assert kept.get(key) == twin.get(key)
            if key in twin:
                twin.move_to_end(key)
            continue
        kept[key] = value
        twin[key] = value
        twin.move_to_end(key)
        heavy = [name for name, one in twin.items() if one > 9]
        for name in heavy[: max(0, len(heavy) - large)]:
            del twin[name]
        while len(twin) > most:
            twin.popitem(last=False)
        assert dict(kept) == dict(twin)


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0, "just now"), (59.9, "just now"), (60, "1 minute ago"), (3599, "59 minutes ago"), (3600, "1 hour ago"),
        (7300, "2 hours ago"), (86399, "23 hours ago"), (86400, "1 day ago"), (30 * 86400, "30 days ago"),
    ],
)  # fmt: skip
def test_how_long_ago_something_was(seconds: float, said: str) -> None:
    assert age_text(seconds) == said


class _HubMachine(RuleBasedStateMachine):
    """Whoever listens, comes back, or comes late gets every event once and in order, or is told to begin anew."""

    def __init__(self) -> None:
        super().__init__()
        self.hub, self.published = Hub(), 0
        self.last = ""
        self.since = 0

    @rule(count=st.sampled_from((1, 3, 400, 1001)))
    def publish(self, count: int) -> None:
        for _ in range(count):
            self.published += 1
            self.hub.publish(Happened("revision", revision=self.published))

    @rule()
    def come_back(self) -> None:
        """Read what is there now, as a page that lost its connection does."""

        async def read() -> list[Told]:
            found: list[Told] = []
            async for told in self.hub.listen(self.last or self.first()):
                found.append(told)
                if told.event.kind == "anew" or told.event.revision == self.published:
                    break
            return found

        if self.since == self.published:
            return
        for told in asyncio.run(asyncio.wait_for(read(), 10.0)):
            if told.event.kind == "anew":
                assert self.published - self.since > 1000
                self.since = self.published
            else:
                assert told.event.revision == self.since + 1
                self.since += 1
            self.last = told.id

    def first(self) -> str:
        return f"{self.hub._start}-0"


TestHub = _HubMachine.TestCase


def test_events_wake_whoever_listens_and_the_stream_ends_with_the_server() -> None:
    async def main() -> list[int | None]:
        hub = Hub()
        found: list[int | None] = []

        async def listen() -> None:
            found.extend([told.event.revision async for told in hub.listen()])

        task = asyncio.create_task(listen())
        await asyncio.sleep(0)
        while not hub.listeners:
            await asyncio.sleep(0.001)
        threads = [
            threading.Thread(
                target=lambda: [hub.publish(Happened("revision", revision=1)) for _ in range(50)]
            )
            for _ in range(4)
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            await asyncio.to_thread(thread.join)
        hub.close()
        await asyncio.wait_for(task, 5.0)
        assert not hub.listeners
        return found

    assert asyncio.run(main()) == [1] * 200


@pytest.mark.parametrize("last", ["x", "-", "00000000-1", "é-1", "-1", "0" * 100])
def test_a_last_event_of_another_start_begins_anew(last: str) -> None:
    async def first() -> Told:
        async for told in Hub().listen(last):
            return told
        raise AssertionError

    assert asyncio.run(first()).event.kind == "anew"


class _Told:
    def __init__(self) -> None:
        self.all: list[Standing] = []

    def __call__(self, one: Standing) -> None:
        self.all.append(one)


def ended(work: Work) -> str:
    assert work.future is not None
    try:
        work.future.result(20.0)
    except BaseException:
        assert work.future.cancelled()
    return work.state


def test_work_ends_in_each_way_and_is_told() -> None:
    told = _Told()
    works = Works(told)
    begun, go = threading.Event(), threading.Event()

    def waits(progress: Progress) -> None:
        begun.set()
        while True:
            progress(0.5, "waiting")
            go.wait(0.01)

    def fails(_: Progress) -> None:
        raise FaultError([Fault("a.b", "it is wrong", "Do it right")])

    def breaks(_: Progress) -> None:
        raise ZeroDivisionError

    assert ended(works.begin("ok", 1, "something", lambda progress: progress(1.0, "done"))) == "done"
    assert ended(works.begin("bad", 1, "something", fails)) == "failed"
    assert ended(works.begin("broken", 1, "something", breaks)) == "failed"
    work = works.begin("long", 1, "something", waits)
    assert works.begin("long", 1, "something", waits) is work
    assert begun.wait(10.0)
    works.cancel("long")
    assert ended(work) == "cancelled"
    assert {one.name: one.state for one in told.all} == {
        "ok": "done", "bad": "failed", "broken": "failed", "long": "cancelled",
    }  # fmt: skip
    assert works.get("bad") and works.get("bad").faults[0].code == "a.b"  # type: ignore[union-attr]
    works.close()


def test_work_that_never_began_is_stopped_too() -> None:
    works = Works(_Told(), threads=1)
    go = threading.Event()
    first = works.begin("first", None, "x", lambda _: go.wait(20.0) and None)
    states: list[str] = []
    second = works.begin("second", None, "x", lambda _: None, states.append)
    works.cancel("second")
    assert second.state == "cancelled" and states == ["cancelled"]
    go.set()
    assert ended(first) == "done"
    works.close()


def test_closing_stops_everything() -> None:
    works = Works(_Told(), threads=1)
    begun = threading.Event()

    def waits(progress: Progress) -> None:
        begun.set()
        while True:
            progress(0.1, "waiting")

    first, second = works.begin("first", None, "x", waits), works.begin("second", None, "x", waits)
    assert begun.wait(10.0)
    works.close()
    assert first.state == "cancelled" and second.future is not None and second.future.cancelled()
