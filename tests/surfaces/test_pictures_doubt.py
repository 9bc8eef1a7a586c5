"""Pictures of the doubt: bars as long as their numbers, chances as told, what is unknown drawn as unknown."""

from __future__ import annotations

import math
import re
from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.answers.picture_data import Better, Budget, BudgetBar, DoubtEvidence, ToothChance
from mountproof.answers.result import K95, Answer, Verdict
from mountproof.surfaces.palette import BANDS, CHANCE_EDGES, HOLE, Rgb, chance_rank, chance_words
from mountproof.surfaces.pictures.better import better_plate
from mountproof.surfaces.pictures.budget import budget_plate
from mountproof.surfaces.pictures.budgets import budgets_plate
from mountproof.surfaces.pictures.chance_cast import cast_plate
from mountproof.surfaces.pictures.chances import across, chance_plate
from mountproof.surfaces.pictures.gallery import PICTURED, gallery
from mountproof.surfaces.pictures.gaps import gap_plate
from mountproof.surfaces.pictures.patterns import pattern_path
from mountproof.surfaces.pictures.percent import drawn_percent, percent, short_percent
from mountproof.surfaces.pictures.plate import Plate, meet, word_box
from mountproof.surfaces.web.tongue import speaker
from surfaces.make_pictures import make_better, make_budget, make_budgets, make_chances, make_doubt
from surfaces.make_views import make_evidence, make_view

SAID = {language: speaker(language) for language in ("en", "de")}
PAGE_CSS = "web/src/sheet/pictures/pictures.css"


def asked(evidence: DoubtEvidence) -> Answer:
    return Answer("doubt", "q", "h", Verdict.CANNOT_TELL, evidence=evidence)


def drawn(evidence: DoubtEvidence, language: str = "en") -> tuple[Plate, ...]:
    contacts = Answer("contacts", "q", "h", Verdict.AGREES, evidence=make_evidence(hole=False))
    return gallery(asked(evidence), SAID[language], str, contacts)


def boxes(plate: Plate) -> list[tuple[str, tuple[float, float, float, float]]]:
    return [(m.text, word_box((m.x, m.y), m.text, m.size, m.anchor)) for m in plate.marks if m.text]


def texts(plate: Plate) -> list[str]:
    return [mark.text for mark in plate.marks if mark.text]


def lengths(plate: Plate, look: str) -> list[float]:
    return [float(re.search(r"h([\d.]+)", m.d).group(1)) for m in plate.marks if m.look == look]


def place(plate: Plate, text: str) -> tuple[float, float]:
    return next((m.x, m.y) for m in plate.marks if m.text == text)


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("count", [3, 28])
def test_every_word_lies_inside_and_on_no_other(language, count):
    for plate in drawn(make_doubt(count), language):
        for text, box in boxes(plate):
            assert box[0] >= -4.0 and box[2] <= plate.width + 4.0, (plate.name, text, box)
            assert box[1] >= -6.0 and box[3] <= plate.height + 6.0, (plate.name, text, box)
        for (one, a), (other, b) in combinations(boxes(plate), 2):
            assert not meet(a, b), (plate.name, one, other)


def test_nothing_is_drawn_of_nothing():
    assert gallery(asked(DoubtEvidence((), (), None, "")), str) == ()
    empty = make_budget()._replace(bars=())
    chances = make_chances()._replace(teeth=())
    assert gallery(asked(DoubtEvidence((empty,), (), chances, "a line")), str) == ()
    only = DoubtEvidence((), make_better(), None, "")
    assert [plate.name for plate in gallery(asked(only), str)] == ["better"]


def test_the_doubt_has_pictures_in_their_order_and_casts_only_where_there_are_scans():
    assert "doubt" in PICTURED
    with_casts = [plate.name for plate in drawn(make_doubt())]
    assert with_casts == ["budget", "better", "budgets", "chances", "cast-upper", "cast-lower", "gaps"]
    without = [plate.name for plate in gallery(asked(make_doubt()), str)]
    assert without == ["budget", "better", "budgets", "chances", "gaps"]
    one = make_doubt()._replace(budgets=make_budgets()[:1])
    assert "budgets" not in [plate.name for plate in drawn(one)]


@given(
    st.lists(st.tuples(st.floats(0.011, 1.0), st.booleans()), min_size=1, max_size=12),
)
def test_bars_are_as_long_as_their_shares_and_lined_where_assumed(told):
    bars = tuple(
        BudgetBar(f"k{k}", f"step {k}", share, math.nan, math.nan, 0.1, assumed)
        for k, (share, assumed) in enumerate(told)
    )
    plate = budget_plate(Budget("height", "mm", 0.2, bars), "", str)
    full, hollow = lengths(plate, "bar"), lengths(plate, "hollow")
    # The last of each kind stands in the key.
    for found, wanted in (
        (full, [s for s, a in told if not a]),
        (hollow, [s for s, a in told if a]),
    ):
        assert [x / 250.0 for x in found[: len(wanted)]] == pytest.approx(wanted, abs=5e-3)
    assert sum("(assumed)" in row for row in texts(plate)) <= sum(a for _, a in told)
    assert [row[1] for row in plate.table.rows] == [percent(s) for s, _ in told]
    assert [row[4] for row in plate.table.rows] == ["assumed" if a else "measured" for _, a in told]


def test_intervals_stand_where_their_ends_are_and_the_scale_tells_so():
    plate = budget_plate(make_budget(), "", str)
    zero, whole = place(plate, "0 %")[0], place(plate, "100 %")[0]
    ends = [re.findall(r"M([\d.]+)", m.d) for m in plate.marks if m.look == "stroke"][:6]
    shown = [bar for bar in make_budget().bars if bar.share >= 0.01]
    assert len(shown) == 6
    for end, bar in zip(ends, shown, strict=True):
        low, high = ((float(x) - zero) / (whole - zero) for x in (end[0], end[2]))
        assert (low, high) == pytest.approx((bar.low, bar.high), abs=1e-3)


def test_small_steps_are_named_in_one_line_and_told_in_the_table():
    plate = budget_plate(make_budget(), "the line", str)
    told = " ".join(texts(plate))
    assert "Below 1 % each: play of the centric lock, dimensional change of the record material." in told
    assert texts(plate)[0] == "the line"
    assert len(plate.table.rows) == 8
    assert [row[1] for row in plate.table.rows][-2:] == ["below 1 %", "below 1 %"]
    assert not any(row == "0 %" for row in (cells[1] for cells in plate.table.rows))


def test_what_the_checks_changed_is_shown_before_and_after():
    changed = budget_plate(make_budget(prior=0.31), "", str)
    assert {"before the checks", "after the checks", "± 0.61 mm", "± 0.38 mm"} <= set(texts(changed))
    assert lengths(changed, "hollow")[0] / 0.31 == pytest.approx(lengths(changed, "bar")[0] / 0.194, rel=2e-3)
    for prior in (None, math.nan, 0.0):
        assert "before the checks" not in texts(budget_plate(make_budget(prior=prior), "", str))


def test_shares_of_several_numbers_stand_under_their_heads():
    budgets = make_budgets()
    plate = budgets_plate(budgets, str)
    assert plate.table.columns[1:] == tuple(f"{b.what}, ± 0.38 mm" for b in budgets)
    for row in plate.table.rows:
        step = next(bar for bar in budgets[0].bars if bar.words.lower() == row[0].lower())
        wanted = [percent(next(b for b in budget.bars if b.key == step.key).share) for budget in budgets]
        assert list(row[1:]) == wanted
    room = lengths(plate, "panel")[0]
    full = [length / room for length in lengths(plate, "bar")[:-1]]
    measured = [bar.share for b in budgets for bar in b.bars if not bar.assumed]
    # What is less than the thinnest stroke is drawn as one.
    assert sorted(full) == pytest.approx(sorted(max(share, 1.0 / room) for share in measured), abs=2e-3)
    # A step that one number does not have is said to be none.
    short = budgets[1]._replace(bars=budgets[1].bars[:3])
    assert "none" in texts(budgets_plate((budgets[0], short), str))


@given(st.lists(st.tuples(st.floats(0.01, 3.0), st.floats(0.0, 1.0)), min_size=1, max_size=9))
def test_before_and_after_have_one_scale(told):
    better = tuple(Better(f"measurement {k}", now, now * part, 5.0 * k) for k, (now, part) in enumerate(told))
    plate = better_plate(better, str)
    longest = max(now for now, _ in told)
    shown = better[:6]
    for look, values in (("hollow", [b.u_now for b in shown]), ("bar", [b.u_then for b in shown])):
        found = lengths(plate, look)[: len(shown)]
        assert found == pytest.approx([max(532.0 * u / longest, 1.0) for u in values], abs=0.06)
    for one in shown:
        assert f"then ± {K95 * one.u_then:.2f} mm" in texts(plate)
    assert len(plate.table.rows) == len(better)
    assert any("in the table" in row for row in texts(plate)) == (len(better) > 6)


def test_a_time_that_nobody_knows_is_left_out():
    plate = better_plate(make_better()[-1:], str)
    assert not any("min" in row or "nan" in row for row in texts(plate))
    assert plate.table.rows[0][3] == ""


def test_the_chart_has_every_tooth_at_its_place_with_its_own_numbers():
    chances = make_chances()
    plate = chance_plate(chances, str, str)
    assert len(chances.teeth) == 28
    for one in chances.teeth:
        number = next(m for m in plate.marks if m.text == str(one.tooth) and m.look == "bold")
        x, y = number.x, number.y
        assert x == pytest.approx(across(one.tooth))
        column = sorted((m.y, m.text) for m in plate.marks if m.text and m.anchor == "middle" and m.x == x)
        above = [text for at, text in column if -45.0 < at - y < 0.0]
        below = [text for at, text in column if 0.0 < at - y < 60.0]
        first = math.nan if one.unknown else one.first
        holds = math.nan if one.unknown else one.holds
        assert above == [short_percent(first)] and below[0] == short_percent(holds)
    upper = [across(t) for t in (17, 14, 11, 21, 24, 27)]
    assert upper == sorted(upper) and across(47) == across(17) and across(37) == across(27)
    assert across(55) == across(15)
    assert place(plate, "R patient's right")[0] < across(17)
    assert place(plate, "patient's left L")[0] > across(27)
    rows = {row[0]: row for row in plate.table.rows}
    assert rows["16"][1:] == ("62 %", f"{100 * K95 * chances.teeth[1].first_u:.1f} %", "89 %", "2.2 %")
    assert rows["35"][1:] == ("unknown", "", "unknown", "") and rows["42"][1] == "unknown"
    assert rows["12"][1] == "below 1 %" and rows["27"][1] == "above 99 %"


def test_unknown_teeth_are_drawn_as_unknown_and_never_named_likely():
    chances = make_chances()
    hidden = chances._replace(teeth=tuple(one._replace(unknown=one.tooth == 16) for one in chances.teeth))
    plate = chance_plate(hidden, str, str)
    holes = [m for m in plate.marks if m.look == "hole"]
    # Both rows of the tooth in the hole, the row of the one that is no number, and the key.
    assert len(holes) == 4
    assert "16 (" not in texts(plate)[0] and "46 (62 %)" in texts(plate)[0]
    none = chances._replace(teeth=tuple(one._replace(unknown=True) for one in chances.teeth))
    assert texts(chance_plate(none, str, str))[0] == "For no tooth a chance to meet first is known."
    rare = chances._replace(teeth=tuple(one._replace(first=0.004, unknown=False) for one in chances.teeth))
    assert texts(chance_plate(rare, str, str))[0].startswith("No tooth stands out")


@given(st.floats(0.0, 1.0))
def test_small_is_never_nought_and_likely_never_certain(chance):
    for words in (drawn_percent(chance), short_percent(chance)):
        assert words not in ("0 %", "100 %", "0", "100")
    if 0.01 <= chance <= 0.99:
        assert (
            short_percent(chance) == f"{100 * chance:.0f}"
            and drawn_percent(chance) == f"{100 * chance:.0f} %"
        )
        assert percent(chance) == drawn_percent(chance)


@given(st.floats(0.0, 1.0))
def test_a_chance_lies_in_the_band_that_its_words_name(chance):
    rank = chance_rank(chance)
    numbers = [float(n) / 100.0 for n in re.findall(r"[\d.]+", chance_words()[rank])]
    if rank == 0:
        assert chance >= numbers[0]
    elif rank == len(CHANCE_EDGES):
        assert chance < numbers[0]
    else:
        assert numbers[0] <= chance < numbers[1]


def lightness(rgb: Rgb) -> float:
    """CIELAB lightness of an sRGB colour: CIE 15 and IEC 61966-2-1."""
    linear = [c / 12.92 if (c := v / 255.0) <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for v in rgb]
    y = float(np.dot((0.2126, 0.7152, 0.0722), linear))
    return 116.0 * np.cbrt(y) - 16.0 if y > 216.0 / 24389.0 else y * 24389.0 / 27.0


def test_bands_of_chance_differ_by_grey_and_by_pattern():
    shades = [lightness(band.rgb) for band in BANDS[: len(CHANCE_EDGES)]]
    assert all(b - a > 10.0 for a, b in pairwise(shades))
    patterns = [band.pattern for band in BANDS[: len(CHANCE_EDGES)]]
    assert len(set(patterns)) == len(patterns)
    for band in (*BANDS[1 : len(CHANCE_EDGES)], HOLE):
        assert abs(lightness(band.ink) - lightness(band.rgb)) > 20.0, "the pattern is seen in grey"


def test_the_page_paints_the_bands_of_the_palette():
    from pathlib import Path

    css = (Path(__file__).parents[2] / PAGE_CSS).read_text("utf-8")
    for name, rgb in (
        *((f"band{rank}", BANDS[rank].rgb) for rank in range(len(CHANCE_EDGES))),
        ("hole", HOLE.rgb),
    ):
        assert f".picture .look-{name} {{\n  fill: #{bytes(rgb).hex()};" in css
    for name, rgb in (
        *((f"pattern{rank}", BANDS[rank].ink) for rank in range(1, len(CHANCE_EDGES))),
        ("holelines", HOLE.ink),
    ):
        assert f".picture .look-{name} {{\n  stroke: #{bytes(rgb).hex()};" in css


@given(
    st.tuples(st.floats(0.0, 600.0), st.floats(0.0, 400.0)),
    st.floats(1.0, 60.0),
    st.floats(1.0, 40.0),
    st.sampled_from(["lines", "cross", "dots"]),
)
def test_patterns_stay_in_their_box(corner, wide, high, pattern):
    x, y = corner
    d = pattern_path((x, y, x + wide, y + high), pattern, 5.0)
    for u, v in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", d):
        assert x - 0.06 <= float(u) <= x + wide + 0.06 and y - 0.06 <= float(v) <= y + high + 0.06


@pytest.mark.parametrize("arch", ["upper", "lower"])
def test_crowns_are_painted_in_the_band_of_their_chance(arch):
    from io import BytesIO

    from PIL import Image

    chances, view = make_chances(), make_view(arch)
    plate = cast_plate(chances, view, str, str)
    pixels = np.asarray(Image.open(BytesIO(plate.image.png)), dtype=np.int64)
    scale = pixels.shape[1] / view.width_mm
    here = {one.tooth: one for one in chances.teeth}
    for mark in view.marks:
        u, v = (round(c * scale) for c in mark.at_mm)
        patch = pixels[v - 8 : v + 8, u - 8 : u + 8].reshape(-1, 3)
        one = here[mark.tooth]
        unknown = one.unknown or not math.isfinite(one.first)
        rank = 4 if unknown else chance_rank(one.first)
        words = "?" if unknown else f"{short_percent(one.first)} %"
        x = plate.image.x + mark.at_mm[0] * plate.image.width / view.width_mm
        assert sum(m.text == words and abs(m.x - x) < 0.2 for m in plate.marks) == 1
        if unknown:
            assert (patch == HOLE.rgb).all(axis=1).mean() > 0.5
        elif rank < 4:
            # A band is shaded by at most an eighth; its pattern takes the smaller part.
            near = np.abs(patch - np.array(BANDS[rank].rgb)).max(axis=1) <= 32
            assert near.mean() > 0.5, mark.tooth
        else:
            assert (patch.min(axis=1) > 110).mean() > 0.9 and np.ptp(patch, axis=1).mean() < 12.0
    assert place(plate, "R patient's right")[0] < place(plate, "patient's left L")[0]
    right, left = ("16", "26") if arch == "upper" else ("46", "36")
    assert place(plate, right)[0] < place(plate, left)[0]


def test_a_cast_shows_teeth_without_a_chance_as_plain_crowns():
    few = make_chances(3)
    plate = cast_plate(few, make_view("upper"), str, str)
    told = [text for text in texts(plate) if text.endswith("%") and text[0] in "<>0123456789"]
    assert len([t for t in told if " to " not in t and "more" not in t]) == 2


def test_gaps_stand_to_scale_and_the_foil_with_them():
    chances = make_chances()
    plate = gap_plate(chances, str, str)
    by_y: dict[str, list[float]] = {}
    for mark in plate.marks:
        if mark.text and mark.anchor == "end" and mark.text[0].isdigit():
            by_y.setdefault(mark.text, []).append(mark.y)
    highest = max(float(text) for text in by_y)
    zeros = by_y["0"]
    assert len(zeros) == 2
    scale = (zeros[0] - by_y[f"{highest:.3g}"][0]) / highest
    dots = [
        (float(x) - 4.5, float(y))
        for m in plate.marks
        if m.look == "full"
        for x, y in [re.findall(r"A[\d. -]+?1 1 (-?[\d.]+) (-?[\d.]+)", m.d)[0]]
    ]
    for one in chances.teeth:
        zero = zeros[0 if one.tooth < 30 else 1]
        known = not one.unknown and one.gap_um is not None and all(map(math.isfinite, one.gap_um))
        at = [y for x, y in dots if abs(x - across(one.tooth)) < 0.1 and 0.0 <= zero - y + 1.0 <= 112.0]
        if not known or one.gap_um[0] > highest:
            assert at == []
            continue
        assert (zero - at[0]) / scale == pytest.approx(max(one.gap_um[0], 0.0), abs=0.02 / scale)
    levels = [float(re.match(r"M[\d.]+ ([\d.]+)", m.d).group(1)) for m in plate.marks if m.look == "level"][
        :2
    ]
    assert [(zero - at) * 1.0 for zero, at in zip(zeros, levels, strict=True)] == pytest.approx(
        [12.0 * scale] * 2, abs=0.1
    )
    rows = {row[0]: row for row in plate.table.rows}
    assert rows["11"] == ("11", "1500", "1310 to 1720")
    assert rows["41"][1] == "nothing opposes it" and rows["35"][1] == "unknown" and rows["42"][1] == "unknown"
    # What goes beyond the scale says so: the whole of one tooth, the upper ends of others, and the key.
    beyond = sum(1 for one in chances.teeth if one.gap_um and not one.unknown and one.gap_um[2] > highest)
    assert beyond >= 1
    assert sum(m.look == "strokeup" for m in plate.marks) == beyond + 1


def test_one_tooth_far_apart_leaves_the_scale_to_the_others():
    near = tuple(
        ToothChance(t, 0.1, 0.2, 0.01, 0.01, (1e4, 9e3, 1.1e4) if t == 11 else (30.0, 10.0, 60.0), False)
        for t in (17, 16, 15, 11, 26)
    )
    plate = gap_plate(make_chances()._replace(teeth=near), str, str)
    assert "200" in texts(plate) and not any(text == "20000" for text in texts(plate))


@pytest.mark.parametrize("count", [3, 28])
def test_every_text_of_the_pictures_is_said_in_german(count):
    """What a speaker is given must come back in German, but for names and numbers."""
    asked_for: list[str] = []

    def listening(text: str) -> str:
        asked_for.append(text)
        return SAID["de"](text)

    contacts = Answer("contacts", "q", "h", Verdict.AGREES, evidence=make_evidence(hole=False))
    plain = make_doubt(count)._replace(
        budgets=tuple(
            b._replace(what="X", bars=tuple(bar._replace(words="X") for bar in b.bars))
            for b in make_budgets()
        ),
        better=tuple(b._replace(words="X") for b in make_better()),
        limits_line="X",
    )
    gallery(asked(plain), listening, str, contacts)
    same = {
        text for text in asked_for if SAID["de"](text) == str.__str__(text) and re.search(r"[a-z]{4}", text)
    }
    assert same == set(), "not said in German"
