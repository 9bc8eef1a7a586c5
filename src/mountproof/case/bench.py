"""Stone, gaps, luting and the clock of one mounting."""

from typing import Annotated

from pydantic import Field

from mountproof.case.base import ClockTime, Part
from mountproof.case.numbers import Between, Measured, Number


class MaterialSheet(Part):
    """What the product sheet of the mounting stone says. Entered by the user."""

    material: str = Field(
        default="",
        max_length=64,
        description="what you call this stone, with its bag where you want to tell bags apart",
        examples=["mounting stone, bag 7"],
    )
    water_ml_per_100g: Number | None = Field(
        default=None, ge=5, le=200, description="millilitres of water for 100 g of powder", examples=[24]
    )
    setting_expansion_percent: Number | None = Field(
        default=None, ge=0, le=5, description="linear setting expansion", examples=[0.08]
    )
    powder_density_g_per_ml: Number | None = Field(
        default=None, gt=1, le=5, description="density of the powder's grains", examples=[2.75]
    )
    mix_s: Number | None = Field(
        default=None, gt=0, le=600, description="mixing by hand, or by machine as used", examples=[40]
    )
    work_min: Number | None = Field(
        default=None,
        gt=0,
        le=60,
        description="pour and adapt within this, from powder meets water",
        examples=[2.5],
    )
    set_min: Number | None = Field(
        default=None, gt=0, le=180, description="initial set, from powder meets water", examples=[5]
    )
    release_min: Number | None = Field(
        default=None,
        gt=0,
        le=1440,
        description="may be released from the instrument, from powder meets water",
        examples=[45],
    )


class BasePlace(Part):
    """The height of the gap between cast and plate at one place of the base."""

    ahead_mm: Number = Field(ge=-250, le=250, description="ahead of the hinge axis", examples=[60])
    right_mm: Number = Field(
        ge=-250, le=250, description="to the patient's right of the middle; left is negative", examples=[20]
    )
    gap_mm: Number = Field(ge=0, le=120, description="height of the gap there", examples=[22])


class LutePlace(Part):
    """One place where the lower cast was luted to the record and the upper cast."""

    ahead_mm: Number = Field(ge=-250, le=250, description="ahead of the hinge axis", examples=[90])
    right_mm: Number = Field(
        ge=-250, le=250, description="to the patient's right of the middle; left is negative", examples=[0]
    )


class Bench(Part):
    """Stone, gaps and luting of the mounting."""

    sheet: MaterialSheet = Field(default_factory=MaterialSheet)
    powder_g: Number | None = Field(
        default=None, gt=0, le=5000, description="powder that was weighed", examples=[116]
    )
    water_ml: Number | None = Field(
        default=None, gt=0, le=2500, description="water that was used", examples=[29]
    )
    base_area_mm2: Annotated[Measured, Between(100, 20000)] | None = Field(
        default=None, description="area of the base the stone stands on", examples=[2400]
    )
    volume_ml: Number | None = Field(
        default=None, gt=0, le=2000, description="volume to fill, where it was measured", examples=[53]
    )
    mean_gap_mm: Annotated[Measured, Between(0, 120)] | None = Field(
        default=None, description="mean height of the gap between cast and plate", examples=[22]
    )
    gaps: tuple[BasePlace, ...] = Field(
        default=(), description="height of the gap at places of the base; three or more show a wedge"
    )
    luted_at: tuple[LutePlace, ...] = Field(
        default=(), description="where the casts were luted together; three or more, not in a line"
    )
    powder_met_water: ClockTime | None = Field(
        default=None, description="clock time when powder met water", examples=["10:02"]
    )
    hands_off: ClockTime | None = Field(
        default=None, description="clock time when nobody touched it any more", examples=["10:06"]
    )
    released: ClockTime | None = Field(
        default=None, description="clock time when it was released", examples=["10:47"]
    )
    room_c: Number | None = Field(
        default=None, ge=-10, le=60, description="temperature of the room", examples=[21]
    )
