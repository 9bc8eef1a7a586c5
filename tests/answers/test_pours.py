"""Pours of several cases at once: absolute moments, the order of what comes next, clocks that are set back."""

from __future__ import annotations

import datetime as dt
import random
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.answers.pours import (
    HANDS_OFF,
    MIX,
    POURED,
    RELEASE,
    SET,
    PourTimes,
    bench_questions,
    in_order,
    late,
    next_mark,
    pour_times,
)
from mountproof.answers.result import Why
from mountproof.answers.sheet import answer
from mountproof.case.files import parse_case
from mountproof.case.model import Case

#: No clock of a bench is set like this one; the pours must not care.
BASE = dt.datetime(2026, 3, 17, 10, 2, tzinfo=dt.timezone(dt.timedelta(hours=1)))
MIN = dt.timedelta(minutes=1)


def case(*pours: str, code: str = "HERON-1", bench: str = "", sheet: str = "") -> Case:
    """A case of pours, each as the inside of an inline table."""
    lines = [f'code = "{code}"']
    if bench:
        lines += ["[bench]", bench]
    if sheet:
        lines += ["[bench.sheet]", sheet]
    lines += ["[pours]", *(f'"bowl {at}" = {{ {pour} }}' for at, pour in enumerate(pours, start=1))]
    return parse_case("\n".join(lines) + "\n")


def poured(at: dt.datetime, cast: str = "lower", more: str = "") -> str:
    return f'cast = "{cast}", powder_met_water = {at.isoformat()}' + (f", {more}" if more else "")


def one(*args: str, **kwargs: str) -> PourTimes:
    (found,) = pour_times(case(*args, **kwargs))
    return found


def test_all_moments_count_from_powder_into_water() -> None:
    pour = one(poured(BASE), sheet="mix_s = 35\nwork_min = 3\nset_min = 6\nrelease_min = 40")
    after = {mark.key: (mark.at - pour.begun).total_seconds() for mark in pour.marks}
    assert after == {MIX: 35, POURED: 180, HANDS_OFF: 180, SET: 360, RELEASE: 2400}
    assert not any(mark.assumed for mark in pour.marks)
    assert {mark.source for mark in pour.marks} == {"product sheet"}


def test_where_the_sheet_is_silent_common_practice_is_assumed_and_said() -> None:
    pour = one(poured(BASE, more="set_min = 8"), sheet="mix_s = 35")
    found = {mark.key: mark for mark in pour.marks}
    assert found[MIX].source == "product sheet" and not found[MIX].assumed
    assert found[SET].source == "this pour's own time" and not found[SET].assumed
    assert found[SET].at == BASE + 8 * MIN
    for key in (POURED, HANDS_OFF, RELEASE):
        assert found[key].assumed
        assert found[key].source == "common practice, no source"
    assert dt.timedelta(minutes=2) <= found[POURED].at - pour.begun <= dt.timedelta(minutes=3)


def test_times_that_contradict_each_other_are_asked_about_and_the_pour_stays() -> None:
    pour = one(poured(BASE, more="set_min = 1"))
    assert pour.marks == ()
    assert any("contradict" in text for text in pour.asked)
    assert next_mark(pour, BASE) is None and late(pour, BASE) is None


def test_six_cases_in_parallel_sound_in_the_right_order() -> None:
    """Every alarm of six pours, begun at odd moments, against a plain list of all moments sorted by hand."""
    shuffled = random.Random(6)
    begun = [BASE + dt.timedelta(seconds=s) for s in (0, 20, 47, 110, 151, 390)]
    shuffled.shuffle(begun)
    pours = [
        pour
        for at, start in enumerate(begun)
        for pour in pour_times(case(poured(start), code=f"C{at}", sheet=f"set_min = {5 + at}"))
    ]
    expected = sorted((mark.at, mark.key, at) for at, pour in enumerate(pours) for mark in pour.marks)
    now, heard = BASE - MIN, []
    while True:
        first = in_order(pours, now)[0]
        mark = next_mark(first, now)
        # Hands that are still on past their moment stand first; here somebody takes them off at once.
        waits = late(first, now)
        if waits is not None and waits.key == HANDS_OFF:
            pours[pours.index(first)] = first._replace(hands_off=now)
            continue
        if mark is None:
            break
        heard.append(mark.at)
        now = mark.at
    assert heard == sorted({at for at, _, _ in expected})


def test_order_hands_first_then_what_comes_then_what_is_ready() -> None:
    hands_on = one(poured(BASE - 3 * MIN))
    fresh = one(poured(BASE))
    setting = one(poured(BASE - 4 * MIN, more=f"hands_off = {(BASE - 2 * MIN).isoformat()}"))
    ready = one(poured(BASE - 60 * MIN, more=f"hands_off = {(BASE - 57 * MIN).isoformat()}"))
    longer = one(poured(BASE - 90 * MIN, more=f"hands_off = {(BASE - 87 * MIN).isoformat()}"))
    gone = one(poured(BASE - 99 * MIN, more=f"released = {BASE.isoformat()}"))
    given_in = [gone, ready, setting, longer, fresh, hands_on]
    assert in_order(given_in, BASE) == [hands_on, fresh, setting, longer, ready, gone]


@given(
    st.lists(st.tuples(st.integers(-7200, 7200), st.booleans(), st.booleans()), min_size=1, max_size=6),
    st.integers(-7200, 7200),
)
def test_order_is_that_of_the_next_moments(starts: list[tuple[int, bool, bool]], now_s: int) -> None:
    now = BASE + dt.timedelta(seconds=now_s)
    pours = []
    for seconds, off, out in starts:
        begun = BASE + dt.timedelta(seconds=seconds)
        more = [f"hands_off = {(begun + 2 * MIN).isoformat()}"] if off else []
        more += [f"released = {(begun + 50 * MIN).isoformat()}"] if out else []
        pours.append(one(poured(begun, more=", ".join(more))))
    ordered = in_order(pours, now)
    assert sorted(map(id, ordered)) == sorted(map(id, pours))
    coming = [
        mark.at
        for pour in ordered
        if (mark := next_mark(pour, now)) is not None
        and not ((waits := late(pour, now)) is not None and waits.key == HANDS_OFF)
    ]
    assert coming == sorted(coming)
    assert all(mark > now for mark in coming)


def test_a_clock_that_is_set_back_moves_no_moment() -> None:
    """The pour knows its moments, not how long they are away: an hour back, they are an hour farther."""
    pour = one(poured(BASE))
    first = next_mark(pour, BASE + MIN)
    again = next_mark(pour, BASE + MIN - dt.timedelta(hours=1))
    assert first is not None and first.key == POURED
    assert again is not None and again.at == BASE + dt.timedelta(seconds=40)
    tapped = one(poured(BASE, more=f"hands_off = {(BASE - 57 * MIN).isoformat()}"))
    assert tapped.asked == ("hands off lies before powder met water: one of the two is wrong",)
    assert [mark.key for mark in tapped.open_marks()] == [SET, RELEASE]


@pytest.mark.parametrize(("day", "wall"), [((2026, 3, 29), "03:43"), ((2026, 10, 25), "02:43")])
def test_summer_time_neither_begins_nor_ends_a_pour(day: tuple[int, int, int], wall: str) -> None:
    """45 minutes are 45 minutes, though the clock on the wall jumps between 02:00 and 03:00."""
    berlin = ZoneInfo("Europe/Berlin")
    begun = dt.datetime(*day, 1, 58, tzinfo=berlin)
    assert day[1] == 3 or begun.utcoffset() == dt.timedelta(hours=2)
    pour = one(poured(begun))
    release = next(mark.at for mark in pour.marks if mark.key == RELEASE)
    assert (release - pour.begun).total_seconds() == 45 * 60
    assert f"{release.astimezone(berlin):%H:%M}" == wall
    # Taken to the other offset, the entry is the same pour.
    assert one(poured(begun.astimezone(dt.UTC))).marks == pour.marks


def test_one_truth_pours_go_before_the_clock_times_of_the_bench_part() -> None:
    agreeing = case(poured(BASE), bench='powder_met_water = "10:02"')
    assert bench_questions(agreeing) == ()
    other = case(poured(BASE), bench='powder_met_water = "10:12"\nreleased = "10:47"')
    asked = bench_questions(other)
    assert len(asked) == 2 and "10:12" in asked[0] and "10:02" in asked[0] and "10:47" in asked[1]
    sheet = answer(other, ["stone"])
    assert set(asked) <= set(sheet.questions)
    table = next(t for t in sheet["stone"].tables if t.title.startswith("Times"))
    assert ("initial set", "5 min", "10:07", "assumed") in table.rows
    # A pour of the upper cast says nothing of the lower one.
    upper = case(poured(BASE, "upper"), bench='powder_met_water = "12:00"')
    assert bench_questions(upper) == ()


def test_every_pour_is_judged_by_its_own_times() -> None:
    early = case(
        poured(BASE, "upper", f"released = {(BASE + 20 * MIN).isoformat()}"),
        poured(BASE + 60 * MIN, "lower", f"released = {(BASE + 80 * MIN).isoformat()}, release_min = 15"),
    )
    said = [reason.text for reason in answer(early, ["stone"])["stone"].reasons]
    assert any(text.startswith("upper cast: released early (20 min") for text in said)
    assert not any(text.startswith("lower cast: released") for text in said)
    wild = case(poured(BASE, more=f"released = {(BASE - MIN).isoformat()}"))
    why = [reason.why for reason in answer(wild, ["stone"])["stone"].reasons]
    assert why == [Why.QUESTIONED]


def test_names_and_order_of_several_pours_of_one_case() -> None:
    both = pour_times(case(poured(BASE + 30 * MIN, more="number = 2"), poured(BASE)))
    assert [pour.words for pour in both] == ["lower cast", "lower cast, pour 2"]
