"""The picture of the trade-off: words inside and apart, lines where the numbers are, the table the same as the lines."""

from __future__ import annotations

import math
import re
from itertools import combinations

import numpy as np
import pytest

from mountproof.answers.picture_data import (
    AcrossBar,
    Band,
    ChangeCurve,
    ChangeEvidence,
    ChangeLimit,
    ChangeTotals,
    ChangeWindow,
    Replay,
    ReplayRound,
    SpaceChart,
    SpaceTooth,
)
from mountproof.answers.result import Answer, Verdict
from mountproof.said import figure, say
from mountproof.surfaces.pictures.gallery import PICTURED, gallery
from mountproof.surfaces.pictures.plate import Plate, meet, word_box
from mountproof.surfaces.pictures.space import space_plates
from mountproof.surfaces.pictures.svg import plate_svg
from mountproof.surfaces.pictures.thirds import thirds_plate
from mountproof.surfaces.web.tongue import speaker
from mountproof.teeth import along_arch_key, right_to_left

SAID = {language: speaker(language) for language in ("en", "de")}
PAIRS = [
    (17, 47),
    (16, 46),
    (15, 45),
    (14, 44),
    (24, 34),
    (25, 35),
    (26, 36),
    (27, 37),
    (18, 48),
    (13, 43),
    (11, 41),
    (21, 31),
]


def made(*, by_mip: bool = True, near: bool = False, hole: bool = False) -> ChangeEvidence:
    """Invented curves: pairs that join one after another, and front teeth that stay open."""
    pin = np.linspace(1.2, -0.2, 15)
    closed = 1.2 - pin
    curves = []
    for k, (up, low) in enumerate(PAIRS):
        joins = 0.1 * k if k < 9 else 1.3 + 0.1 * k
        off, gap = 0.5 * np.maximum(closed - joins, 0.0), 0.7 * np.maximum(joins - closed, 0.0)
        wide = [band(v) for v in (off, 20.0 * off, off**2, gap, 4.0 * gap)]
        curves.append(ChangeCurve(up, low, *wide, hole and k == 0))
    stands = (
        (say("first contact in CR"), 1.2),
        (say("height of MIP"), 0.0),
        (say("front teeth meet"), -0.01 if near else -0.15),
    )
    totals = ChangeTotals(band(9.0 * closed**2), band(11.0 - 7.0 * closed), band(closed), band(1.4 - closed))
    floor, ceiling = (ChangeLimit(mm, mm - 0.2, mm + 0.2, "why") for mm in (0.1, 0.8))
    window = ChangeWindow(floor, ceiling, 0.4) if near else None
    return ChangeEvidence(pin, tuple(curves), stands, True, by_mip, totals, window)


def band(values: np.ndarray) -> Band:
    return Band(values, np.maximum(values - 0.1, 0.0), values + 0.1)


def played(rounds: int, off_mm: float = 0.04, why: str = "") -> Replay:
    """An invented trial: 15 / 45 meet first, and lose as much in every round."""
    done = tuple(
        ReplayRound(
            n, 1.2 - 0.1 * n, (15, 45), ((15, 45), (0, 44)), {15: off_mm * n, 45: off_mm * n, 14: 0.001}
        )
        for n in range(1, rounds + 1)
    )
    teeth = tuple(t for t in (*right_to_left("upper"), *right_to_left("lower")) if t % 10 != 8)
    return Replay(say("first way"), teeth, done, why)


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("rounds", [1, 7, 60])
def test_a_trial_is_played_round_by_round(language: str, rounds: int) -> None:
    found = made()._replace(
        replays=(played(rounds, 0.4 / rounds, say("the trial ends where the duplicates end")),)
    )
    (plate,) = (p for p in plates_of(found, language) if p.name == "replay-1")
    words_keep_apart(plate)
    heads = [m.text for m in plate.marks if m.look == "bold"]
    assert len(heads) == min(rounds, 24)
    assert heads[0].endswith(" 1") and heads[-1].endswith(f" {rounds}")
    # two teeth and one (its opponent is no tooth) hold in every panel, and one frame stands in the key
    assert sum(m.look == "frame" for m in plate.marks) == 3 * len(heads) + 1
    assert len(plate.table.rows) == rounds and len(plate.table.columns) == 4 + 2
    assert plate.table.rows[-1][-2:] == tuple(2 * [SAID[language](figure(0.4, ".2f"))])
    deepest = sum(m.look == "band0" for m in plate.marks)
    assert deepest >= 2 + 1  # both teeth in the last round, and the key


def plates_of(found: ChangeEvidence, language: str = "en") -> tuple[Plate, ...]:
    return gallery(Answer("change", "q", "h", Verdict.CANNOT_TELL, evidence=found), SAID[language], str)


def plate_of(found: ChangeEvidence, language: str = "en") -> Plate:
    return plates_of(found, language)[0]


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("near", [False, True])
def test_every_word_lies_inside_and_on_no_other(language: str, near: bool) -> None:
    for plate in plates_of(made(near=near, hole=near, by_mip=not near), language):
        words_keep_apart(plate)
    assert "change" in PICTURED


def words_keep_apart(plate: Plate) -> None:
    boxes = [(m.text, word_box((m.x, m.y), m.text, m.size, m.anchor)) for m in plate.marks if m.text]
    for text, box in boxes:
        assert box[0] >= -4.0 and box[2] <= plate.width + 4.0, (text, box)
        assert box[1] >= -6.0 and box[3] <= plate.height + 6.0, (text, box)
    for (one, a), (other, b) in combinations(boxes, 2):
        assert not meet(a, b), (one, other)
    assert plate_svg(plate).startswith(b"<svg")


def test_each_pair_has_its_row_of_bands_and_the_limits_are_hatched() -> None:
    _, rows, totals = plates_of(made(near=True, hole=True))
    names = [m.text for m in rows.marks if " / " in m.text]
    assert len(names) == 12 and names[0] == "17 / 47 *"
    # four charts a pair; nothing is drawn where nothing comes off, or nothing is open
    assert sum(m.look == "stroke" for m in rows.marks) == 12 * 4 - 3 * 3 - 1 + 1
    assert len(rows.table.rows) == 3 * len(PAIRS) and "(" in rows.table.rows[0][2]
    assert sum(m.look == "dashes" for m in totals.marks) == 2 + 1
    assert (
        sum(m.look == "open" for m in totals.marks) == 2 + 1
    )  # the least change, in both fields and in the key
    _, _, free = plates_of(made())
    assert not any(m.look == "open" for m in free.marks)
    assert sum(m.look == "faint" for m in free.marks) < sum(m.look == "faint" for m in totals.marks)
    assert [row[0] for row in totals.table.rows] == [row[0] for row in free.table.rows]


def test_lines_end_where_the_numbers_say() -> None:
    found = made()
    plate = plate_of(found)
    drawn = [m.d for m in plate.marks if m.look == "stroke"]
    ends = [tuple(map(float, re.findall(r"[\d.]+", d)[-2:])) for d in drawn if d.count("L") == 14]
    assert len(ends) == 8 + 3  # the ninth pair that overlaps is in the table only
    deepest = sorted(float(c.off_mm.mid[-1]) for c in found.curves if c.off_mm.mid[-1] > 0.0)[::-1][:8]
    heights = sorted(y for _, y in ends[:8])
    bottom = max(y for y in (float(re.findall(r"[\d.]+", d)[1]) for d in drawn[:8]))
    scale = (bottom - heights[0]) / deepest[0]
    assert [bottom - y for y in heights] == pytest.approx([scale * mm for mm in deepest], abs=0.2)


def test_the_table_has_every_pair_at_every_height() -> None:
    table = plate_of(made()).table
    assert len(table.rows) == len(PAIRS)
    row = next(r for r in table.rows if r[0] == "15 / 45")
    assert row[1:] == ("0.14 open", "0.50 off", "0.57 off")


def test_a_hole_is_marked_and_no_overlap_is_said() -> None:
    assert any(m.text.endswith("*") for m in plate_of(made(hole=True)).marks if m.text)
    still = made()._replace(curves=made().curves[9:])
    assert "No pair of teeth overlaps" in plate_of(still).alt


def spaced(*, wanted: bool = True, many: bool = True) -> SpaceChart:
    """Invented space at every tooth, from 0.2 mm behind on."""
    teeth = []
    for tooth in (*right_to_left("upper"), *right_to_left("lower")):
        if not many and tooth % 10 > 6:
            continue
        gap = math.inf if tooth == 18 else 0.2 + 0.42 * (8 - tooth % 10)
        want = 1.5 if wanted and tooth % 10 in (5, 6, 7) else None
        teeth.append(SpaceTooth(tooth, gap, 0.1, want))
    return SpaceChart(2.4, 12.4, tuple(teeth), False)


@pytest.mark.parametrize("language", SAID)
@pytest.mark.parametrize("found", [spaced(), spaced(wanted=False), spaced(many=False)])
def test_the_chart_of_space_keeps_its_words_apart_and_frames_what_is_short(
    found: SpaceChart, language: str
) -> None:
    (plate,) = space_plates(found, SAID[language], str)
    words = [mark for mark in plate.marks if mark.text]
    boxes = [word_box((m.x, m.y), m.text, m.size, m.anchor) for m in words]
    for box, mark in zip(boxes, words, strict=True):
        assert box[0] >= -4.0 and box[2] <= plate.width + 4.0 and box[3] <= plate.height + 12.0, mark.text
    for (a, one), (b, other) in combinations(zip(boxes, words, strict=True), 2):
        inner = (a[0] + 1.5, a[1] + 3.0, a[2] - 1.5, a[3] - 3.0)
        assert not meet(inner, b), (one.text, other.text)
    framed = sum(mark.look == "frame" for mark in plate.marks)
    # one more in the key
    assert framed == (len(found.short) + 1 if found.short else 0)
    rows = {row[0]: row for row in plate.table.rows}
    assert len(rows) == len(found.teeth)
    for one in found.short:
        assert rows[str(one.tooth)][4] == SAID[language](figure(one.short_mm, ".2f"))


def bars(*, far: bool) -> list[AcrossBar]:
    """Invented tips across inclines; ``far``: one so far out that its interval leaves the picture."""
    made_up = [
        AcrossBar(t, t + (30 if t < 20 else 10), k % 2, 1 + k % 2, 0.1 * k - 0.2, 0.1 * k - 0.4, 0.1 * k, 0.1 * k - 0.25,
                  0.1 * k - 0.15, 2.4)
        for k, t in enumerate((17, 16, 15, 14, 24, 25, 26, 27))
    ]  # fmt: skip
    return [*made_up, AcrossBar(18, 48, 2, 3, 2.2, 1.5, 2.9, 2.0, 2.4, 2.0)] if far else made_up


@pytest.mark.parametrize("language", SAID)
@pytest.mark.parametrize("far", [False, True])
def test_thirds_keep_their_words_apart_and_their_tips_in_place(language: str, far: bool) -> None:
    given = bars(far=far)
    plate = thirds_plate(given, SAID[language], str)
    boxes = [(m.text, word_box((m.x, m.y), m.text, m.size, m.anchor)) for m in plate.marks if m.text]
    for text, box in boxes:
        assert box[0] >= -4.0 and box[2] <= plate.width + 4.0, (text, box)
        assert box[1] >= -6.0 and box[3] <= plate.height + 6.0, (text, box)
    for (one, a), (other, b) in combinations(boxes, 2):
        assert not meet(a, b), (one, other)
    # rings of the tips, the last one in the key: their middles run with the part
    rings = [
        float(re.findall(r"[\d.]+", m.d)[0]) for m in plate.marks if m.look == "hollow" and "A5.00" in m.d
    ][:-1]
    parts = [bar.part for bar in sorted(given, key=lambda b: along_arch_key(b.upper))]
    slope = (rings[-1] - rings[-2]) / (parts[-1] - parts[-2])
    assert slope > 0.0
    assert rings == pytest.approx([rings[-1] + slope * (part - parts[-1]) for part in parts], abs=0.3)
    assert sum("Z" in m.d and m.look == "stroke" for m in plate.marks) == int(far)  # the arrow at the end
    assert len(plate.table.rows) == len(given)


def test_the_gallery_shows_thirds_where_tips_were_found() -> None:
    found = made()._replace(across=tuple(bars(far=False)))
    names = [
        p.name
        for p in gallery(Answer("change", "q", "h", Verdict.CANNOT_TELL, evidence=found), SAID["en"], str)
    ]
    assert names == ["tradeoff", "change-pairs", "change-totals", "thirds"]
