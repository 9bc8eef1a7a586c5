"""The settings card: what to set on each joint, as lines at their angles with their doubt, to lie beside the articulator."""

from __future__ import annotations

import math

from mountproof.answers.excursion_data import GuidanceEvidence, JointCard, Setting
from mountproof.said import capital, figure, joined, say, term
from mountproof.surfaces.pictures.plate import SIZE, SMALL, WIDTH, XY, Grid, Plate, Speak

_COLUMN = WIDTH / 2.0
_ROW, _FAN = 78.0, 64.0
#: So long is a millimetre of a shift drawn.
_PER_MM = 16.0


def settings_plate(found: GuidanceEvidence, speak: Speak) -> Plate:
    """Return the card of both joints, the patient's right on the left, and its table."""
    alt = say(
        "Settings of the right joint on the left and of the left one on the right, against {plane}. The table has the numbers.",
        plane=found.plane,
    )
    plate = Plate("settings", speak(say("What to set on the articulator")), speak(alt), _table(found, speak))
    against = say("angles against {plane}", plane=found.plane)
    head = (
        against if not found.instrument else say("{name}: {against}", name=found.instrument, against=against)
    )
    top = plate.lines((0.0, 8.0), speak(capital(head)), WIDTH, look="bold") + 10.0
    bottom = top
    for k, joint in enumerate(found.joints):
        x = k * _COLUMN
        plate.word((x, top), speak(_joint(joint)), look="bold", size=SIZE)
        y = top + 26.0
        for setting in joint.settings:
            y = _row(plate, (x, y), setting, speak)
        bottom = max(bottom, y)
    plate.line([(_COLUMN - 10.0, top - 8.0), (_COLUMN - 10.0, bottom - 12.0)], "faint")
    note = say(
        "± 95 %. An angle belongs to the length it was read over: a longer way gives a flatter one. What is not told is to be "
        "measured or chosen by the one who sets it, and written down as chosen."
    )
    plate.height = plate.lines((0.0, bottom + 8.0), speak(note), WIDTH, look="quiet", size=SMALL)
    return plate


def told(found: GuidanceEvidence) -> bool:
    """Tell whether any setting was told: a card of nothing is not drawn."""
    return any(setting.told for joint in found.joints for setting in joint.settings)


def _joint(joint: JointCard) -> str:
    return capital(say("{side} joint", side=term(joint.side)))


def _row(plate: Plate, at: XY, setting: Setting, speak: Speak) -> float:
    """Draw one setting: the sign, its words, its value; return where the next goes."""
    x, y = at
    wide = _COLUMN - _FAN - 34.0
    if setting.told:
        (_fan if setting.unit == "deg" else _bar)(plate, (x, y + 6.0), setting)
    below = plate.lines((x + _FAN + 14.0, y), speak(capital(setting.words)), wide, size=SMALL)
    below = plate.lines(
        (x + _FAN + 14.0, below),
        speak(_value(setting)),
        wide,
        look="bold" if setting.told else "quiet",
        size=SMALL,
    )
    return max(y + _ROW, below + 10.0)


def _fan(plate: Plate, at: XY, setting: Setting) -> None:
    """A level line, the line at the angle, and its two ends dotted."""
    x, y = at
    plate.line([(x, y), (x + _FAN, y)], "soft")
    main = "level" if setting.typed else "thick"
    for deg, look in ((setting.low, "doubt"), (setting.high, "doubt"), (setting.value, main)):
        turn = math.radians(min(max(deg, -60.0), 85.0))
        long = _FAN * 0.92
        plate.line([(x, y), (x + long * math.cos(turn), y + long * math.sin(turn))], look)


def _bar(plate: Plate, at: XY, setting: Setting) -> None:
    """A shift as a bar with its interval."""
    x, y = at
    plate.line([(x, y - 8.0), (x, y + 8.0)], "soft")
    most = _FAN / _PER_MM
    low, value, high = (
        min(max(mm, 0.0), most) * _PER_MM for mm in (setting.low, setting.value, setting.high)
    )
    plate.line([(x, y), (x + value, y)], "level" if setting.typed else "thick")
    plate.line([(x + low, y + 7.0), (x + high, y + 7.0)], "doubt")


def _value(setting: Setting) -> str:
    if not setting.told:
        return say("not told: {why}", why=setting.why)
    form = ".1f" if setting.unit == "mm" else ".0f"
    half = 0.5 * (setting.high - setting.low)
    value = say(
        "{value} ± {half} {unit}",
        value=figure(setting.value, form),
        half=figure(half, form),
        unit=say("mm") if setting.unit == "mm" else say("degrees"),
    )
    if setting.typed:
        value = say("{value}, as typed, not measured", value=value)
        return (
            value
            if not math.isfinite(setting.along_mm)
            else say("{value}, over {mm:.1f} mm", value=value, mm=setting.along_mm)
        )
    if math.isfinite(setting.along_mm):
        return say("{value}, read over {mm:.1f} mm", value=value, mm=setting.along_mm)
    return value


def _table(found: GuidanceEvidence, speak: Speak) -> Grid:
    rows = tuple(
        tuple(speak(cell) for cell in (_joint(joint), setting.words, _value(setting)))
        for joint in found.joints
        for setting in joint.settings
    )
    heads = tuple(speak(head) for head in (say("joint"), say("setting"), say("value")))
    note = speak(joined("", (capital(say("angles against {plane}", plane=found.plane)), ".")))
    return Grid(speak(say("Settings of both joints")), heads, rows, note)
