"""Random cases that fit together, for round trips; nothing here is taken from a real case."""

from __future__ import annotations

import datetime as dt
from typing import Any

from hypothesis import strategies as st

from mountproof.case.model import (
    Arch,
    AverageAnatomy,
    BasePlace,
    Bench,
    CalibrationPoint,
    Caliper,
    Case,
    Closure,
    Condyles,
    Counting,
    Dentition,
    Foil,
    HingeDistance,
    Instrument,
    LandmarkPair,
    Limits,
    LutePlace,
    MarkPlace,
    Marks,
    MaterialSheet,
    Measured,
    Numbering,
    OwnStep,
    Pin,
    PinKind,
    PinReading,
    Placement,
    PlaneName,
    Pour,
    Procedure,
    Readings,
    Record,
    RecordKind,
    ReferencePlane,
    Relation,
    ScanEntry,
    ScanUnit,
    Stage,
    State,
    StateKind,
    StepEntry,
    ThirdPoint,
    ToothPlace,
    Where,
)
from mountproof.case.procedure import USUAL
from mountproof.teeth import LOWER_TEETH, UPPER_TEETH

#: Text as people type it, with what a file must carry: quotation marks, backslashes, umlauts, line ends.
TEXT = st.text(alphabet="ab 1.,#=[]{}'\"\\\n\t/-_äß±µ漢", max_size=12).map(str.strip)
NAME = st.text(alphabet="ab 1.,#=\"'\\/-_äß", min_size=1, max_size=8).map(str.strip).filter(bool)
WORD = st.text(alphabet="ABCab12_.äß", min_size=1, max_size=4).filter(lambda t: t not in {".", "pair"})


def number(low: float, high: float) -> st.SearchStrategy[float]:
    """Short decimals, as read from a scale, and full floats."""
    short = st.integers(round(low * 100) + 1, round(high * 100) - 1).map(lambda i: i / 100)
    return short | st.floats(low, high, exclude_min=True, exclude_max=True, allow_subnormal=False)


def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | strategy


def measured(low: float, high: float) -> st.SearchStrategy[Any]:
    return st.builds(Measured, value=number(low, high), u=maybe(number(0.01, 5)))


def point() -> st.SearchStrategy[Any]:
    return st.tuples(*[number(-500, 500)] * 3)


def matrix() -> st.SearchStrategy[Any]:
    row = st.tuples(*[number(-100, 100)] * 4)
    return st.tuples(row, row, row, st.just((0.0, 0.0, 0.0, 1.0)))


CLOCK = st.times(max_value=dt.time(11, 59)).map(
    lambda t: t.replace(microsecond=0, second=t.second * (t.second % 2))
)

MOMENT = st.builds(
    lambda naive, offset: naive.replace(microsecond=0, tzinfo=dt.timezone(dt.timedelta(minutes=offset))),
    st.datetimes(dt.datetime(1971, 1, 1), dt.datetime(2998, 1, 1)),
    st.integers(-12 * 60, 14 * 60),
)
STEP = st.sampled_from(list(USUAL)) | NAME
PROCEDURE = st.builds(
    Procedure,
    order=st.lists(STEP, max_size=4, unique=True).map(tuple),
    steps=st.dictionaries(
        STEP,
        st.builds(
            StepEntry,
            met=maybe(st.booleans()),
            at=maybe(MOMENT),
            by=TEXT,
            note=TEXT,
            words=TEXT,
            stage=maybe(st.sampled_from(Stage)),
            gate=maybe(st.booleans()),
            left_out=st.booleans(),
        ),
        max_size=4,
    ),
)
POUR = st.builds(
    Pour,
    cast=st.sampled_from(Arch),
    number=st.integers(1, 9),
    powder_met_water=MOMENT,
    hands_off=maybe(MOMENT),
    released=maybe(MOMENT),
    by=TEXT,
    work_min=maybe(number(1, 60)),
)
OWN_STEPS = st.dictionaries(
    STEP,
    st.builds(
        OwnStep, words=TEXT, stage=maybe(st.sampled_from(Stage)), after=maybe(st.sampled_from(list(USUAL)))
    ),
    max_size=3,
)

PIN = st.builds(
    Pin,
    kind=st.sampled_from(PinKind),
    ahead_mm=measured(20, 250),
    below_mm=measured(-50, 200),
    mm_per_mark=maybe(number(0.1, 10)),
    counts=st.just(Counting.UP_ON_OPENING),
    zero_reads=maybe(number(-10, 10)),
    table_slope_deg=maybe(number(-60, 60)),
    calibration=st.lists(number(0, 30), max_size=3).map(
        lambda blocks: tuple(CalibrationPoint(block_mm=b, reads=2 * b) for b in blocks)
    ),
)
INSTRUMENT = st.builds(
    Instrument,
    name=NAME,
    condyles=maybe(st.sampled_from(Condyles)),
    intercondylar_mm=maybe(measured(50, 200)),
    play_mm=maybe(number(0, 2)),
    pin=PIN,
    steps=OWN_STEPS,
)
CALIPER = st.builds(
    Caliper, resolution_mm=maybe(number(0.01, 0.05)), sd_mm=maybe(number(0.02, 1))
) | st.builds(lambda b: Caliper(block_mm=b, block_reads_mm=b + 0.05), number(1, 99))
BENCH = st.builds(
    Bench,
    sheet=st.builds(MaterialSheet, water_ml_per_100g=maybe(number(5, 200)), mix_s=maybe(number(1, 600))),
    powder_g=maybe(number(1, 5000)),
    base_area_mm2=maybe(measured(100, 20000)),
    gaps=st.lists(
        st.builds(BasePlace, ahead_mm=number(0, 100), right_mm=number(-50, 50), gap_mm=number(0, 120)),
        max_size=3,
    ).map(tuple),
    luted_at=st.lists(
        st.builds(LutePlace, ahead_mm=number(0, 100), right_mm=number(-50, 50)), max_size=3
    ).map(tuple),
    powder_met_water=maybe(CLOCK),
    released=st.none(),
    room_c=maybe(number(-10, 60)),
)
LIMITS = st.builds(
    lambda decent, more: Limits.model_validate({"axis_cost": {"decent": decent, "redo": decent + more}}),
    number(0, 1),
    number(0, 1),
) | st.just(Limits())


@st.composite
def foils(draw: st.DrawFn, teeth: list[int]) -> Foil:
    chosen = draw(st.lists(st.sampled_from(teeth), unique=True, max_size=8))
    cut = sorted(draw(st.tuples(*[st.integers(0, len(chosen))] * 2)))
    return Foil(
        where=draw(st.sampled_from(Where)),
        relation=draw(st.sampled_from(Relation)),
        thickness_um=draw(number(1, 1000)),
        closure=draw(st.sampled_from(Closure)),
        held=tuple(chosen[: cut[0]]),
        drags=tuple(chosen[cut[0] : cut[1]]),
        free=tuple(chosen[cut[1] :]),
        others_free=draw(st.booleans()),
    )


def mark_place(arch: Arch) -> st.SearchStrategy[MarkPlace]:
    return st.builds(
        MarkPlace,
        arch=st.just(arch),
        ahead_mm=maybe(number(-250, 250)),
        above_mm=maybe(number(-250, 250)),
        from_hinge_mm=maybe(number(1, 250)),
        u_mm=maybe(number(0.01, 20)),
    )


def readings(pairs: list[str], states: list[str]) -> st.SearchStrategy[Readings]:
    cell = st.lists(number(0.01, 250), max_size=3).map(tuple)
    row = st.tuples(*[cell] * len(states))
    return st.lists(row, min_size=len(pairs), max_size=len(pairs)).map(
        lambda rows: Readings(states=tuple(states), rows=dict(zip(pairs, rows, strict=True)))
    )


@st.composite
def marks(draw: st.DrawFn, records: list[str]) -> Marks:
    names = draw(st.lists(WORD, unique=True, min_size=2, max_size=6))
    half = len(names) // 2
    upper, lower = names[:half], names[half:]
    states = draw(st.lists(WORD, unique=True, min_size=1, max_size=5))
    pairs = draw(
        st.lists(st.tuples(st.sampled_from(upper), st.sampled_from(lower)), unique=True, max_size=5).map(
            lambda chosen: [f"{u}-{low}" for u, low in chosen]
        )
    )
    record = st.none() | st.sampled_from(records) if records else st.none()
    places = {name: draw(mark_place(Arch.UPPER)) for name in upper}
    places |= {name: draw(mark_place(Arch.LOWER)) for name in lower}
    return Marks(
        places=places,
        states={
            n: draw(st.builds(State, kind=st.sampled_from(StateKind), record=record, note=TEXT))
            for n in states
        },
        readings_mm=draw(readings(pairs, states)),
        reseat_mm=draw(maybe(readings(pairs[:2], ["1", "2", "3"]))),
        reseat_record=draw(record),
    )


@st.composite
def scans(draw: st.DrawFn) -> tuple[ScanEntry, ...]:
    found = []
    for arch, file in ((Arch.UPPER, "u.stl"), (Arch.LOWER, "sub/l.stl")):
        where = st.tuples(number(-200, 200), number(-200, 200), number(-200, 200))
        x, y, z = draw(where)
        name = draw(NAME)
        way = draw(st.integers(0, 4 if found else 3))
        landmark = LandmarkPair(name=name, scan=(x, y, z), ahead_mm=x, above_mm=y, right_mm=z)
        distance = HingeDistance(name=name, scan=(x, y, z), from_right_hinge_mm=60, from_third_point_mm=70.5)
        placement = [
            {"frame_from_scan": draw(matrix())},
            {"landmarks": (landmark,) * 3},
            {
                "hinge_distances": (distance,) * 3,
                "third_point": ThirdPoint(ahead_mm=1, above_mm=2, right_mm=3),
            },
            {"average": AverageAnatomy(incisors=(x, y, z), right_molar=(y, z, x), left_molar=(z, x, y))},
            {"with_other_arch": True},
        ][way]
        found.append(
            ScanEntry(
                arch=arch,
                file=file,
                unit=draw(st.sampled_from(ScanUnit)),
                placement=Placement(**placement),
                taken=draw(maybe(st.dates())),
                sides_compared=draw(st.booleans()),
            )
        )
    return tuple(found[: draw(st.integers(0, 2))])


@st.composite
def cases(draw: st.DrawFn) -> Case:
    numbering = draw(st.sampled_from(Numbering))
    teeth = [*UPPER_TEETH, *LOWER_TEETH] if numbering is Numbering.ISO_3950 else list(range(1, 33))
    missing = draw(st.lists(st.sampled_from(teeth), unique=True, max_size=4))
    present = [tooth for tooth in teeth if tooth not in missing]
    records = draw(
        st.dictionaries(
            NAME,
            st.builds(
                Record,
                kind=st.sampled_from(RecordKind),
                material=TEXT,
                upper_from_lower=maybe(matrix()),
                note=TEXT,
            ),
            max_size=3,
        )
    )
    table = draw(maybe(marks(list(records))))
    states = list(table.states) if table else []
    return Case(
        code=draw(NAME),
        date=draw(maybe(st.dates())),
        lab=draw(TEXT),
        note=draw(TEXT),
        dentition=Dentition(
            numbering=numbering,
            missing=tuple(missing),
            implants=tuple(draw(st.lists(st.sampled_from(present), unique=True, max_size=2))),
        ),
        instrument=draw(maybe(INSTRUMENT)),
        plane=draw(
            maybe(
                st.builds(ReferencePlane, name=st.sampled_from(PlaneName), tilt_deg=maybe(measured(-60, 60)))
            )
        ),
        caliper=draw(CALIPER),
        marks=table,
        teeth_at=draw(
            st.dictionaries(
                NAME, st.builds(ToothPlace, ahead_mm=number(0, 200), above_mm=number(-150, 50)), max_size=2
            )
        ),
        bench=draw(maybe(BENCH)),
        procedure=draw(PROCEDURE),
        pours=draw(st.dictionaries(NAME, POUR, max_size=2)),
        pin_readings=tuple(
            PinReading(state=state, reads=draw(number(-10, 10)), set_by_hand=draw(st.booleans()))
            for state in draw(st.lists(st.sampled_from(states), max_size=3) if states else st.just([]))
        ),
        foils=tuple(draw(st.lists(foils(present), max_size=3))),
        scans=draw(scans()),
        records=records,
        mounted_on=draw(st.none() | st.sampled_from(list(records))) if records else None,
        limits=draw(LIMITS),
    )
