"""What the checks point at: bars of chance with their numbers, what speaks for each, what to do, how long it takes."""

from __future__ import annotations

from mountproof.answers.picture_data import MountingEvidence
from mountproof.said import capital, figure, joined, say
from mountproof.surfaces.pictures.percent import percent
from mountproof.surfaces.pictures.plate import SMALL, WIDTH, Grid, Plate, Speak

_MOST = 5
_NUMBER = 64.0


def causes_plate(found: MountingEvidence, speak: Speak) -> Plate:
    """Return the picture of the ranked causes and its table."""
    shown = sorted(found.causes, key=lambda cause: -cause.chance)
    plate = Plate(
        "causes",
        speak(say("What the checks point at")),
        speak(say("{count} causes, the likeliest first. The table has all of them.", count=len(shown))),
        _table(found, speak),
    )
    y = 10.0
    for rank, cause in enumerate(shown[:_MOST]):
        y0 = y
        y = plate.lines((0.0, y), f"{rank + 1}  {speak(capital(cause.words))}", WIDTH - _NUMBER, look="bold")
        plate.word((WIDTH, y0), speak(percent(cause.chance)), look="bold", anchor="end")
        plate.box(0.0, y - 4.0, WIDTH, 9.0, "panel")
        plate.box(0.0, y - 4.0, WIDTH * min(max(cause.chance, 0.0), 1.0), 9.0, "bar")
        y += 18.0
        if cause.speaks:
            words = say("for it: {checks}", checks=joined("; ", cause.speaks))
            y = plate.lines((14.0, y), speak(words), WIDTH - 14.0, look="quiet", size=SMALL)
        words = say("what to do: {action} ({minutes:.0f} min)", action=cause.action, minutes=cause.minutes)
        y = plate.lines((14.0, y), speak(words), WIDTH - 14.0, size=SMALL) + 12.0
    check = next((cause.next_check for cause in shown if cause.next_check), "")
    if check:
        plate.line([(0.0, y - 8.0), (WIDTH, y - 8.0)], "soft")
        words = say("Next check: {check}", check=check)
        y = plate.lines((0.0, y + 8.0), speak(words), WIDTH, look="bold")
    plate.height = y
    return plate


def _table(found: MountingEvidence, speak: Speak) -> Grid:
    columns = (say("cause"), say("chance"), say("for it"), say("what to do"), say("minutes"))
    rows = tuple(
        (
            speak(capital(cause.words)),
            speak(percent(cause.chance)),
            speak(joined("; ", cause.speaks)),
            speak(cause.action),
            speak(figure(cause.minutes, ".0f")),
        )
        for cause in sorted(found.causes, key=lambda cause: -cause.chance)
    )
    return Grid(speak(say("Causes, the likeliest first")), tuple(speak(c) for c in columns), rows)
