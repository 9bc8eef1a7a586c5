"""The doubt of several numbers side by side: which step makes most of which."""

from __future__ import annotations

import math
from collections.abc import Sequence

from mountproof.answers.picture_data import Budget, BudgetBar
from mountproof.answers.result import K95
from mountproof.said import capital, joined, say
from mountproof.surfaces.pictures.budget import HIGH, LINE, SMALLEST, bar_key, share_bar
from mountproof.surfaces.pictures.percent import percent
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, Grid, Plate, Speak, key, wrapped

#: So many numbers stand side by side in one row of the comparison; room for the words of a step, units.
_ACROSS, _LEFT = 5, 170.0


def budgets_plate(budgets: Sequence[Budget], speak: Speak) -> Plate:
    """Return the picture that holds several numbers side by side: which step makes most of which."""
    names: dict[str, str] = {}
    for budget in budgets:
        for bar in budget.bars:
            names.setdefault(bar.key, bar.words)
    of = [{bar.key: bar for bar in budget.bars} for budget in budgets]
    steps = sorted(names, key=lambda k: -max(_size(bars.get(k)) for bars in of))
    shown = [k for k in steps if max(_size(bars.get(k)) for bars in of) >= SMALLEST]
    plate = Plate(
        "budgets",
        speak(say("Which step makes most of the doubt of which number")),
        speak(
            say(
                "{steps} steps beside {numbers} numbers, a bar and a share in percent for each. The table has them all.",
                steps=len(steps),
                numbers=len(budgets),
            )
        ),
        _compared(budgets, of, steps, names, speak),
    )
    y = 8.0
    for start in range(0, len(budgets), _ACROSS):
        y = _block(
            plate, budgets[start : start + _ACROSS], of[start : start + _ACROSS], shown, names, y, speak
        )
    small = [names[k] for k in steps if k not in shown]
    if small:
        words = say("Below 1 % each: {steps}.", steps=joined(", ", small))
        y = plate.lines((0.0, y), speak(words), WIDTH, size=SMALL) + 4.0
    words = say("The frame around each bar is 100 %.")
    y = plate.lines((0.0, y), speak(words), WIDTH, look="quiet", size=SMALL)
    entries = bar_key([bar for bars in of for bar in bars.values()])
    plate.height = key(plate, (0.0, y + 6.0), [(draw, speak(words)) for draw, words in entries])
    return plate


def _block(
    plate: Plate,
    budgets: Sequence[Budget],
    of: Sequence[dict[str, BudgetBar]],
    steps: Sequence[str],
    names: dict[str, str],
    y: float,
    speak: Speak,
) -> float:
    wide = (WIDTH - _LEFT) / len(budgets)
    lines = 0
    for k, budget in enumerate(budgets):
        rows = wrapped(speak(capital(budget.what)), wide - 10.0, SMALL)
        rows.append(speak(say("± {twice:.2f} {unit}", twice=K95 * budget.u, unit=budget.unit)))
        for i, row in enumerate(rows):
            look = "bold" if i == len(rows) - 1 else "word"
            plate.word((_LEFT + k * wide, y + LINE * i), row, look=look, size=SMALL)
        lines = max(lines, len(rows))
    y += LINE * lines + 6.0
    room = wide - 12.0
    for step in steps:
        plate.line([(0.0, y - 10.0), (WIDTH, y - 10.0)], "faint")
        rows = wrapped(speak(capital(names[step])), _LEFT - 10.0, SMALL)
        for i, row in enumerate(rows):
            plate.word((0.0, y + LINE * i), row, size=SMALL)
        for k, bars in enumerate(of):
            bar = bars.get(step)
            x = _LEFT + k * wide
            if bar is None:
                plate.word((x, y), speak(say("none")), look="quiet", size=SMALL)
                continue
            plate.word((x, y), speak(_brief(bar.share)), size=SMALL)
            plate.box(x, y + LINE - HIGH / 2.0, room, HIGH, "panel")
            share_bar(plate, (x, y + LINE), room, bar._replace(low=math.nan, high=math.nan))
        y += LINE * max(len(rows), 2) + 9.0
    return y + 12.0


def _size(bar: BudgetBar | None) -> float:
    return bar.share if bar is not None and math.isfinite(bar.share) else 0.0


def _brief(share: float) -> str:
    if not math.isfinite(share):
        return say("?")
    return say("<1 %") if 0.0 < share < SMALLEST else say("{percent:.0f} %", percent=100.0 * share)


def _compared(
    budgets: Sequence[Budget],
    of: Sequence[dict[str, BudgetBar]],
    steps: Sequence[str],
    names: dict[str, str],
    speak: Speak,
) -> Grid:
    heads = (
        say(
            "{number}, ± {twice:.2f} {unit}",
            number=budget.what,
            twice=K95 * budget.u,
            unit=budget.unit,
        )
        for budget in budgets
    )
    columns = tuple(speak(words) for words in (say("step"), *heads))
    rows = tuple(
        (
            speak(capital(names[step])),
            *(speak(percent(bars[step].share)) if step in bars else "" for bars in of),
        )
        for step in steps
    )
    return Grid(speak(say("Shares of the steps")), columns, rows)
