"""ISO 3950:2016, Dentistry: designation system for teeth and areas of the oral cavity.

Two digits, the first the quadrant (1 to 4 permanent, 5 to 8 deciduous), the second the place from the midline
distally (1-8, deciduous 1-5). Scope and principle seen at the publisher; the quadrant order and the codes of
areas (00, 01, 02, 10-40, 03-08) from memory. The 1-32 system: common practice, no source.
"""

from __future__ import annotations

import pytest

from mountproof import teeth


@pytest.mark.parametrize(
    ("tooth", "words"),
    [
        (11, "upper right central incisor"),
        (26, "upper left first molar"),
        (37, "lower left second molar"),
        (48, "lower right third molar"),
        (53, "upper right deciduous canine"),
        (65, "upper left deciduous second molar"),
        (71, "lower left deciduous central incisor"),
        (84, "lower right deciduous first molar"),
    ],
)
def test_words(tooth: int, words: str) -> None:
    assert teeth.name(tooth) == words


@pytest.mark.parametrize("bad", [19, 59, 91])
def test_no_such_tooth(bad: int) -> None:
    assert not teeth.is_tooth(bad)
    with pytest.raises(ValueError, match="ISO 3950"):
        teeth.name(bad)


@pytest.mark.parametrize("area", ["00", "01", "02", "10", "20", "30", "40", "03", "08"])
def test_an_area_of_the_mouth_is_no_tooth(area: str) -> None:
    with pytest.raises(ValueError, match="ISO 3950"):
        teeth.parse_tooth(area, "iso3950")


def test_48_is_a_tooth() -> None:
    assert teeth.is_permanent(48)


@pytest.mark.parametrize(
    ("universal", "iso"),
    [(1, 18), (3, 16), (8, 11), (9, 21), (16, 28), (17, 38), (19, 36), (24, 31), (25, 41), (32, 48)],
)
def test_one_to_thirty_two(universal: int, iso: int) -> None:
    assert teeth.iso_from_universal(universal) == iso
    assert teeth.universal_from_iso(iso) == universal
