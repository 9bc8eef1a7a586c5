"""One better measurement: for each what the doubt is now and what it would be then, the best first."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from mountproof.answers.picture_data import Better
from mountproof.answers.result import K95
from mountproof.said import capital, figure, say
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, XY, Grid, Plate, Speak, key

_MOST = 6
_HIGH, _NUMBER = 12.0, 108.0


def better_plate(better: Sequence[Better], speak: Speak) -> Plate:
    """Return the picture of the ranked measurements, at most six, and the table of all."""
    best = better[0]
    plate = Plate(
        "better",
        speak(say("What one better measurement would make of the doubt")),
        speak(
            say(
                "{count} measurements, the best first. {measurement}: from ± {now:.2f} to ± {then:.2f} mm (95 %). "
                "The table has all of them.",
                count=len(better),
                measurement=capital(best.words),
                now=K95 * best.u_now,
                then=K95 * best.u_then,
            )
        ),
        _table(better, speak),
    )
    longest = max((u for one in better for u in (one.u_now, one.u_then) if math.isfinite(u)), default=0.0)
    scale = (WIDTH - _NUMBER) / longest if longest > 0.0 else 0.0
    y = 10.0
    for rank, one in enumerate(better[:_MOST]):
        minutes = speak(say("{minutes:.0f} min", minutes=one.minutes)) if math.isfinite(one.minutes) else ""
        plate.word((WIDTH, y), minutes, size=SMALL, anchor="end")
        y = plate.lines(
            (0.0, y), f"{rank + 1}  {speak(capital(one.words))}", WIDTH - _NUMBER + 20.0, look="bold"
        )
        for u, look, words in (
            (one.u_now, "hollow", say("now ± {twice:.2f} mm", twice=K95 * one.u_now)),
            (one.u_then, "bar", say("then ± {twice:.2f} mm", twice=K95 * one.u_then)),
        ):
            long = max(scale * u, 1.0) if math.isfinite(u) else 0.0
            if long:
                plate.box(0.0, y - _HIGH / 2.0, long, _HIGH, look)
            plate.word((long + 6.0, y), speak(words), size=SMALL)
            y += 17.0
        y += 11.0
    if len(better) > _MOST:
        more = len(better) - _MOST
        words = (
            say("One more is in the table.")
            if more == 1
            else say("{count} more are in the table.", count=more)
        )
        y = plate.lines((0.0, y), speak(words), WIDTH, look="quiet", size=SMALL) + 6.0
    plate.height = key(
        plate,
        (0.0, y),
        [
            (_sign("hollow"), speak(say("doubt (95 %) now"))),
            (_sign("bar"), speak(say("doubt (95 %) with that measurement"))),
        ],
    )
    return plate


def _sign(look: str) -> Callable[[Plate, XY], None]:
    return lambda plate, at: plate.box(at[0] - 10.0, at[1] - 6.0, 20.0, 12.0, look)


def _table(better: Sequence[Better], speak: Speak) -> Grid:
    columns = (say("measurement"), say("now, ± mm (95 %)"), say("then, ± mm (95 %)"), say("minutes"))
    rows = tuple(
        (
            speak(capital(one.words)),
            speak(figure(K95 * one.u_now, ".2f")),
            speak(figure(K95 * one.u_then, ".2f")),
            speak(figure(one.minutes, ".0f")) if math.isfinite(one.minutes) else "",
        )
        for one in better
    )
    return Grid(speak(say("Better measurements, the best first")), tuple(speak(c) for c in columns), rows)
