"""What makes the doubt of a number, step by step: bars of share with their 95 % ends."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from mountproof.answers.picture_data import Budget, BudgetBar
from mountproof.answers.result import K95
from mountproof.said import capital, figure, joined, say
from mountproof.surfaces.pictures import patterns
from mountproof.surfaces.pictures.percent import percent
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Grid, Plate, Speak, key, wrapped

#: Words on the left, bars in the middle, share and what a step makes alone on the right, units.
_WORDS, _BARS, _SHARE = 206.0, 250.0, 84.0
_FROM = _WORDS + 10.0
LINE, HIGH = 15.0, 12.0
#: A step with less than this is named in one line with the others like it.
SMALLEST = 0.01


def budget_plate(budget: Budget, limits_line: str, speak: Speak) -> Plate:
    """Return the picture of what makes the doubt of one number, and its table."""
    title = say("What makes the doubt: {number}", number=budget.what)
    first = budget.bars[0]
    alt = say(
        "{title}, ± {twice:.2f} {unit} (95 %): {count} steps by their share. The largest is {step} with {share}. "
        "The table has the numbers.",
        title=title,
        twice=K95 * budget.u,
        unit=budget.unit,
        count=len(budget.bars),
        step=first.words,
        share=percent(first.share),
    )
    plate = Plate("budget", speak(title), speak(alt), _table(budget, speak))
    y = 8.0
    if limits_line:
        y = plate.lines((0.0, y), speak(limits_line), WIDTH, look="bold") + 8.0
    y = _whole(plate, budget, y, speak)
    y = _heads(plate, budget, y, speak)
    shown = [bar for bar in budget.bars if bar.share >= SMALLEST or bar is first]
    top = y - 6.0
    for bar in shown:
        y = _row(plate, bar, budget.unit, y, speak)
    _scale(plate, top, y - 8.0, speak)
    y += 24.0
    small = [bar.words for bar in budget.bars if bar not in shown]
    if small:
        words = say("Below 1 % each: {steps}.", steps=joined(", ", small))
        y = plate.lines((0.0, y), speak(words), WIDTH, size=SMALL) + 4.0
    plate.height = _key(plate, budget, y + 6.0, speak)
    return plate


def _whole(plate: Plate, budget: Budget, y: float, speak: Speak) -> float:
    """Write the doubt itself; before and after the checks as two bars where they changed it."""
    told = say(
        "The whole doubt: ± {twice:.2f} {unit} (95 %).",
        twice=K95 * budget.u,
        unit=budget.unit,
    )
    y = plate.lines((0.0, y), speak(told), WIDTH) + 2.0
    if budget.prior_u is None or not math.isfinite(budget.prior_u) or budget.prior_u <= 0.0:
        return y + 8.0
    longest = max(budget.prior_u, budget.u)
    for words, u, look in (
        (say("before the checks"), budget.prior_u, "hollow"),
        (say("after the checks"), budget.u, "bar"),
    ):
        plate.word((0.0, y), speak(words), size=SMALL)
        plate.box(_FROM, y - HIGH / 2.0, max(_BARS * u / longest, 1.0), HIGH, look)
        size = say("± {twice:.2f} {unit}", twice=K95 * u, unit=budget.unit)
        plate.word((_FROM + _BARS + 12.0, y), speak(size), size=SMALL)
        y += 20.0
    return y + 10.0


def _heads(plate: Plate, budget: Budget, y: float, speak: Speak) -> float:
    heads = (
        (0.0, _WORDS, say("step")),
        (_FROM, _BARS, say("share of the doubt (variance)")),
        (_FROM + _BARS + 12.0, _SHARE - 12.0, say("share")),
        (_FROM + _BARS + _SHARE + 8.0, WIDTH - _FROM - _BARS - _SHARE - 8.0, say("alone, 95 %")),
    )
    rows = 0
    for x, wide, words in heads:
        for k, row in enumerate(wrapped(speak(words), wide, SMALL)):
            plate.word((x, y + LINE * k), row, look="quiet", size=SMALL)
            rows = max(rows, k + 1)
    return y + LINE * rows + 8.0


def _row(plate: Plate, bar: BudgetBar, unit: str, y: float, speak: Speak) -> float:
    words = say("{step} (assumed)", step=capital(bar.words)) if bar.assumed else capital(bar.words)
    rows = wrapped(speak(words), _WORDS, SMALL)
    for k, row in enumerate(rows):
        plate.word((0.0, y + LINE * k), row, size=SMALL)
    middle = y + LINE * (len(rows) - 1) / 2.0
    share_bar(plate, (_FROM, middle), _BARS, bar)
    x = _FROM + _BARS + 12.0
    plate.word((x, middle), speak(percent(bar.share)), look="bold", size=SMALL)
    if math.isfinite(bar.sd_mm):
        alone = say("± {twice:.2f} {unit}", twice=K95 * bar.sd_mm, unit=unit)
        plate.word((_FROM + _BARS + _SHARE + 8.0, middle), speak(alone), size=SMALL)
    return y + LINE * len(rows) + 12.0


def share_bar(plate: Plate, at: XY, wide: float, bar: BudgetBar) -> None:
    """Draw a bar from its left middle, full where measured, lined where assumed, and its 95 % ends under it."""
    x, y = at
    if math.isfinite(bar.share):
        long = max(wide * min(max(bar.share, 0.0), 1.0), 1.0)
        if bar.assumed:
            patterns.assumed(plate, (x, y - HIGH / 2.0, x + long, y + HIGH / 2.0))
        else:
            plate.box(x, y - HIGH / 2.0, long, HIGH, "bar")
    if math.isfinite(bar.low) and math.isfinite(bar.high) and bar.high > bar.low:
        low, high = (x + wide * min(max(end, 0.0), 1.0) for end in (bar.low, bar.high))
        whisker(plate, low, high, y + HIGH / 2.0 + 4.0)


def whisker(plate: Plate, low: float, high: float, y: float) -> None:
    """Draw a stroke from end to end with its ends marked."""
    plate.path(
        f"M{low:.1f} {y - 3:.1f}v6M{low:.1f} {y:.1f}L{high:.1f} {y:.1f}M{high:.1f} {y - 3:.1f}v6", "stroke"
    )


def _scale(plate: Plate, top: float, bottom: float, speak: Speak) -> None:
    # Under the bars: marks of a plate are drawn in their order.
    lines = []
    for quarter in range(5):
        x = _FROM + _BARS * quarter / 4.0
        lines.append(f"M{x:.1f} {top:.1f}V{bottom:.1f}")
        plate.word(
            (x, bottom + 9.0),
            speak(say("{percent:.0f} %", percent=25.0 * quarter)),
            look="quiet",
            size=SMALL,
            anchor="middle",
        )
    plate.path("".join(lines), "faint")
    plate.marks.insert(0, plate.marks.pop())


def _key(plate: Plate, budget: Budget, y: float, speak: Speak) -> float:
    entries = bar_key(budget.bars)
    if any(bar.high > bar.low for bar in budget.bars):
        entries.append(
            (lambda p, at: whisker(p, at[0] - 10.0, at[0] + 10.0, at[1]), say("95 % interval of the share"))
        )
    return key(plate, (0.0, y), [(draw, speak(words)) for draw, words in entries])


def bar_key(bars: Sequence[BudgetBar]) -> list[tuple[Callable[[Plate, XY], None], str]]:
    """Return the key of the two kinds of bars, those that are there."""
    entries: list[tuple[Callable[[Plate, XY], None], str]] = []
    if any(not bar.assumed for bar in bars):
        entries.append((lambda p, at: p.box(at[0] - 10.0, at[1] - 6.0, 20.0, 12.0, "bar"), say("measured")))
    if any(bar.assumed for bar in bars):
        entries.append(
            (lambda p, at: patterns.assumed(p, patterns.middle_box(at, 20.0, 12.0)), say("assumed"))
        )
    return entries


def _table(budget: Budget, speak: Speak) -> Grid:
    columns = (
        say("step"),
        say("share"),
        say("95 % interval"),
        say("alone, ± {unit} (95 %)", unit=budget.unit),
        say("where it comes from"),
    )
    rows = tuple(
        (
            speak(capital(bar.words)),
            speak(percent(bar.share)),
            _ends(bar, speak),
            speak(figure(K95 * bar.sd_mm, ".2f")),
            speak(say("assumed") if bar.assumed else say("measured")),
        )
        for bar in budget.bars
    )
    return Grid(
        speak(say("Steps in the doubt: {number}", number=budget.what)),
        tuple(speak(c) for c in columns),
        rows,
    )


def _ends(bar: BudgetBar, speak: Speak) -> str:
    if not (math.isfinite(bar.low) and math.isfinite(bar.high)) or bar.high <= bar.low:
        return ""
    return speak(say("{low} to {high}", low=percent(bar.low), high=percent(bar.high)))
