"""The Case: what somebody measured, with what uncertainty, and nothing derived.

Everything is optional that a person may not have yet; ``None`` means "not measured", never a default value.
Lengths are mm in the frame of the upper jaw unless a name says otherwise: ahead of the hinge axis, above it
(negative below), to the patient's right (negative left), from the middle between the two hinge points.
"""

from pathlib import Path

from pydantic import Field, PrivateAttr

from mountproof.case.adjusting import Branch as Branch
from mountproof.case.adjusting import Budget as Budget
from mountproof.case.adjusting import Change as Change
from mountproof.case.adjusting import Excluded as Excluded
from mountproof.case.adjusting import Reshape as Reshape
from mountproof.case.adjusting import Stop as Stop
from mountproof.case.adjusting import StopAt as StopAt
from mountproof.case.base import SCHEMA_VERSION as SCHEMA_VERSION
from mountproof.case.base import Arch as Arch
from mountproof.case.base import Day as Day
from mountproof.case.base import Matrix as Matrix
from mountproof.case.base import Name as Name
from mountproof.case.base import Numbering as Numbering
from mountproof.case.base import Part as Part
from mountproof.case.base import Point as Point
from mountproof.case.bases import BasePush as BasePush
from mountproof.case.bases import FewTeeth as FewTeeth
from mountproof.case.bases import TracingPoint as TracingPoint
from mountproof.case.bench import BasePlace as BasePlace
from mountproof.case.bench import Bench as Bench
from mountproof.case.bench import LutePlace as LutePlace
from mountproof.case.bench import MaterialSheet as MaterialSheet
from mountproof.case.casts import Casts as Casts
from mountproof.case.casts import OtherOf as OtherOf
from mountproof.case.casts import OtherScan as OtherScan
from mountproof.case.casts import PointPair as PointPair
from mountproof.case.casts import WidthCheck as WidthCheck
from mountproof.case.doubt_entries import Steps as Steps
from mountproof.case.findings import Closure as Closure
from mountproof.case.findings import Dentition as Dentition
from mountproof.case.findings import Foil as Foil
from mountproof.case.findings import Relation as Relation
from mountproof.case.findings import Where as Where
from mountproof.case.followup import Adjusted as Adjusted
from mountproof.case.followup import Delivered as Delivered
from mountproof.case.followup import FollowUp as FollowUp
from mountproof.case.limits import Limit as Limit
from mountproof.case.limits import Limits as Limits
from mountproof.case.marks import MarkPlace as MarkPlace
from mountproof.case.marks import Marks as Marks
from mountproof.case.marks import PinReading as PinReading
from mountproof.case.marks import State as State
from mountproof.case.marks import StateKind as StateKind
from mountproof.case.marks import ToothPlace as ToothPlace
from mountproof.case.numbers import Cell as Cell
from mountproof.case.numbers import Measured as Measured
from mountproof.case.numbers import Number as Number
from mountproof.case.numbers import Readings as Readings
from mountproof.case.pours import Pour as Pour
from mountproof.case.prescription import ChangeAt as ChangeAt
from mountproof.case.prescription import Checked as Checked
from mountproof.case.prescription import Final as Final
from mountproof.case.prescription import PlannedStep as PlannedStep
from mountproof.case.prescription import Prescription as Prescription
from mountproof.case.prescription import WantedContact as WantedContact
from mountproof.case.procedure import OwnStep as OwnStep
from mountproof.case.procedure import Procedure as Procedure
from mountproof.case.procedure import Stage as Stage
from mountproof.case.procedure import StepEntry as StepEntry
from mountproof.case.proofs import Attempt as Attempt
from mountproof.case.proofs import CondyleGap as CondyleGap
from mountproof.case.proofs import Proof as Proof
from mountproof.case.proofs import Seating as Seating
from mountproof.case.proofs import Seats as Seats
from mountproof.case.proofs import Side as Side
from mountproof.case.proofs import SplitCast as SplitCast
from mountproof.case.proofs import SplitGap as SplitGap
from mountproof.case.records import Record as Record
from mountproof.case.records import RecordKind as RecordKind
from mountproof.case.records import RecordPoint as RecordPoint
from mountproof.case.records import RecordScan as RecordScan
from mountproof.case.records import RecordShown as RecordShown
from mountproof.case.records import RecordStop as RecordStop
from mountproof.case.records import RelationIn as RelationIn
from mountproof.case.scan_entries import AverageAnatomy as AverageAnatomy
from mountproof.case.scan_entries import HingeDistance as HingeDistance
from mountproof.case.scan_entries import LandmarkPair as LandmarkPair
from mountproof.case.scan_entries import Placement as Placement
from mountproof.case.scan_entries import ScanEntry as ScanEntry
from mountproof.case.scan_entries import ScanUnit as ScanUnit
from mountproof.case.scan_entries import ThirdPoint as ThirdPoint
from mountproof.case.settings import JointSettings as JointSettings
from mountproof.case.settings import Settings as Settings
from mountproof.case.space import Space as Space
from mountproof.case.space import Wanted as Wanted
from mountproof.case.takes import AngleRange as AngleRange
from mountproof.case.takes import ShiftRange as ShiftRange
from mountproof.case.takes import Takes as Takes
from mountproof.case.tools import CalibrationPoint as CalibrationPoint
from mountproof.case.tools import Caliper as Caliper
from mountproof.case.tools import ClosingPush as ClosingPush
from mountproof.case.tools import Condyles as Condyles
from mountproof.case.tools import Counting as Counting
from mountproof.case.tools import Instrument as Instrument
from mountproof.case.tools import Pin as Pin
from mountproof.case.tools import PinKind as PinKind
from mountproof.case.tools import PlaneName as PlaneName
from mountproof.case.tools import ReferencePlane as ReferencePlane
from mountproof.case.transfer import AxisFrom as AxisFrom
from mountproof.case.transfer import Facebow as Facebow


class Case(Part):
    """One case: everything that was measured on it."""

    schema_version: int = Field(
        default=SCHEMA_VERSION,
        ge=1,
        le=SCHEMA_VERSION,
        description="version of this file's format; leave as it is",
        examples=[SCHEMA_VERSION],
    )
    code: Name = Field(description="a case code; no patient names are needed", examples=["KESTREL-0417"])
    date: Day | None = Field(default=None, description="day of the measurements", examples=["2026-03-02"])
    lab: str = Field(default="", description="where it was measured", examples=["Slate Lane Bench 3"])
    by: str = Field(default="", description="who measured, as initials or a code", examples=["QP"])
    course: str = Field(
        default="",
        max_length=64,
        description="a code, where several people mount the same casts to compare: the same for all of them",
        examples=["spring A"],
    )
    note: str = Field(default="", description="anything worth remembering")
    dentition: Dentition = Field(default_factory=Dentition)
    instrument: Instrument | None = None
    plane: ReferencePlane | None = None
    caliper: Caliper = Field(default_factory=Caliper)
    casts: Casts = Field(default_factory=Casts)
    facebow: Facebow = Field(default_factory=Facebow)
    marks: Marks | None = None
    teeth_at: dict[Name, ToothPlace] = Field(
        default={},
        description="where incisors, canines and molars stand, by name (incisors, canines, first molars, second molars)",
    )
    bench: Bench | None = None
    procedure: Procedure = Field(default_factory=Procedure)
    pours: dict[Name, Pour] = Field(
        default={},
        description="every bowl of stone by a name, such as lower 1; their moments go before bench's",
    )
    pin_readings: tuple[PinReading, ...] = Field(
        default=(), description="what the pin showed, or was set to, in a state of the casts"
    )
    foils: tuple[Foil, ...] = Field(
        default=(), description="which teeth held a foil, dragged on it or let it go"
    )
    scans: tuple[ScanEntry, ...] = Field(
        default=(), description="scans beside this file, at most one an arch"
    )
    records: dict[Name, Record] = Field(
        default={}, description="the records by name, so that states can refer to them"
    )
    mounted_on: str | None = Field(
        default=None, description="the record the lower cast was mounted on", examples=["record 1"]
    )
    record_repeat_mm: Number | None = Field(
        default=None,
        gt=0,
        le=5,
        description="how well your CR records repeat at a condyle, one axis (SD, pooled over your own cases)",
        examples=[0.15],
    )
    record_repeat_dof: int | None = Field(
        default=None,
        ge=1,
        le=100000,
        description="degrees of freedom behind that number: records less cases it was pooled over",
        examples=[24],
    )
    visit_repeat_mm: Number | None = Field(
        default=None,
        gt=0,
        le=5,
        description="what another visit adds to that, one axis (SD between visits, pooled)",
        examples=[0.1],
    )
    settings: Settings = Field(default_factory=Settings)
    space: Space = Field(default_factory=Space)
    prescription: Prescription = Field(default_factory=Prescription)
    change: Change = Field(default_factory=Change)
    proof: Proof = Field(default_factory=Proof)
    followups: tuple[FollowUp, ...] = Field(
        default=(), description="what the mouth showed afterwards, visit by visit"
    )
    few_teeth: FewTeeth = Field(default_factory=FewTeeth)
    push: ClosingPush = Field(default_factory=ClosingPush)
    doubt: Steps = Field(default_factory=Steps)
    limits: Limits = Field(default_factory=Limits)

    _folder: Path | None = PrivateAttr(default=None)
    _echoes: tuple[str, ...] = PrivateAttr(default=())
    _scan_digests: dict[str, str] = PrivateAttr(default_factory=dict)

    def __eq__(self, other: object) -> bool:
        """Two cases are equal when everything entered is; where they were read from does not count."""
        return self.__dict__ == other.__dict__ if isinstance(other, Case) else NotImplemented

    __hash__ = None  # type: ignore[assignment]

    @property
    def folder(self) -> Path | None:
        """The folder the case was read from; None for a case made in memory."""
        return self._folder

    @property
    def echoes(self) -> tuple[str, ...]:
        """How entries that can be read two ways were read (a decimal comma, a repeat)."""
        return self._echoes
