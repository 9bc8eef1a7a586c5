"""The pours of a mounting, as moments that a sleeping computer or a closed page cannot lose."""

from __future__ import annotations

from pydantic import Field

from mountproof.case.base import Arch, Moment, Part
from mountproof.case.numbers import Number


class Pour(Part):
    """One bowl of stone for one cast. Its own times go before those of the product sheet."""

    cast: Arch = Field(description="the cast that it mounts", examples=["lower"])
    number: int = Field(
        default=1, ge=1, le=9, description="which pour of this cast: 1 the first, 2 the second", examples=[1]
    )
    powder_met_water: Moment = Field(
        description="when powder met water: day, time and offset from UTC",
        examples=["2026-03-02T10:02:00+01:00"],
    )
    hands_off: Moment | None = Field(
        default=None,
        description="from when on nobody touched it",
        examples=["2026-03-02T10:06:00+01:00"],
    )
    released: Moment | None = Field(
        default=None, description="when it was released", examples=["2026-03-02T10:47:00+01:00"]
    )
    by: str = Field(default="", description="who poured, as initials", examples=["QP"])
    note: str = Field(default="", description="anything worth remembering")
    mix_s: Number | None = Field(
        default=None,
        gt=0,
        le=600,
        description="mixing, where it differs from the product sheet",
        examples=[40],
    )
    work_min: Number | None = Field(
        default=None,
        gt=0,
        le=60,
        description="pour and adapt within this, where it differs from the product sheet",
        examples=[2.5],
    )
    set_min: Number | None = Field(
        default=None,
        gt=0,
        le=180,
        description="initial set, where it differs from the product sheet",
        examples=[5],
    )
    release_min: Number | None = Field(
        default=None,
        gt=0,
        le=1440,
        description="release, where it differs from the product sheet",
        examples=[45],
    )
