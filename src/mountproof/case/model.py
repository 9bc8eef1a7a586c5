"""The Case: what somebody measured, with what uncertainty, and nothing derived.

Everything is optional that a person may not have yet; ``None`` means "not measured", never a default value.
Lengths are mm in the frame of the upper jaw unless a name says otherwise: ahead of the hinge axis, above it
(negative below), to the patient's right (negative left), from the middle between the two hinge points.
"""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, PrivateAttr

from mountproof.case.limits import Limits
from mountproof.case.numbers import Measured, Number, Readings

#: Version of the case file; raised when a field changes its meaning.
SCHEMA_VERSION = 1


class Part(BaseModel):
    """Base of every part of a case: frozen, strict about unknown names."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)


Matrix = Annotated[
    tuple[tuple[float, ...], ...],
    Field(min_length=4, max_length=4, description="4 rows of 4 numbers, lengths in mm"),
]
Point = Annotated[
    tuple[Number, Number, Number],
    Field(description="x, y, z in the units of the scan file"),
]
Name = Annotated[str, Field(min_length=1, max_length=64)]


class Numbering(StrEnum):
    """How teeth are numbered in this case. Never inferred: the systems share numbers."""

    ISO_3950 = "iso3950"
    UNIVERSAL = "universal"


class Arch(StrEnum):
    """Upper or lower."""

    UPPER = "upper"
    LOWER = "lower"


class Dentition(Part):
    """Which teeth there are."""

    numbering: Numbering = Numbering.ISO_3950
    missing: tuple[int, ...] = Field(
        default=(), description="teeth that are not there, in the case's numbering"
    )
    implants: tuple[int, ...] = Field(default=(), description="teeth that are implant crowns")


class Caliper(Part):
    """The caliper used for the marks."""

    resolution_mm: Number | None = Field(default=None, gt=0, le=1, description="smallest step it shows")
    sd_mm: Number | None = Field(
        default=None, gt=0, le=1, description="standard deviation of one reading of one pair"
    )
    block_mm: Number | None = Field(
        default=None, gt=0, le=100, description="thickness of a block of known size"
    )
    block_reads_mm: Number | None = Field(default=None, description="what the caliper shows on that block")


class PinKind(StrEnum):
    """A straight pin moves along itself; a curved pin along an arc about the hinge."""

    STRAIGHT = "straight"
    CURVED = "curved"


class Counting(StrEnum):
    """Which way the numbers on the pin run."""

    UP_ON_OPENING = "up on opening"
    DOWN_ON_OPENING = "down on opening"


class CalibrationPoint(Part):
    """A block of known thickness under the pin, and what the pin's scale then shows."""

    block_mm: Number = Field(ge=0, le=30)
    reads: Number = Field(description="in the pin's own graduations")


class Pin(Part):
    """The incisal pin: where it stands, and how its scale counts."""

    kind: PinKind
    ahead_mm: Measured = Field(description="hinge axis to the pin, forward, measured level")
    below_mm: Measured = Field(description="hinge axis to the pin's tip, downward, when the pin reads zero")
    mm_per_mark: Number | None = Field(
        default=None, gt=0, le=10, description="millimetres from one mark to the next"
    )
    counts: Counting = Counting.UP_ON_OPENING
    zero_reads: Number | None = Field(
        default=None,
        description="what the scale shows with the members parallel (not measured: 0 is assumed)",
    )
    table_slope_deg: Number | None = Field(
        default=None,
        ge=-60,
        le=60,
        description="slope of the table under the pin; 0 is flat, positive rises forward",
    )
    calibration: tuple[CalibrationPoint, ...] = ()


class Condyles(StrEnum):
    """On which member the condylar element sits: arcon on the lower, nonarcon on the upper."""

    ARCON = "arcon"
    NONARCON = "nonarcon"


class Instrument(Part):
    """The articulator as its user measured it."""

    name: Name
    condyles: Condyles | None = None
    intercondylar_mm: Measured | None = None
    play_mm: Number | None = Field(
        default=None, ge=0, le=2, description="play of the condylar elements when locked"
    )
    pin: Pin


class PlaneName(StrEnum):
    """The reference plane that angles are stated against."""

    AXIS_ORBITAL = "axis-orbital"
    FRANKFORT = "Frankfort"
    CAMPER = "Camper"
    OCCLUSAL = "occlusal"
    INSTRUMENT = "instrument"


class ReferencePlane(Part):
    """The reference plane, and its tilt against the instrument's own horizontal."""

    name: PlaneName
    tilt_deg: Measured | None = Field(default=None, description="positive when the plane's front is lower")


class MarkPlace(Part):
    """Where a mark stands: coordinates, or only its distance from the hinge axis seen from the side."""

    arch: Arch
    ahead_mm: Number | None = None
    above_mm: Number | None = None
    right_mm: Number | None = None
    from_hinge_mm: Number | None = Field(default=None, gt=0, le=250)
    u_mm: Number | None = Field(
        default=None, gt=0, le=20, description="standard uncertainty of each of these lengths"
    )


class StateKind(StrEnum):
    """What holds the casts while the marks are measured."""

    MIP = "MIP by hand"
    RECORD = "record in"
    RECORD_SET = "record in, after set"
    CONTACT = "record out, first contact"
    PROTRUSIVE = "protrusive record in"
    LEFT = "left lateral record in"
    RIGHT = "right lateral record in"


class State(Part):
    """One column of the table of marks."""

    kind: StateKind
    record: str | None = Field(default=None, description="which record, where there is one")
    note: str = ""


class Marks(Part):
    """The table of marks by states."""

    places: dict[Name, MarkPlace]
    states: dict[Name, State]
    readings_mm: Readings
    reseat_mm: Readings | None = Field(
        default=None, description="one record taken off and put back, several times"
    )
    reseat_record: str | None = None


class MaterialSheet(Part):
    """What the product sheet of the mounting stone says. Entered by the user."""

    water_ml_per_100g: Number | None = Field(default=None, gt=0, le=200)
    setting_expansion_percent: Number | None = Field(default=None, ge=0, le=5)
    powder_density_g_per_ml: Number | None = Field(default=None, gt=1, le=5)
    mix_s: Number | None = Field(
        default=None, gt=0, le=600, description="mixing by hand, or by machine as used"
    )
    work_min: Number | None = Field(
        default=None, gt=0, le=60, description="pour and adapt within this, from powder meets water"
    )
    set_min: Number | None = Field(
        default=None, gt=0, le=180, description="initial set, from powder meets water"
    )
    release_min: Number | None = Field(default=None, gt=0, le=1440, description="release from the instrument")


class BasePlace(Part):
    """The height of the gap between cast and plate at one place of the base."""

    ahead_mm: Number
    right_mm: Number
    gap_mm: Number = Field(ge=0, le=120)


class LutePlace(Part):
    """One place where the lower cast was luted to the record and the upper cast."""

    ahead_mm: Number
    right_mm: Number


class Bench(Part):
    """Stone, gaps and luting of the mounting."""

    sheet: MaterialSheet = MaterialSheet()
    powder_g: Number | None = Field(default=None, gt=0, le=5000)
    water_ml: Number | None = Field(default=None, gt=0, le=2500)
    base_area_mm2: Measured | None = Field(default=None, description="area of the base the stone stands on")
    volume_ml: Number | None = Field(
        default=None, gt=0, le=2000, description="volume to fill, where it was measured"
    )
    mean_gap_mm: Measured | None = None
    gaps: tuple[BasePlace, ...] = ()
    luted_at: tuple[LutePlace, ...] = ()
    powder_met_water: dt.time | None = None
    hands_off: dt.time | None = None
    released: dt.time | None = None
    room_c: Number | None = Field(default=None, ge=-10, le=60)


class PinReading(Part):
    """What the pin's scale showed, or what it was set to, in one state of the casts."""

    state: Name
    reads: Number = Field(description="in the pin's own graduations")
    set_by_hand: bool = Field(default=False, description="true when the pin was set to this, not read")


class Where(StrEnum):
    """Where a foil was tried."""

    MOUTH = "mouth"
    MOUNTING = "mounting"
    HAND = "casts by hand"


class Relation(StrEnum):
    """In which relation a foil was tried."""

    CR = "CR"
    MIP = "MIP"


class Closure(StrEnum):
    """How firmly the teeth were closed on the foil."""

    LIGHT = "light"
    FIRM = "firm"


class Foil(Part):
    """Which teeth held a foil, on which it dragged, on which it came free."""

    where: Where
    relation: Relation
    thickness_um: Number = Field(gt=0, le=1000)
    closure: Closure = Closure.LIGHT
    held: tuple[int, ...] = ()
    drags: tuple[int, ...] = ()
    free: tuple[int, ...] = ()
    others_free: bool = Field(default=False, description="every tooth not named came free")


class ScanUnit(StrEnum):
    """The unit of the numbers in a scan file."""

    MM = "mm"
    CM = "cm"
    INCH = "inch"
    METRE = "metre"
    MICROMETRE = "um"
    FOOT = "foot"


class LandmarkPair(Part):
    """One landmark seen in the scan and known in the frame of the upper jaw."""

    name: Name
    scan: Point
    ahead_mm: Number
    above_mm: Number
    right_mm: Number
    u_mm: Number | None = Field(default=None, gt=0, le=20)


class HingeDistance(Part):
    """Caliper distances from points of the instrument to one landmark of the upper cast."""

    name: Name
    scan: Point
    from_right_hinge_mm: Number | None = Field(default=None, gt=0, le=300)
    from_left_hinge_mm: Number | None = Field(default=None, gt=0, le=300)
    from_third_point_mm: Number | None = Field(default=None, gt=0, le=300)


class ThirdPoint(Part):
    """A third point of the instrument that the caliper can reach."""

    ahead_mm: Number
    above_mm: Number
    right_mm: Number


class AverageAnatomy(Part):
    """Place the scan by average lengths. Declared by the user, shown as assumed everywhere."""

    incisors: Point = Field(description="midpoint of the central incisal edges, in the scan")
    right_molar: Point = Field(description="mesiobuccal cusp tip of the right first molar, in the scan")
    left_molar: Point = Field(description="the same on the left")


class Placement(Part):
    """How a scan was put into the frame: exactly one of these."""

    frame_from_scan: Matrix | None = None
    landmarks: tuple[LandmarkPair, ...] = ()
    hinge_distances: tuple[HingeDistance, ...] = ()
    third_point: ThirdPoint | None = None
    distance_sd_mm: Number | None = Field(default=None, gt=0, le=10)
    average: AverageAnatomy | None = None
    with_other_arch: bool = Field(
        default=False, description="this scan lies in the same coordinates as the other arch's scan"
    )


class ScanEntry(Part):
    """One scan beside the case file."""

    arch: Arch
    file: str = Field(min_length=1, max_length=200)
    unit: ScanUnit
    placement: Placement
    teeth_file: str | None = Field(
        default=None, description="CSV with one tooth number per triangle, where there is one"
    )
    taken: dt.date | None = None


class RecordKind(StrEnum):
    """What an interocclusal record records."""

    CR = "CR"
    MIP = "MIP"
    PROTRUSIVE = "protrusive"
    LEFT = "left lateral"
    RIGHT = "right lateral"


class Record(Part):
    """One interocclusal record, with the scanned relation where there is one."""

    kind: RecordKind
    material: str = ""
    visit: str = ""
    upper_from_lower: Matrix | None = Field(
        default=None, description="pose of the lower against the upper in the frame, with this record in"
    )
    note: str = ""


class Case(Part):
    """One case: everything that was measured on it."""

    schema_version: int = Field(default=SCHEMA_VERSION, ge=1, le=SCHEMA_VERSION)
    code: Name = Field(description="a case code; no patient names are needed")
    date: dt.date | None = None
    lab: str = ""
    by: str = Field(default="", description="who measured, as initials or a code")
    note: str = ""
    dentition: Dentition = Dentition()
    instrument: Instrument | None = None
    plane: ReferencePlane | None = None
    caliper: Caliper = Caliper()
    marks: Marks | None = None
    bench: Bench | None = None
    pin_readings: tuple[PinReading, ...] = ()
    foils: tuple[Foil, ...] = ()
    scans: tuple[ScanEntry, ...] = ()
    records: dict[Name, Record] = {}
    mounted_on: str | None = Field(default=None, description="the record the lower cast was mounted on")
    limits: Limits = Limits()

    _folder: Path | None = PrivateAttr(default=None)
    _echoes: tuple[str, ...] = PrivateAttr(default=())
    _scan_digests: dict[str, str] = PrivateAttr(default_factory=dict)

    @property
    def folder(self) -> Path | None:
        """The folder the case was read from; None for a case made in memory."""
        return self._folder

    @property
    def echoes(self) -> tuple[str, ...]:
        """How entries that can be read two ways were read (a decimal comma, a repeat)."""
        return self._echoes
