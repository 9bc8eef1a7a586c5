"""Tooth numbers: laws over every number there is."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof import teeth

PERMANENT = [t for t in range(100) if teeth.is_permanent(t)]
DECIDUOUS = [t for t in range(100) if teeth.is_deciduous(t)]


def test_thirty_two_and_twenty() -> None:
    assert len(PERMANENT) == 32
    assert len(DECIDUOUS) == 20
    assert not set(PERMANENT) & set(DECIDUOUS)


def test_every_name_is_different_and_tells_arch_and_side() -> None:
    names = {t: teeth.name(t) for t in PERMANENT + DECIDUOUS}
    assert len(set(names.values())) == 52
    for t, words in names.items():
        assert words.startswith(f"{teeth.arch_of(t)} {teeth.side_of(t)} ")
        assert words.endswith(teeth.class_of(t))
        assert ("deciduous" in words) == (t in DECIDUOUS)


@pytest.mark.parametrize("tooth", PERMANENT + DECIDUOUS)
def test_mirror_and_opposite_are_their_own_inverse(tooth: int) -> None:
    m, o = teeth.mirrored(tooth), teeth.opposite(tooth)
    assert teeth.mirrored(m) == tooth and teeth.opposite(o) == tooth
    assert teeth.arch_of(m) == teeth.arch_of(tooth) and teeth.side_of(m) != teeth.side_of(tooth)
    assert teeth.arch_of(o) != teeth.arch_of(tooth) and teeth.side_of(o) == teeth.side_of(tooth)
    assert teeth.name(m) == teeth.name(tooth).replace("right", "?").replace("left", "right").replace(
        "?", "left"
    )
    assert teeth.is_deciduous(m) == teeth.is_deciduous(o) == teeth.is_deciduous(tooth)


@pytest.mark.parametrize("tooth", PERMANENT + DECIDUOUS)
def test_opposing_is_mutual(tooth: int) -> None:
    against = teeth.opposing(tooth)
    assert against[0] == teeth.opposite(tooth)
    assert all(tooth in teeth.opposing(other) for other in against)


def test_opposing_examples() -> None:
    assert teeth.opposing(16) == (46, 47)
    assert teeth.opposing(46) == (16, 15)
    assert teeth.opposing(31) == (21,)  # the lower central incisor stands against one tooth only
    assert teeth.opposing(28) == (38,)  # and so does the upper third molar


def test_order_along_the_arch() -> None:
    assert teeth.teeth_of("upper") == (18, 17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27, 28)
    assert teeth.teeth_of("lower") == (38, 37, 36, 35, 34, 33, 32, 31, 41, 42, 43, 44, 45, 46, 47, 48)
    for arch in teeth.ARCHES:
        row = teeth.right_to_left(arch)
        assert tuple(sorted(row, key=teeth.along_arch_key)) == row
        assert tuple(teeth.mirrored(t) for t in row) == row[::-1]
    assert sorted(PERMANENT, key=teeth.along_arch_key) == [
        *teeth.right_to_left("upper"),
        *teeth.right_to_left("lower"),
    ]


@given(st.integers(min_value=-50, max_value=1000))
def test_both_systems_round_trip(number: int) -> None:
    if 1 <= number <= 32:
        assert teeth.universal_from_iso(teeth.iso_from_universal(number)) == number
    else:
        with pytest.raises(ValueError, match="1-32"):
            teeth.iso_from_universal(number)
    if teeth.is_permanent(number):
        assert teeth.iso_from_universal(teeth.universal_from_iso(number)) == number
    else:
        with pytest.raises(ValueError, match="1-32"):
            teeth.universal_from_iso(number)


def test_universal_walks_once_round_the_mouth() -> None:
    assert [teeth.iso_from_universal(n) for n in range(1, 33)] == [*teeth.UPPER_TEETH, *teeth.LOWER_TEETH]


def test_shared_numbers_mean_different_teeth() -> None:
    """Trap 8: the systems share 11-18, 21-28, 31 and 32; the number alone cannot tell which is meant."""
    shared = [n for n in range(1, 33) if teeth.is_permanent(n)]
    assert shared == [*range(11, 19), *range(21, 29), 31, 32]
    differ = [
        n for n in shared if teeth.parse_tooth(str(n), "iso3950") != teeth.parse_tooth(str(n), "universal")
    ]
    assert differ == shared


@given(st.sampled_from(PERMANENT), st.sampled_from(["iso3950", "universal"]))
def test_text_round_trip(tooth: int, system: teeth.System) -> None:
    assert teeth.parse_tooth(f" {teeth.format_tooth(tooth, system)}\n", system) == tooth


@given(st.text(max_size=4))
def test_typed_rubbish_is_refused_in_words(text: str) -> None:
    for system in ("iso3950", "universal"):
        try:
            tooth = teeth.parse_tooth(text, system)  # type: ignore[arg-type]
        except ValueError as refused:
            assert "tooth" in str(refused) or "1-32" in str(refused)
        else:
            assert teeth.is_tooth(tooth) and text.strip().isdigit()


@pytest.mark.parametrize("bad", [0, 9, 10, 19, 29, 49, 50, 56, 86, 90, 111, -11])
def test_no_tooth_is_refused_everywhere(bad: int) -> None:
    for ask in (teeth.name, teeth.quadrant, teeth.arch_of, teeth.mirrored, teeth.opposing, teeth.class_of):
        with pytest.raises(ValueError, match="ISO 3950"):
            ask(bad)
