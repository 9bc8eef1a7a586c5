"""Pictures of excursions and of the settings: bands as the gaps, frames where teeth guide, lines at their angles."""

from __future__ import annotations

import math
import re
from itertools import combinations

import numpy as np
import pytest

from mountproof.answers.excursion_data import GuidanceEvidence, JointCard, Setting, Touch, Travel
from mountproof.answers.result import Answer, Verdict
from mountproof.said import say
from mountproof.surfaces.pictures.chances import across
from mountproof.surfaces.pictures.gallery import PICTURED, gallery
from mountproof.surfaces.pictures.plate import Plate, meet, word_box
from mountproof.surfaces.pictures.settings import settings_plate
from mountproof.surfaces.pictures.svg import plate_svg
from mountproof.surfaces.pictures.travel import EDGES_MM, gap_rank, travel_plate
from mountproof.surfaces.web.tongue import speaker
from mountproof.teeth import right_to_left

SAID = {language: speaker(language) for language in ("en", "de")}


def make_travel(direction: str = "right", *, wide: bool = False) -> Travel:
    """An invented excursion of all teeth; 13 guides from the second station on."""
    rng = np.random.default_rng(7)
    uppers, lowers = right_to_left("upper"), right_to_left("lower")
    teeth = (*uppers, *lowers) if wide else (*uppers[1:15], *lowers[1:15])
    n = 11
    gap = np.abs(rng.normal(0.5, 0.4, (len(teeth), n)))
    gap[2, 4:] = np.inf
    guides = [(15, 45)] + [(13, 43)] * (n - 2) + [None]
    for k, pair in enumerate(guides):
        if pair is not None:
            gap[[teeth.index(pair[0]), teeth.index(pair[1])], k] = 0.0
    touch: list[Touch] = [("always", "depends", "never", "unknown")[i % 4] for i in range(len(teeth))]
    return Travel(
        direction, 0.5 * np.arange(n), 0.7 * np.arange(n), teeth, gap, tuple(guides), gap.min(axis=1), gap.max(axis=1),
        tuple(touch), 9, 0.04, 1.0, 3.0,
    )  # type: ignore[arg-type]  # fmt: skip


def make_card(*, untold: bool = False) -> GuidanceEvidence:
    """An invented card: the right joint fully told, the left one not."""
    told = (
        Setting(say("horizontal inclination"), 36.0, 31.0, 41.0, "deg", 5.4, True, ""),
        Setting(say("inclination, jaw to the other side"), 40.0, 34.0, 46.0, "deg", 6.0, True, ""),
        Setting(say("immediate translation"), 0.4, 0.1, 0.7, "mm", math.nan, True, ""),
        Setting(say("progressive angle"), 8.0, 4.0, 12.0, "deg", math.nan, True, ""),
    )
    nan = math.nan
    why = say("lateral records at two amounts set it")
    blank = tuple(s._replace(value=nan, low=nan, high=nan, along_mm=nan, told=False, why=why) for s in told)
    joints = (JointCard("right", blank if untold else told), JointCard("left", blank))
    return GuidanceEvidence("axis-orbital", "no. 4", joints, ())


def asked(evidence: GuidanceEvidence) -> Answer:
    return Answer("guidance", "q", "h", Verdict.AGREES, evidence=evidence)


def boxes(plate: Plate) -> list[tuple[str, tuple[float, float, float, float]]]:
    return [(m.text, word_box((m.x, m.y), m.text, m.size, m.anchor)) for m in plate.marks if m.text]


@pytest.mark.parametrize("language", ["en", "de"])
def test_every_word_lies_inside_and_on_no_other(language: str) -> None:
    evidence = make_card()._replace(
        travels=(make_travel("ahead"), make_travel("right", wide=True), make_travel("left"))
    )
    plates = gallery(asked(evidence), SAID[language], str)
    assert [p.name for p in plates] == ["settings", "travel-ahead", "travel-right", "travel-left"]
    for plate in plates:
        for text, box in boxes(plate):
            assert box[0] >= -4.0 and box[2] <= plate.width + 4.0, (plate.name, text, box)
            assert box[1] >= -6.0 and box[3] <= plate.height + 6.0, (plate.name, text, box)
        for (one, a), (other, b) in combinations(boxes(plate), 2):
            assert not meet(a, b), (plate.name, one, other)
        assert plate_svg(plate).startswith(b"<svg")


def test_a_card_of_nothing_is_not_drawn() -> None:
    assert "guidance" in PICTURED
    assert gallery(asked(make_card(untold=True)), str) == ()
    assert [p.name for p in gallery(asked(make_card()), str)] == ["settings"]


def frames(plate: Plate) -> list[tuple[float, float]]:
    """Left and top of every frame; the last stands in the key."""
    found = [re.match(r"M([\d.-]+) ([\d.-]+)", m.d) for m in plate.marks if m.look == "frame"]
    return [(float(f[1]), float(f[2])) for f in found if f is not None]


def test_a_frame_stands_where_a_tooth_guides() -> None:
    travel = make_travel()
    drawn = frames(travel_plate(travel, str, str))[:-1]
    guiding = [pair[0] for pair in travel.guides if pair is not None]
    assert [x + 14.0 for x, _ in drawn] == pytest.approx([across(t) for t in guiding], abs=0.1)
    assert [y for _, y in drawn] == sorted(y for _, y in drawn)
    # nobody guides at the last station, so nothing is framed there
    assert len(drawn) == len(travel.travel_mm) - 1


def test_bands_are_as_the_gaps() -> None:
    assert [gap_rank(g) for g in (0.0, 0.04, 0.041, 0.2, 0.5, 0.6, 1.0, 1.1, math.inf)] == [
        0, 0, 1, 1, 2, 3, 3, 4, 4,
    ]  # fmt: skip
    travel = make_travel()
    plate = travel_plate(travel, str, str)
    uppers = 14
    for rank in range(4):
        cells = sum(gap_rank(float(g)) == rank for g in travel.gap_mm[:uppers].ravel())
        assert sum(m.look == f"band{rank}" for m in plate.marks) == cells + (cells > 0)  # one more in the key
    assert len(EDGES_MM) == 4


def test_the_signs_below_say_what_all_settings_leave() -> None:
    travel = make_travel()
    plate = travel_plate(travel, str, str)
    counts = {t: travel.touch[:14].count(t) for t in ("always", "depends", "never", "unknown")}
    for look, touch in (("full", "always"), ("open", "depends"), ("soft", "never")):
        assert sum(m.look == look for m in plate.marks) == counts[touch] + 1
    assert sum(m.text == "?" for m in plate.marks) == counts["unknown"] + 1


def test_the_table_has_every_gap() -> None:
    travel = make_travel()
    table = travel_plate(travel, str, str).table
    assert len(table.rows) == 11 and all(len(row) == 17 == len(table.columns) for row in table.rows)
    assert table.rows[5][5] == "–" and table.rows[1][2] == "13 / 43" and table.rows[-1][2] == "no tooth"


def test_lines_of_the_card_lie_at_their_angles() -> None:
    plate = settings_plate(make_card(), str)
    drawn = [m.d for m in plate.marks if m.look == "thick"]
    turns = []
    for d in drawn:
        (x0, y0), (x1, y1) = (tuple(map(float, p)) for p in re.findall(r"([\d.-]+) ([\d.-]+)", d))
        turns.append(math.degrees(math.atan2(y1 - y0, x1 - x0)))
    assert turns == pytest.approx([36.0, 40.0, 0.0, 8.0], abs=0.3)
    cells = [row[2] for row in plate.table.rows]
    assert cells[0] == "36 ± 5 degrees, read over 5.4 mm" and cells[2] == "0.4 ± 0.3 mm"
    assert all(cell.startswith("not told: ") for cell in cells[4:])
