"""The bench in a browser: steps ticked, pours begun and ended, and no moment lost by a reload, a sleep or a set clock."""

from __future__ import annotations

import datetime as dt
import re

from playwright.sync_api import Page, expect

from browser.conftest import DESKTOP, TABLET
from browser.running import Bench

SECOND = dt.timedelta(seconds=1)
MIN = dt.timedelta(minutes=1)
#: A tablet on the wall, held across.
ACROSS = {"width": 1180, "height": 820}
#: Counts the tones that are planned, and when each begins on the audio clock; the browser still makes them.
_EARS = """
window.tones = [];
const made = AudioContext.prototype.createOscillator;
AudioContext.prototype.createOscillator = function () {
  const swing = made.call(this);
  const start = swing.start.bind(swing);
  const one = { hertz: 0, in_s: 0, off: false };
  swing.start = (at) => {
    one.hertz = swing.frequency.value;
    one.in_s = at - this.currentTime;
    window.tones.push(one);
    start(at);
  };
  const away = swing.disconnect.bind(swing);
  swing.disconnect = () => { one.off = true; away(); };
  return swing;
};
"""
#: A device whose clock can be set: ``window.set_ms`` is added to it.
_WALL = """
window.set_ms = 0;
const real = Date.now.bind(Date);
Date.now = () => real() + window.set_ms;
"""


def now() -> dt.datetime:
    return dt.datetime.now(dt.UTC).replace(microsecond=0)


def pour(bench: Bench, case_id: int, begun: dt.datetime, name: str = "lower 1", **more: str) -> None:
    """Enter a pour as the page does."""
    entries = {"cast": name.split()[0], "powder_met_water": begun.isoformat(), **more}
    bench.edit(case_id, {f'pours."{name}"': entries})  # type: ignore[dict-item]


def pours_of(bench: Bench, case_id: int) -> dict[str, dict[str, str]]:
    return bench.send("GET", f"/api/cases/{case_id}")["entered"].get("pours", {})


def release_all(bench: Bench) -> None:
    """End every pour, so that a test sees only its own."""
    for one in bench.send("GET", "/api/pours")["pours"]:
        bench.edit(one["case_id"], {f"{one['field']}.released": now().isoformat()})


def card(page: Page, code: str):
    return page.locator(".pour", has=page.get_by_role("link", name=code, exact=True))


def until(page: Page, what: str, most_s: float = 10.0) -> None:
    """Wait until an expression holds; asked from outside, so that the page's content policy stays as it is."""
    for _ in range(int(most_s * 20)):
        if page.evaluate(what):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"never: {what}")


def seconds(text: str) -> int:
    """What digits say, in seconds."""
    found = 0
    for part in text.lstrip("+").split(":"):
        found = 60 * found + int(part)
    return found


def digits(page: Page, code: str) -> int:
    return seconds(card(page, code).locator(".pour-digits").inner_text())


def test_a_pour_begins_with_two_taps_and_outlives_the_page(visit, bench, screens):
    release_all(bench)
    case_id = bench.new_case("HERON-1")
    page = visit("#/pours", size=TABLET)
    page.get_by_role("button", name="New pour").click()
    before = now()
    page.get_by_role("button", name="Powder into water now: HERON-1, lower cast").click()
    expect(card(page, "HERON-1")).to_be_visible()
    noted = pours_of(bench, case_id)["lower 1"]
    begun = dt.datetime.fromisoformat(noted["powder_met_water"])
    assert before - SECOND <= begun <= now() + SECOND
    assert noted["by"] == "TS"
    expect(page.locator(".taken")).to_contain_text("Noted: powder met water, HERON-1, lower cast.")

    # The page is closed in the middle of a timer; it goes on from the moment, not from where it was.
    page.wait_for_timeout(1500)
    page.reload()
    first = digits(page, "HERON-1")
    left = (begun + 40 * SECOND - now()).total_seconds()
    assert abs(first - left) <= 2
    page.wait_for_timeout(2100)
    assert 1 <= first - digits(page, "HERON-1") <= 4
    screens(page, "one-pour-tablet", whole=False)

    card(page, "HERON-1").get_by_role("button", name="Hands off: HERON-1, lower cast").click()
    expect(card(page, "HERON-1")).to_contain_text("initial set")
    card(page, "HERON-1").get_by_role("button", name="Released: HERON-1, lower cast").click()
    expect(card(page, "HERON-1")).to_have_count(0)
    ended = pours_of(bench, case_id)["lower 1"]
    assert (
        begun <= dt.datetime.fromisoformat(ended["hands_off"]) <= dt.datetime.fromisoformat(ended["released"])
    )

    # A slip of the finger is taken back.
    page.get_by_role("button", name="Take it back").click()
    expect(card(page, "HERON-1")).to_be_visible()
    assert "released" not in pours_of(bench, case_id)["lower 1"]


def test_two_cases_at_once_and_read_across_the_room(visit, bench, screens, clean):
    release_all(bench)
    first, second = bench.new_case("HERON-2"), bench.new_case("PIPIT-2")
    pour(bench, first, now() - 90 * SECOND)
    pour(bench, second, now() - 4 * MIN, "upper 1", hands_off=(now() - 2 * MIN).isoformat())
    for name, size in (("desk", DESKTOP), ("tablet", TABLET), ("wall", ACROSS)):
        page = visit("#/pours", size=size)
        expect(page.locator(".pour")).to_have_count(2)
        # HERON's hands have 60 s left as PIPIT's stone sets in 60 s; HERON began later by less than it is ahead.
        assert digits(page, "HERON-2") <= 62
        assert digits(page, "PIPIT-2") <= 62
        sizes = page.locator(".pour-digits").evaluate_all(
            "all => all.map(one => parseFloat(getComputedStyle(one).fontSize) / innerHeight)"
        )
        assert min(sizes) >= 0.12, f"{name}: digits of {min(sizes):.3f} of the height"
        wide = page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert wide, f"{name}: the page is wider than the screen"
        screens(page, f"two-{name}", whole=False)
        clean(page)
        page.close()


def test_what_comes_next_stands_first_and_turns_over(visit, bench, screens):
    """Six pours in parallel; one is released by somebody else meanwhile."""
    release_all(bench)
    starts = {"SWIFT-1": 100, "SWIFT-2": 10, "SWIFT-3": 250, "SWIFT-4": 200, "SWIFT-5": 2690, "SWIFT-6": 3000}
    ids = {code: bench.new_case(code) for code in starts}
    base = now()
    for code, ago in starts.items():
        off = {"hands_off": (base - (ago - 9) * SECOND).isoformat()} if ago >= 200 else {}
        pour(bench, ids[code], base - ago * SECOND, **off)
    page = visit("#/pours", size=ACROSS)
    expect(page.locator(".pour")).to_have_count(6)
    shown = page.locator(".pour-name a").all_inner_texts()
    # Next moments: 5 in 10 s, 2 in 30 s, 1 and 3 in 50 s, 4 in 100 s, 6 is ready. The case begun first leads a tie.
    assert shown[:2] == ["SWIFT-5", "SWIFT-2"]
    assert sorted(shown[2:4]) == ["SWIFT-1", "SWIFT-3"]
    assert shown[4:] == ["SWIFT-4", "SWIFT-6"]
    screens(page, "six", whole=False)
    expect(page.locator(".pour-name a").first).to_have_text("SWIFT-2", timeout=15000)
    expect(page.locator(".ringing")).to_contain_text("SWIFT-5, lower cast: may be released")
    expect(page.get_by_role("status").first).to_contain_text("SWIFT-5")
    screens(page, "ringing", whole=False)
    page.get_by_role("button", name="Seen").click()
    expect(page.locator(".ringing")).to_have_count(0)
    bench.edit(ids["SWIFT-2"], {'pours."lower 1".released': now().isoformat()})
    expect(card(page, "SWIFT-2")).to_have_count(0)


def test_hands_that_stay_on_are_told_so(visit, bench, screens):
    release_all(bench)
    case_id = bench.new_case("CRANE-1")
    pour(bench, case_id, now() - 3 * MIN)
    page = visit("#/pours", size=TABLET, language="de")
    expect(card(page, "CRANE-1")).to_contain_text("Hände weg! Seit")
    expect(card(page, "CRANE-1")).to_have_class(re.compile("pour-act"))
    assert card(page, "CRANE-1").locator(".pour-digits").inner_text().startswith("+")
    screens(page, "hands-on-de", whole=False)


def test_tones_are_planned_for_their_moments_and_muted(visit, bench):
    release_all(bench)
    case_id = bench.new_case("HERON-3")
    pour(
        bench, case_id, now() - 130 * SECOND
    )  # hands off in 20 s, set in 170 s, release beyond what is planned
    page = visit("#/pours")
    page.add_init_script(_EARS)
    page.reload()
    expect(card(page, "HERON-3")).to_be_visible()
    assert page.evaluate("tones.length") == 0, "no browser lets a page sound before it was touched"
    page.get_by_role("button", name="Turn the sound on").click()
    expect(page.get_by_role("button", name="Sound is on")).to_be_visible()
    until(page, "tones.filter(one => !one.off && one.in_s > 5).length > 0")
    planned = page.evaluate("tones.filter(one => !one.off && one.in_s > 5)")
    left = (now() - (now() - 130 * SECOND)).total_seconds()
    assert left == 130
    firsts = sorted(one["in_s"] for one in planned)
    assert 14 <= firsts[0] <= 21
    assert any(160 <= at <= 172 for at in firsts)
    assert {one["hertz"] for one in planned} == {660, 880, 1175}
    page.get_by_role("button", name="Try the tone").click()
    until(page, "tones.some(one => !one.off && one.in_s < 0.1)")
    page.get_by_role("button", name="Sound is on").click()
    until(page, "tones.filter(one => !one.off && one.in_s > 5).length === 0")
    # Remembered, and asked for again after a reload with a touch.
    page.get_by_role("button", name="Turn the sound on").click()
    page.reload()
    expect(page.get_by_role("button", name="Sound is on")).to_be_visible()
    page.locator("h1").click()
    until(page, "tones.filter(one => !one.off && one.in_s > 5).length > 0")


def test_a_set_clock_and_a_sleep_move_no_moment(visit, bench):
    release_all(bench)
    case_id = bench.new_case("HERON-4")
    begun = now() - 5 * MIN
    pour(bench, case_id, begun, hands_off=(begun + MIN).isoformat())
    page = visit("#/pours")
    page.add_init_script(_WALL)
    page.reload()
    expect(card(page, "HERON-4")).to_be_visible()

    def right() -> bool:
        left = (begun + 45 * MIN - now()).total_seconds()
        return abs(digits(page, "HERON-4") - left) <= 3

    page.wait_for_timeout(500)
    assert right()
    for set_ms in (-3_600_000, 0, 7_200_000, 0):
        page.evaluate(f"window.set_ms = {set_ms}")
        page.wait_for_timeout(1200)
        assert right(), f"the device's clock was set by {set_ms} ms"
    # A device whose clock is wrong from the start shows the same.
    page.add_init_script("window.set_ms = 86_400_000 * 3")
    page.reload()
    expect(card(page, "HERON-4")).to_be_visible()
    page.wait_for_timeout(500)
    assert right()


def test_a_tap_while_the_server_is_away_keeps_its_moment(visit, bench):
    release_all(bench)
    case_id = bench.new_case("HERON-5")
    page = visit("#/pours", expect="ERR_INTERNET_DISCONNECTED|Failed to load resource")
    page.get_by_role("button", name="New pour").click()
    button = page.get_by_role("button", name="Powder into water now: HERON-5, upper cast")
    expect(button).to_be_visible()
    page.context.set_offline(True)
    tapped = now()
    button.click()
    expect(page.locator(".notice")).to_contain_text("not yet saved")
    page.wait_for_timeout(3000)
    page.context.set_offline(False)
    expect(card(page, "HERON-5")).to_be_visible(timeout=20000)
    begun = dt.datetime.fromisoformat(pours_of(bench, case_id)["upper 1"]["powder_met_water"])
    assert abs((begun - tapped).total_seconds()) <= 2


def test_another_tablet_sees_it_at_once(visit, bench):
    release_all(bench)
    bench.new_case("HERON-6")
    wall, hand = visit("#/pours"), visit("#/pours", size=TABLET, who="RS")
    hand.get_by_role("button", name="New pour").click()
    hand.get_by_role("button", name="Powder into water now: HERON-6, upper cast").click()
    expect(card(wall, "HERON-6")).to_be_visible()
    assert abs(digits(wall, "HERON-6") - digits(hand, "HERON-6")) <= 1


def demo_without_scans(bench: Bench) -> int:
    """The demo case as a bench has it that owns no scanner: nothing long is going on beside the test."""
    case_id = bench.new_case(demo=True)
    bench.edit(case_id, {"scans": None})
    return case_id


def step(page: Page, words: str):
    return page.locator(".step", has=page.get_by_role("heading", name=words))


def test_steps_are_ticked_with_time_and_hand_and_gates_stay_in_sight(visit, bench, screens, clean):
    case_id = demo_without_scans(bench)
    page = visit(f"#/case/{case_id}/bench")
    pin = step(page, "Pin set to the answer")
    expect(pin).to_contain_text("not met")
    expect(pin).to_contain_text("the pin was set to 3.2, question 1 says 4.2")
    expect(pin).to_contain_text("Gate not met")
    screens(page, "steps-desk")
    clean(page)

    # Ticked against what the case holds: asked about, the gate stays.
    pin.get_by_role("button", name="Met: Pin set to the answer", exact=True).click()
    expect(pin).to_contain_text("Ticked, but the pin was set to 3.2")
    expect(pin).to_contain_text("TS")
    expect(pin).to_contain_text("Gate not met")
    page.goto(f"{bench.address}/#/case/{case_id}/sheet")
    expect(page.locator("main")).to_contain_text("Pin set to the answer")
    page.goto(f"{bench.address}/#/case/{case_id}/bench/field/procedure.steps.pin_set")

    # Put right afterwards: when, a note, and taken back.
    pin.get_by_role("button", name="More about: Pin set to the answer").click()
    pin.get_by_label("When").fill("2026-03-17T09:56:30")
    pin.get_by_label("Note", exact=True).fill("set by the front marks")
    pin.get_by_label("By whom").focus()
    expect(pin.locator(".step-note")).to_have_text("set by the front marks")
    entry = bench.send("GET", f"/api/cases/{case_id}")["entered"]["procedure"]["steps"]["pin_set"]
    assert entry["note"] == "set by the front marks"
    assert entry["at"].startswith("2026-03-17T09:56:30") and entry["by"] == "TS"
    pin.get_by_role("button", name="Met: Pin set to the answer", exact=True).click()
    expect(pin).to_contain_text("passed over")
    entry = bench.send("GET", f"/api/cases/{case_id}")["entered"]["procedure"]["steps"]["pin_set"]
    assert entry == {"note": "set by the front marks"}
    pin.get_by_role("button", name="Left out in this mounting").click()
    expect(pin).to_contain_text("left out")
    expect(pin).to_contain_text("Gate not met")


def test_own_steps_of_the_case_and_of_the_articulator(visit, bench, screens):
    case_id = demo_without_scans(bench)
    entered = bench.send("GET", f"/api/cases/{case_id}")["entered"]["instrument"]
    bench.send("PUT", "/api/profiles/no. 2", json={"entered": entered, "based_on": 0})
    page = visit(f"#/case/{case_id}/bench")
    lower = page.get_by_role("region", name="Lower cast")
    lower.get_by_role("button", name="Add a step here").click()
    lower.get_by_label("What is done").fill("Wipe the magnets")
    lower.get_by_role("button", name="A gate: nothing goes on until it is met").click()
    lower.get_by_label("Whose step is it?").select_option("instrument")
    lower.get_by_role("button", name="Add", exact=True).click()
    expect(step(page, "Wipe the magnets")).to_contain_text("of this articulator")
    expect(lower).to_contain_text("Also kept with the articulator no. 2")
    (kept,) = bench.send("GET", "/api/profiles")
    assert kept["entered"]["steps"]["Wipe the magnets"] == {"stage": "lower", "gate": True}

    lower.get_by_role("button", name="Add a step here").click()
    lower.get_by_label("What is done").fill("Bow looked at, no cracks")
    lower.get_by_role("button", name="Add", exact=True).click()
    mine = step(page, "Bow looked at, no cracks")
    expect(mine).to_contain_text("of this case")
    mine.get_by_role("button", name="Met: Bow looked at", exact=False).first.click()
    expect(mine).to_have_class(re.compile("step-met"))
    mine.get_by_role("button", name="More about").click()
    mine.get_by_role("button", name="Earlier").click()
    mine.get_by_role("button", name="Earlier").click()
    until(
        page,
        "() => { const all = [...document.querySelectorAll('.step h3')].map(one => one.innerText);"
        " return all.findIndex(one => one.startsWith('Bow looked at'))"
        " < all.findIndex(one => one.startsWith('Stone of the lower cast')); }",
    )
    page.reload()
    expect(mine).to_be_visible()
    words = page.locator(".step h3").all_inner_texts()
    at = next(i for i, one in enumerate(words) if one.startswith("Bow looked at"))
    assert words[at + 1].startswith(("Stone of the lower cast", "Wipe the magnets"))
    screens(page, "own-steps")
    mine.get_by_role("button", name="More about").click()
    mine.get_by_role("button", name="Take this step out").click()
    expect(mine).to_have_count(0)
    assert (
        "Bow looked at, no cracks"
        not in bench.send("GET", f"/api/cases/{case_id}")["entered"]["procedure"]["steps"]
    )


def press_until(page: Page, key: str, name: str, most: int = 250) -> None:
    """Press a key until what is named has the focus, as somebody without a mouse does."""
    for _ in range(most):
        page.keyboard.press(key)
        said = page.evaluate(
            "() => { const at = document.activeElement; return at.getAttribute('aria-label') ?? at.innerText ?? ''; }"
        )
        if said.strip() == name:
            return
    raise AssertionError(f"{key} does not reach {name!r}")


def test_with_the_keyboard_alone(visit, bench):
    release_all(bench)
    case_id = bench.new_case("HERON-7")
    page = visit("#/pours")
    press_until(page, "Tab", "New pour")
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Powder into water now: HERON-7, lower cast")).to_be_visible()
    press_until(page, "Tab", "Powder into water now: HERON-7, lower cast")
    page.keyboard.press("Enter")
    expect(card(page, "HERON-7")).to_be_visible()
    press_until(page, "Tab", "Hands off: HERON-7, lower cast")
    page.keyboard.press("Space")
    expect(card(page, "HERON-7").get_by_role("button", name="Hands off: HERON-7, lower cast")).to_have_count(
        0
    )
    assert "hands_off" in pours_of(bench, case_id)["lower 1"]

    page.goto(f"{bench.address}/#/case/{case_id}/bench")
    page.wait_for_selector(".step")
    press_until(page, "Tab", "Met: Casts luted together at three places")
    page.keyboard.press("Enter")
    expect(step(page, "Casts luted together at three places")).to_have_class(re.compile("step-met"))
    focused = page.evaluate("document.activeElement.getAttribute('aria-label')")
    assert focused == "Met: Casts luted together at three places", "the focus stays where it was"


def test_in_german_on_a_tablet_in_the_dark(visit, bench, screens, clean):
    release_all(bench)
    case_id = demo_without_scans(bench)
    pour(bench, case_id, now() - 100 * SECOND, "lower 2", number="2")
    page = visit(f"#/case/{case_id}/bench", size=TABLET, look="dark", language="de")
    expect(page.locator(".step").first).to_contain_text("Bissgabel")
    expect(page.locator("main")).not_to_contain_text("powder")
    screens(page, "steps-tablet-de-dark")
    clean(page)
    page = visit("#/pours", size=TABLET, look="dark", language="de")
    expect(page.locator(".pour")).to_have_count(1)
    screens(page, "pours-tablet-de-dark", whole=False)
    clean(page)
