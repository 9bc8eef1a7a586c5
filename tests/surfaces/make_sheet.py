"""A made-up case and a made-up sheet for the tests of the surfaces: our own invention, no real patient.

The readings are the invented bench case (an incisal pin set by habit, a record that stands out); the answers are
typed in by hand in its spirit, so that the surfaces can be tested without computing anything.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from mountproof.answers.result import Answer, Assumption, Need, Quantity, Reason, Sheet, Table, Verdict, Why
from mountproof.answers.words import BY_KEY, CAUTION_BY_KEY
from mountproof.case.model import Case
from surfaces.make_views import make_evidence

READINGS = """
pair    A     B     C     D     E     F     G     H     I     J
UR-LR   36.10 38.05/38.00/38.10 38.20 38.05 38.10 38.10 36.55 40.25 41.25 38.30
UCR-LCR 38.05 41.05 41.30 41.10 41.15 41.15 38.85 42.60 43.80 41.40
UA-LA   39.10 42.60 42.95 42.70 42.70 42.70 39.95 43.60 44.10 44.00
UCL-LCL 38.10 41.10 41.40 41.35 41.20 41.20 38.90 42.30 41.45 43.55
UL-LL   36.05 38.10 38.30 38.30 38.15 38.20 36.60 39.85 38.40 40.75
UR-LCR  47.40 48.30 48.30 48.30 48.30 48.30 47.30 53.05 54.30 48.30
UCR-LR  45.60 48.75 48.90 48.85 48.90 48.75 46.75 46.95 47.45 49.25
UL-LCL  47.35 48.50 48.55 48.90 48.45 48.50 47.55 52.60 48.50 53.60
UCL-LL  45.75 48.75 48.85 48.55 48.70 48.70 46.60 46.85 49.25 47.35
UA-LCR  45.95 49.25 49.60 49.50 49.40 49.35 46.95 48.35 46.70 52.00
UA-LCL  45.90 49.00 49.30 48.95 49.15 49.20 46.80 48.60 52.15 46.75
UCR-LA  48.15 50.30 50.25 50.15 50.40 50.30 48.55 53.25 55.95 48.70
UCL-LA  48.05 50.55 50.80 50.85 50.60 50.55 48.75 52.75 48.90 55.45
"""
RESEAT = """
pair  s1    s2    s3    s4    s5
UR-LR 38.00 38.05 38.00 38.15 38.00
UA-LA 42.55 42.65 42.55 42.60 42.70
UL-LL 38.10 38.10 38.15 38.05 38.10
"""
PLACES = {
    "UR": ("upper", 52, -20, 34),
    "UCR": ("upper", 78, -21, 24),
    "UA": ("upper", 92, -22, 0),
    "UCL": ("upper", 78, -21, -24),
    "UL": ("upper", 52, -20, -34),
    "LR": ("lower", 50, -56, 33),
    "LCR": ("lower", 76, -59, 22),
    "LA": ("lower", 90, -61, 0),
    "LCL": ("lower", 76, -59, -22),
    "LL": ("lower", 50, -56, -33),
}
STATES = {
    "A": ("MIP by hand", None),
    "B": ("record in", "1"),
    "C": ("record in", "2"),
    "D": ("record in", "3"),
    "E": ("record in", "4"),
    "F": ("record in, after set", "1"),
    "G": ("record out, first contact", None),
    "H": ("protrusive record in", None),
    "I": ("left lateral record in", None),
    "J": ("right lateral record in", None),
}


def make_case(**changes: object) -> Case:
    """Return the bench case; ``changes`` replace whole parts of it."""
    content: dict[str, object] = {
        "code": "KESTREL-0417",
        "date": dt.date(2025, 3, 12),
        "lab": "Slate Lane Bench 3",
        "by": "MK",
        "note": "Record 3 was taken after the patient swallowed and braced.",
        "dentition": {"missing": [18, 28, 38, 48]},
        "instrument": {
            "name": "no. 2",
            "condyles": "arcon",
            "intercondylar_mm": "110 +- 0.5",
            "play_mm": 0.02,
            "pin": {
                "kind": "straight",
                "ahead_mm": 110,
                "below_mm": "62,0 +- 0,3",
                "mm_per_mark": 1,
                "calibration": [{"block_mm": 2, "reads": 2}, {"block_mm": 6, "reads": 6}],
            },
        },
        "plane": {"name": "axis-orbital"},
        "caliper": {"resolution_mm": 0.05, "sd_mm": 0.045},
        "marks": {
            "places": {
                name: {"arch": arch, "ahead_mm": x, "above_mm": y, "right_mm": z, "u_mm": 0.5}
                for name, (arch, x, y, z) in PLACES.items()
            },
            "states": {name: {"kind": kind, "record": record} for name, (kind, record) in STATES.items()},
            "readings_mm": READINGS,
            "reseat_mm": RESEAT,
            "reseat_record": "1",
        },
        "bench": {
            "sheet": {"water_ml_per_100g": 24, "setting_expansion_percent": 0.08},
            "powder_g": 116,
            "water_ml": 29,
            "mean_gap_mm": 22,
            "powder_met_water": "10:02",
            "hands_off": "10:06",
            "released": "10:47",
        },
        "pin_readings": [
            {"state": "B", "reads": 3.2, "set_by_hand": True},
            {"state": "G", "reads": 0.04},
        ],
        "foils": [
            {
                "where": "mouth",
                "relation": "CR",
                "thickness_um": 8,
                "held": [15, 45],
                "others_free": True,
            },
            {"where": "mounting", "relation": "CR", "thickness_um": 8, "held": [15, 45], "others_free": True},
        ],
        "records": {name: {"kind": "CR", "material": "wax"} for name in "1234"},
        "mounted_on": "1",
    }
    return Case.model_validate({**content, **changes})


def _answer(key: str, headline: str, verdict: Verdict, **more: object) -> Answer:
    return Answer(
        key=key,
        question=BY_KEY[key].words,
        headline=headline,
        verdict=verdict,
        cautions=CAUTION_BY_KEY.get(key, ()),
        digest=f"{key.encode().hex():0<64}"[:64],
        **more,  # type: ignore[arg-type]
    )


def make_answers(*, scans: bool = False) -> dict[str, Answer]:
    """Return the eight answers of the bench case; ``scans`` adds a first contact (without pictures)."""
    q = Quantity.of
    reading_only = Assumption(
        "uncertainty of the hinge-to-pin length", "0.5 mm", "common practice, no source"
    )
    pin = _answer(
        "pin",
        "Open the pin to 4.18 mm for members that stand parallel at MIP, or to 3.25 mm for parallel at the first CR "
        "contact.",
        Verdict.DOUBTFUL,
        reasons=(
            Reason(
                Why.GUARD_BAND,
                "the jaw also moved back and up, which a pure hinge opening does not see; the uncertainty is that of "
                "the readings only",
            ),
        ),
        quantities=(
            q("pin_mip", "Pin, members parallel at MIP", 4.1812, "mm", 0.041),
            q("pin_cr", "Pin, members parallel at CR first contact", 3.2533, "mm", 0.038),
            q("out_mip", "Record out, should then read", -0.93, "mm", 0.06),
            q("out_cr", "Record out at CR contact, should read", 0.0, "mm", 0.075),
            q("opening", "Opening of the record", 2.154, "deg", 0.021),
            q("marks", "Marks on the pin's scale", 4.18, "marks", 0.041, assumed=True),
        ),
        needs=(
            Need(
                "hinge axis to pin, forward, read three times",
                "it carries 60 % of what is left",
                "instrument.pin",
            ),
        ),
        assumptions=(reading_only,),
        sources=("pin", "gum"),
        tables=(
            Table(
                "What one millimetre at a tooth is at the pin",
                ("tooth", "pin mm"),
                (("incisors", "1.20"), ("canine", "1.32"), ("first molar", "1.87")),
            ),
        ),
    )
    stone = _answer(
        "stone",
        "27.8 mL of water for 116 g; 29 mL were used, 4 % more than the product sheet says. One pour; a gap of 22 mm "
        "lifts by 0.018 mm at most.",
        Verdict.DOUBTFUL,
        reasons=(
            Reason(
                Why.BETWEEN,
                "4.2 % more water than the sheet: above the 3 % limit, below 8 %",
                4.2,
                None,
                3.0,
                "%",
            ),
        ),
        quantities=(
            q("water", "Water for 116 g", 27.84, "mL", None, decimals=1),
            q("pours", "Pours", 1, "", None, decimals=0),
            q("lift", "Lift of the stone", 0.0176, "mm", 0.004, decimals=3, assumed=True),
            q("release", "Release, after powder met water", 45, "min", None, decimals=0, assumed=True),
        ),
        needs=(
            Need(
                "area of the base, or volume to fill",
                "then powder follows from the gap",
                "bench.base_area_mm2",
            ),
        ),
        assumptions=(
            Assumption("density of the powder", "2.75 g/mL", "hemihydrate, textbook value"),
            Assumption("release time", "45 min", "common practice, no source"),
        ),
        sources=("stone",),
    )
    record = _answer(
        "record",
        "Records 1, 2 and 4 agree; record 3 stands out at the left condyle. Mount on record 1, keep 4 for the check.",
        Verdict.DISAGREES,
        reasons=(
            Reason(
                Why.OUTSIDE, "record 3 stands 0.36 mm below the others on the left", 0.36, 0.12, 0.4, "mm"
            ),
        ),
        quantities=(
            q("apart", "Record 3 against the others, left", 0.36, "mm", 0.12),
            q("reseat", "Putting record 1 back, SD", 0.048, "mm", 0.012, decimals=3),
            q("wedge_front", "Record thickness at the incisors", 3.5, "mm", 0.06),
        ),
        needs=(Need("one more CR record", "it decides whether record 3 is a blunder", "records"),),
    )
    mounting = _answer(
        "mounting",
        "The mounting came out as record 1 says: the pin reads 0.04 mm where 0.00 was predicted.",
        Verdict.AGREES,
        quantities=(
            q("found", "Pin found minus predicted", 0.04, "mm", 0.075),
            q("moved", "Moved while setting", 0.09, "mm", 0.03),
            q("slide", "Slide from CR contact to MIP, at the incisors", 1.28, "mm", 0.06),
        ),
        notes=("A pin near zero says nothing about MIP.",),
        needs=(Need("foil of 8 µm on the mounting, MIP", "it would test the other relation", "foils"),),
        assumptions=(reading_only,),
    )
    contacts = _answer(
        "contacts",
        "No scans: where the teeth first meet cannot be told from marks. The foil held at 15/45 only.",
        Verdict.CANNOT_TELL,
        reasons=(Reason(Why.MISSING, "there are no scans of the two arches"),),
        needs=(Need("a surface scan of each cast", "contact needs the surfaces", "scans"),),
    )
    if scans:
        contacts = replace(
            contacts,
            headline="The teeth first meet at 15/45, on the mesial incline; 14/44 follows 0.22 mm later at the pin.",
            verdict=Verdict.AGREES,
            reasons=(Reason(Why.INSIDE, "the foil in the mouth held on the same teeth"),),
            evidence=make_evidence(),
            tables=(
                Table(
                    "First contact and what follows",
                    ("no.", "upper/lower", "gap left, mm", "u"),
                    (
                        ("1", "15/45", "0.000", "–"),
                        ("2", "14/44", "0.216", "0.05"),
                        ("3", "16/46", "0.221", "0.05"),
                        ("4", "25/35", "0.274", "0.06"),
                    ),
                ),
            ),
            quantities=(
                q("angle", "Closing to first contact", 1.52, "deg", 0.02),
                q("next", "Gap left at 14/44", 0.22, "mm", 0.05),
            ),
        )
    left = [
        _answer(
            key,
            f"Not answered by this version. {text}",
            Verdict.CANNOT_TELL,
            reasons=(Reason(Why.NOT_BUILT, "this question is not answered by this version"),),
            needs=(Need(need, "the answer starts from it", "records"),),
        )
        for key, text, need in (
            (
                "guidance",
                "It takes one protrusive record and two lateral records a side.",
                "a protrusive record at 5 to 6 mm",
            ),
            ("change", "It takes scans and the pose in CR and in MIP.", "a scan of both arches in MIP"),
            ("doubt", "It takes the steps of the mounting one by one.", "three more records"),
        )
    ]
    return {a.key: a for a in (pin, stone, record, mounting, contacts, *left)}


def make_sheet(*, scans: bool = False) -> Sheet:
    """Return the sheet of the bench case."""
    return Sheet(
        code="KESTREL-0417",
        answers=make_answers(scans=scans),
        questions=("UR-LCR in state B reads 48.30, the other pairs ask for 48.41: read it again",),
        echoes=("instrument.pin.below_mm: 62,0 was read as 62.0",),
    )
