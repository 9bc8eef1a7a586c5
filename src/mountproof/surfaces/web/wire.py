"""What travels between the server and the page: read off here, the page's types are made from it.

Numbers that a person reads come with their text (``shown``), written by the server in the language asked for: the page
computes and formats nothing. Names of entries (``field``) are those of the case file, as faults write them.
"""

from __future__ import annotations

import datetime as dt
from enum import StrEnum
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, JsonValue


class Wire(BaseModel):
    """One shape on the wire; nothing beside what is named here is taken."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class FaultOut(Wire):
    """One thing that is wrong, where, and what to do about it."""

    code: str
    what: str
    todo: str
    where: str = ""
    line: int | None = None
    field: str = ""
    got: str = ""
    allowed: str = ""


class Faults(Wire):
    """Every fault found in what was sent. Sent with every status from 400 on."""

    faults: list[FaultOut]


class ConflictOut(Wire):
    """One entry that somebody else changed meanwhile: both values, and who."""

    field: str
    base: str | None
    mine: str | None
    theirs: str | None
    who: str
    at: dt.datetime
    revision: int


class Conflicts(Wire):
    """Sent with status 409: nothing was changed."""

    faults: list[FaultOut]
    conflicts: list[ConflictOut]
    revision: int = Field(description="the newest revision")


# ---- the sheet


class QuantityOut(Wire):
    """A number of an answer: as data, and as it is read."""

    key: str
    label: str
    value: float | None
    unit: str
    u: float | None
    low: float | None
    high: float | None
    assumed: bool
    note: str
    shown: str = Field(description="value and unit as read")
    interval: str = Field(description="95 % interval as read; empty where there is none")
    u_shown: str = Field(description="standard uncertainty as read; empty where there is none")


class ReasonOut(Wire):
    """Why a verdict came out as it did."""

    why: str
    text: str


class NeedOut(Wire):
    """The next measurement that would settle an answer. ``field`` is where to enter it."""

    question: str
    reading: str
    why: str
    field: str


class AssumptionOut(Wire):
    """A value nobody measured."""

    what: str
    value: str
    source: str
    field: str


class TableOut(Wire):
    """A small table; cells as read."""

    title: str
    columns: list[str]
    rows: list[list[str]]
    note: str


class AcceptedOut(Wire):
    """What a person accepted, and whether it read something else than the case holds now."""

    who: str
    at: dt.datetime
    revision: int
    out_of_date: bool


class AnswerState(StrEnum):
    """Whether an answer is there. ``working``: it is being made, an event tells when it is there."""

    READY = "ready"
    WORKING = "working"
    NOT_BUILT = "not built"


class AnswerOut(Wire):
    """One question and its answer."""

    key: str
    number: int
    question: str
    state: AnswerState
    headline: str
    verdict: str = Field(description="agrees, doubtful, does not agree or cannot tell")
    verdict_word: str = Field(description="the verdict in the language asked for")
    mark: str = Field(description="the sign beside the verdict word, so that colour never carries it alone")
    interval: str = Field(
        description="the 95 % interval of the number in the headline, with its name; may be empty"
    )
    reasons: list[ReasonOut]
    quantities: list[QuantityOut]
    needs: list[NeedOut]
    assumptions: list[AssumptionOut]
    tables: list[TableOut]
    notes: list[str]
    cautions: list[str]
    sources: list[str]
    digest: str
    accepted: AcceptedOut | None


class GateOut(Wire):
    """A step of the procedure that is not met, or a gate passed over."""

    key: str
    words: str
    why: str


class SheetOut(Wire):
    """The eight answers of one revision of a case."""

    case_id: int
    revision: int
    code: str
    answers: list[AnswerOut]
    next: list[NeedOut] = Field(description="what to measure next, the most useful first")
    questions: list[str] = Field(description="readings that want a second look")
    echoes: list[str] = Field(description="how entries that can be read two ways were read")
    faults: list[FaultOut]
    cautions: list[str]
    gates: list[GateOut]
    work: str | None = Field(
        description="name of the work that is going on for this sheet, to follow or to cancel"
    )


# ---- cases


class CaseState(StrEnum):
    """Where a case stands (as in the store)."""

    OPEN = "open"
    WAITING = "waiting"
    DONE = "done"
    PUT_AWAY = "put away"


class ListedOut(Wire):
    """One line of the list of cases."""

    id: int
    code: str
    lab: str
    note: str
    state: str
    revision: int
    who: str
    begun: dt.datetime
    changed: dt.datetime
    age: str = Field(description="how long ago it was changed, as read")


class PageOut(Wire):
    """A page of the list; ``next`` asks for the one behind it."""

    cases: list[ListedOut]
    next: str | None


class FileOut(Wire):
    """A file beside the case."""

    name: str
    sha256: str
    bytes: int


class CellOut(Wire):
    """One cell of the table of marks: its repeats as typed, and what is asked about it, if anything."""

    shown: str
    repeats: list[float]
    asked: str = Field(description="a question about this reading; empty where there is none")
    suggestion: str = Field(
        default="", description="a reading that would fit the others, as text to type; or empty"
    )


class MarkRowOut(Wire):
    """One pair of marks."""

    pair: str
    cells: list[CellOut]


class MarkStateOut(Wire):
    """One state of the casts: a column."""

    name: str
    kind: str
    kind_words: str
    record: str | None
    note: str


class MarkGridOut(Wire):
    """The table of marks by states."""

    table: Literal["readings_mm", "reseat_mm"]
    states: list[MarkStateOut]
    rows: list[MarkRowOut]


class CaseOut(Wire):
    """One revision of a case: what was entered, as entered."""

    id: int
    revision: int
    code: str
    state: str
    who: str
    at: dt.datetime
    numbering: str = Field(description="iso3950 or universal")
    entered: dict[str, JsonValue] = Field(description="the case file as data: numbers and texts as typed")
    marks: list[MarkGridOut]
    files: list[FileOut]
    scans: list[ScanOut]


class FieldOut(Wire):
    """What is known of one kind of entry, for the form that asks for it."""

    path: str = Field(description="name of the entry; * stands for any name or number of an item")
    label: str = Field(description="a short name for the form, in the language asked for")
    what: str = Field(description="what it is for, one sentence")
    unit: str
    kind: Literal[
        "number",
        "measured",
        "text",
        "choice",
        "flag",
        "date",
        "time",
        "moment",
        "tooth",
        "teeth",
        "point",
        "list",
        "table",
        "group",
    ]
    choices: list[ChoiceOut] = []
    low: float | None = None
    high: float | None = None
    example: str = ""
    needed: bool = False
    assumed: str = Field(
        default="", description="what is assumed where nothing is entered; empty where nothing is"
    )


class ChoiceOut(Wire):
    """One value that an entry can have, and its words."""

    value: str
    words: str


class EditIn(Wire):
    """One entry to change. ``value`` as typed (text is read as in the case file), null takes the entry out.

    A cell of a table of marks: ``marks.readings_mm.PAIR.STATE``; rows and columns that are not there are added.
    An item at the end of a list: ``foils.+``.
    """

    field: str = Field(max_length=300)
    value: JsonValue


class EditsIn(Wire):
    """Entries to change together, seen in revision ``based_on``."""

    based_on: int
    edits: list[EditIn] = Field(min_length=1, max_length=500)
    what: str = Field(default="", max_length=200)


class SavedOut(Wire):
    """What came of a change: the case and its sheet as they are now."""

    case: CaseOut
    sheet: SheetOut


class RevisionOut(Wire):
    """One revision in the history of a case."""

    number: int
    who: str
    at: dt.datetime
    what: str
    changes: list[ChangeOut]


class ChangeOut(Wire):
    """One entry that a revision changed."""

    field: str
    old: str | None
    new: str | None


class NewCaseIn(Wire):
    """A new case. ``demo``: the invented demo case with its casts."""

    code: str = Field(default="", max_length=100)
    demo: bool = False


# ---- scans


class FindingOut(Wire):
    """Something a check of a scan found."""

    code: str
    words: str
    weight: Literal["note", "ask", "stop"]
    todo: str


class ResidualOut(Wire):
    """How far one landmark stays off after placement."""

    name: str
    shown: str
    value_mm: float | None
    asked: str


class ScanOut(Wire):
    """One scan of a case: its file, how it was placed, what the checks found."""

    arch: Literal["upper", "lower"]
    file: str
    triangles: int | None
    placed: str = Field(description="how it was placed, in words; empty while it is not")
    findings: list[FindingOut]
    residuals: list[ResidualOut]


# ---- work and events


class WorkOut(Wire):
    """Long work: how far it is, in words; cancel it by DELETE."""

    name: str
    case_id: int | None
    what: str
    done: float
    state: Literal["going on", "done", "cancelled", "failed"]
    faults: list[FaultOut]


class EventOut(Wire):
    """One server-sent event: ``kind`` tells which of the others is there."""

    kind: Literal["work", "revision", "answer", "pours", "profiles"]
    case_id: int | None = None
    revision: int | None = None
    who: str = ""
    question: str = ""
    work: WorkOut | None = None


# ---- the scene


class LineOut(Wire):
    """A line of the scene with its words, points (n, 3) in mm."""

    key: str
    words: str
    points_mm: list[tuple[float, float, float]]


class BandOut(Wire):
    """One band of gap: its limits, its colours, its pattern, its words."""

    upto_mm: float
    colour: str
    ink: str
    pattern: str
    words: str


class SiteOut(Wire):
    """One place where the arches meet or come close, at one closure."""

    key: str
    upper_tooth: str
    lower_tooth: str
    words: str = Field(description="everything about it in one sentence, for those who read the list instead")
    along: str = Field(description="gap along closure as read")
    normal: str = Field(description="gap along the normal as read")
    point_mm: tuple[float, float, float]
    point_shown: str
    holds: str = Field(description="thinnest foil that it holds, as read; or empty")


class StopOut(Wire):
    """One stop of the closing slider: how far closed from the record's pose, in words, with its sites."""

    closed_rad: float
    shown: str
    pin: str
    sites: list[SiteOut]


class ArchMeshOut(Wire):
    """Where the binary of one arch is, and what lies in it."""

    arch: Literal["upper", "lower"]
    url: str
    vertices: int
    faces: int
    layout: str = Field(
        description="little-endian: positions float32 (n,3), normals int8 (n,4), gap angle float32 (n) with NaN where"
        " nothing opposes, radius float32 (n), faces uint32 (m,3), tooth uint8 (n)"
    )


class SceneOut(Wire):
    """Everything the picture in space is made of; lengths mm in the frame of the upper jaw."""

    revision: int
    arches: list[ArchMeshOut]
    lines: list[LineOut] = Field(description="hinge axis, pin, table, reference plane, occlusal plane")
    bands: list[BandOut]
    palette: str
    start_rad: float
    end_rad: float
    first_contact_rad: float | None
    stops: list[StopOut]
    right_words: str
    left_words: str


class AtIn(Wire):
    """A place that was tapped: face of an arch, at a closure."""

    arch: Literal["upper", "lower"]
    face: int = Field(ge=0)
    weights: tuple[float, float, float]
    closed_rad: float


class AtOut(Wire):
    """What is at a tapped place."""

    words: str
    tooth: str
    opposite: str
    along: str
    normal: str
    point_mm: tuple[float, float, float]
    point_shown: str


# ---- procedure, pours, profiles


class StepOut(Wire):
    """One step of the procedure. ``key`` is its place in the case file's ``procedure``."""

    key: str
    stage: str
    stage_words: str
    words: str
    why: str
    gate: bool
    own: bool = Field(description="true for a step that belongs to the instrument or to the case")
    met: bool | None
    at: dt.datetime | None
    at_shown: str
    by: str
    note: str
    asked: str = Field(
        description="why the gate stays shut, with the answer that says so; empty where it does not"
    )


class PourOut(Wire):
    """One pour of one cast: absolute moments only. ``next`` is what comes next and when."""

    case_id: int
    code: str
    key: str
    cast: Literal["upper", "lower"]
    words: str
    begun: dt.datetime
    marks: list[PourMarkOut]
    ended: dt.datetime | None


class PourMarkOut(Wire):
    """One moment of a pour: when, what to do, and by whose word."""

    key: str
    words: str
    at: dt.datetime
    at_shown: str
    source: str
    assumed: bool


class PoursOut(Wire):
    """All pours that go on, over all cases, in the order of what comes next. ``now`` is the server's clock."""

    now: dt.datetime
    pours: list[PourOut]


class ProfileOut(Wire):
    """An instrument with its calibration and its own steps, kept beside the cases."""

    name: str
    entered: dict[str, JsonValue]
    revision: int
    who: str
    at: dt.datetime


class ProfileIn(Wire):
    """What to keep under a name; ``entered`` as under [instrument] in the case file."""

    entered: dict[str, JsonValue]
    based_on: int = 0


# ---- access


class DeviceOut(Wire):
    """A paired tablet."""

    id: str
    name: str
    paired: dt.datetime
    last_seen: dt.datetime | None
    here: bool


class AboutOut(Wire):
    """What runs here."""

    version: str
    languages: list[str]
    who: str
    lan: bool
    store: str = Field(description="where the data folder is; shown only on this computer itself")


class PairingOut(Wire):
    """A code for one tablet, for a short time, with its picture."""

    code: str
    address: str
    until: dt.datetime
    qr_svg: str
