"""What a paper is: texts and rows in their order, which surfaces only set."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Stands(StrEnum):
    """Whether a line of a paper is there. ``told`` is a plain line, of which nothing is asked."""

    TOLD = "told"
    THERE = "stands"
    MISSING = "missing"
    AGAINST = "does not stand"


@dataclass(frozen=True, slots=True)
class Line:
    """One line: its words, what it says, a remark, and whether it stands."""

    words: str
    value: str = ""
    note: str = ""
    stands: Stands = Stands.TOLD


@dataclass(frozen=True, slots=True)
class Block:
    """Lines under one title; ``intro`` goes before them. ``prose``: the lines are paragraphs, not points of a list."""

    title: str
    lines: tuple[Line, ...]
    intro: str = ""
    prose: bool = False


@dataclass(frozen=True, slots=True)
class Paper:
    """One paper. ``headline`` tells how it stands; ``large`` is for a reader who is no clinician."""

    name: str
    title: str
    headline: str
    blocks: tuple[Block, ...]
    cautions: tuple[str, ...] = ()
    large: bool = False
    sign: bool = False

    @property
    def missing(self) -> tuple[Line, ...]:
        """Every line that is missing or does not stand, in order."""
        asked = (Stands.MISSING, Stands.AGAINST)
        return tuple(line for block in self.blocks for line in block.lines if line.stands in asked)
