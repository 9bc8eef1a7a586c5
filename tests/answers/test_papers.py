"""The papers of a case: blanks keep a prescription back, every final step names its checks, the patient page reads plainly."""

from __future__ import annotations

import datetime as dt
import re
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mountproof.answers.paper import Paper, Stands
from mountproof.answers.paper_before_cutting import before_cutting
from mountproof.answers.paper_checks import STEPS, checks_of
from mountproof.answers.paper_patient import patient_page
from mountproof.answers.paper_prescription import is_ready, prescription
from mountproof.answers.papers import PAPERS
from mountproof.answers.result import Answer, Sheet, Verdict
from mountproof.answers.sheet import answer
from mountproof.case.files import parse_case
from mountproof.case.model import Case, Final, Foil, PlannedStep
from mountproof.faults import FaultError
from mountproof.said import capital, rendered
from surfaces.readability import counts, ease, grade, syllables

BENCH = Path(__file__).parents[1] / "case" / "bench_case.toml"
MORE = """
[settings]
right = { lateral_deg = "10 +- 1" }
left = { lateral_deg = "12 +- 1" }
[prescription]
scheme = "even contact behind"
judged_at_pin = 0
ovd_change_mm = 1.5
ovd_change_at = "incisors"
allowed_deviation_mm = 0.1
do_not_alter = ["the master casts"]
no_new_material = true
[[prescription.contacts]]
teeth = [15, 16]
[[prescription.verified]]
what = "mounting"
who = "QP"
on = 2026-03-03
[[prescription.steps]]
step = "shaping enamel"
teeth = [15, 45]
duplicate_trial = 2026-03-03
reversible_trial = 2026-03-04
reversible_with = "a removable splint"
"""
#: Never on the patient's page, whatever a case says (trade rules; the German words beside them).
FORBIDDEN = re.compile(
    r"\b(treat\w*|grind\w*|TMD|cause of pain|force\w*|loads?|loading|safe\w*|correct\w*|ideal\w*|diagnos\w*"
    r"|promise\w*|cure\w*|heal\w*"
    r"|behandel\w*|schleif\w*|CMD|schmerzursache|kraft|kräfte|last|belast\w*|sicher\w*|richtig\w*|korrekt\w*|ideal\w*|diagnos\w*"
    r"|versprech\w*|heil\w*)\b",
    re.IGNORECASE,
)


@cache
def full() -> tuple[Case, Sheet]:
    case = parse_case(BENCH.read_text() + MORE)
    return case, answer(case)


def texts(paper: Paper) -> list[str]:
    found = [paper.title, paper.headline]
    for block in paper.blocks:
        found += [block.title, block.intro]
        found += [t for line in block.lines for t in (line.words, line.value, line.note)]
    return [t for t in found if t]


def changed(case: Case, **asked: object) -> Case:
    return case.model_copy(update={"prescription": case.prescription.model_copy(update=asked)})


def test_a_filled_prescription_is_ready_and_says_what_was_entered() -> None:
    case, sheet = full()
    paper = prescription(case, sheet)
    assert paper.missing == () and is_ready(paper) and paper.headline == "Ready to send."
    rows = {line.words: (line.value, line.note) for block in paper.blocks for line in block.lines}
    assert rows["reference plane"][0] == "axis-orbital plane"
    assert rows["record opening, as the pin reads it"][0] == "4.24 ± 0.43 marks"
    assert rows["pin reading at which the work is judged"][0] == "0"
    assert rows["right joint: inclination"] == ("36 ± 6°", "measured; ± is 95 %")
    assert rows["left joint: lateral angle"] == ("12 ± 2°", "typed, not measured; ± is 95 %")
    assert rows["change of the vertical dimension"][0] == "1.50 mm more open at the incisors"
    assert rows["do not alter"][0] == "the master casts"


BLANKS = {
    "reference plane": {"plane": None},
    "mounted on": {"mounted_on": None},
    "pin reading at which the work is judged": {"judged_at_pin": None},
    "change of the vertical dimension": {"ovd_change_mm": None},
    "how teeth meet and part": {"scheme": ""},
    "contacts wanted": {"contacts": ()},
    "least thickness of the material": {"no_new_material": False},
    "allowed deviation at the pin": {"allowed_deviation_mm": None},
    "do not alter": {"do_not_alter": ()},
    "who verified what": {"verified": ()},
}


@given(st.sets(st.sampled_from(sorted(BLANKS)), min_size=1))
@settings(max_examples=60, deadline=None)
def test_every_blank_field_keeps_it_back_and_is_listed(blank: set[str]) -> None:
    case, sheet = full()
    for words in blank:
        (name, value), *_ = BLANKS[words].items()
        case = (
            case.model_copy(update={name: value})
            if name in Case.model_fields
            else changed(case, **{name: value})
        )
    paper = prescription(case, sheet)
    assert not is_ready(paper)
    assert sorted(line.words for line in paper.missing) == sorted(blank)
    assert paper.headline == f"Not ready: {len(blank)} fields are blank."


@pytest.mark.parametrize("side", ["right", "left"])
def test_a_setting_that_is_neither_measured_nor_typed_keeps_it_back(side: str) -> None:
    text = BENCH.read_text() + "".join(
        line + "\n" for line in MORE.splitlines() if not line.startswith(f"{side} = ")
    )
    case = parse_case(text)
    paper = prescription(case, answer(case, ["pin", "guidance"]))
    assert [line.words for line in paper.missing] == [f"{side} joint: lateral angle"]


def test_no_answer_to_the_pin_leaves_the_opening_blank() -> None:
    case, sheet = full()
    paper = prescription(case, Sheet(case.code, {"guidance": sheet["guidance"]}))
    assert [line.words for line in paper.missing] == ["record opening, as the pin reads it"]


DAYS = st.none() | st.dates(dt.date(2026, 1, 1), dt.date(2027, 1, 1))
PLANNED = st.builds(
    PlannedStep,
    step=st.sampled_from(Final),
    teeth=st.lists(st.sampled_from([11, 15, 26, 36, 45]), max_size=3, unique=True).map(tuple),
    consent=DAYS,
    duplicate_trial=DAYS,
    reversible_trial=DAYS,
)
FOILS = st.lists(
    st.builds(
        Foil,
        where=st.sampled_from(["mouth", "mounting"]),
        relation=st.just("CR"),
        thickness_um=st.just(8),
        held=st.lists(st.sampled_from([14, 15, 26]), max_size=2, unique=True).map(tuple),
        others_free=st.just(True),
    ),
    max_size=3,
)
VERDICTS = st.none() | st.sampled_from(Verdict)


@st.composite
def cases(draw: st.DrawFn) -> tuple[Case, Sheet]:
    case, whole = full()
    steps = tuple(draw(st.lists(PLANNED, max_size=4)))
    case = changed(case, steps=steps).model_copy(update={"foils": tuple(draw(FOILS))})
    answers = {}
    for key in ("record", "mounting", "contacts"):
        verdict = draw(VERDICTS)
        if verdict is not None:
            answers[key] = Answer(
                key, whole[key].question, whole[key].headline, verdict, quantities=whole[key].quantities
            )
    return case, Sheet(case.code, answers)


@given(cases())
@settings(max_examples=80, deadline=None)
def test_every_step_for_good_names_its_five_checks_and_is_marked_where_one_is_missing(
    made: tuple[Case, Sheet],
) -> None:
    case, sheet = made
    paper, page = before_cutting(case, sheet), patient_page(case, sheet)
    planned = case.prescription.steps
    kinds = [*(s.step for s in planned), *(k for k in Final if all(s.step is not k for s in planned))]
    steps = [*planned, *[None] * (len(kinds) - len(planned))]
    blocks = paper.blocks[1:]
    assert len(blocks) == len(kinds) >= len(Final)
    for block, kind, step in zip(blocks, kinds, steps, strict=True):
        assert block.title.startswith(capital(STEPS[kind][0]))
        names = [line.words for line in block.lines]
        assert names == [
            "verified mounting",
            "agreement with the mouth",
            "trial on duplicate casts",
            "consent",
            "reversible trial",
        ]
        stands = dict(zip(names, (line.stands for line in block.lines), strict=True))
        for name, day in (
            ("consent", step and step.consent),
            ("trial on duplicate casts", step and step.duplicate_trial),
        ):
            assert stands[name] is (Stands.MISSING if day is None else Stands.THERE)
        agrees = "mounting" in sheet.answers and sheet["mounting"].verdict is Verdict.AGREES
        assert stands["verified mounting"] is not Stands.THERE or agrees
        assert all(line.note for line in block.lines)
    told = " ".join(texts(page))
    for kind in kinds:
        assert STEPS[kind][1] in told
    for kind, step in zip(kinds, steps, strict=True):
        block = next(
            b for b in page.blocks if STEPS[kind][1] in " ".join([b.title, *(line.words for line in b.lines)])
        )
        for check in checks_of(case, sheet, step):
            assert (
                check.plain.casefold()
                in " ".join(f"{line.words} {line.note}" for line in block.lines).casefold()
            )


@given(cases())
@settings(max_examples=80, deadline=None)
def test_the_patients_page_reads_plainly_in_both_languages_whatever_the_case(
    made: tuple[Case, Sheet],
) -> None:
    page = patient_page(*made)
    english = counts(texts(page), "en")
    assert ease(english, "en") >= 60 and grade(english) <= 8
    german = counts(texts(rendered(page, "de")), "de")
    assert ease(german, "de") >= 60
    for language in ("en", "de"):
        assert not [t for t in texts(rendered(page, language)) if FORBIDDEN.search(t)]


def test_the_indices_and_the_count_of_syllables_see_what_they_should() -> None:
    for word, n in {
        "tooth": 1,
        "measured": 2,
        "premolar": 3,
        "copies": 2,
        "stone": 1,
        "articulator": 5,
    }.items():
        assert syllables(word, "en") == n, word
    for word, n in {"Zähne": 2, "Kiefer": 2, "Prämolar": 3, "Gips": 1, "Artikulator": 5}.items():
        assert syllables(word, "de") == n, word
    hard = "The interocclusal registration demonstrates considerable uncertainty regarding mandibular displacement."
    assert ease(counts([hard], "en"), "en") < 0 and grade(counts([hard], "en")) > 12


def test_teeth_have_their_full_names_on_the_patients_page() -> None:
    case, sheet = full()
    told = " ".join(texts(patient_page(case, sheet)))
    assert "touch first: upper right second premolar, lower right second premolar." in told
    assert not re.search(r"\b\d{2}\b", re.sub(r"\d+\.\d", "", told))
    assert "zweiter Prämolar oben rechts" in " ".join(texts(rendered(patient_page(case, sheet), "de")))


def test_a_case_without_a_second_record_says_not_verified_in_its_head_line() -> None:
    case, sheet = full()
    assert before_cutting(case, sheet).headline.startswith("Not verified: no second record")
    more = parse_case(
        BENCH.read_text() + '\n[[proof.seatings]]\nrecord = "record 2"\nfound = "seats fully"\n'
    )
    assert "Not verified" not in before_cutting(more, sheet).headline


def test_everything_the_answers_still_ask_for_is_on_the_list_once() -> None:
    case, sheet = full()
    lines = [line.words for line in before_cutting(case, sheet).blocks[0].lines]
    for found in sheet.answers.values():
        for need in found.needs if found.verdict is not Verdict.AGREES else ():
            assert lines.count(capital(need.reading)) == 1
    for gate in sheet.gates:
        assert gate.words in lines


@pytest.mark.parametrize(
    ("entry", "code", "field"),
    [
        ("ovd_change_mm = 1", "case.missing_field", "prescription.ovd_change_at"),
        ("judged_at_pin = 2000", "case.out_of_range", "prescription.judged_at_pin"),
        ('steps = [{ step = "polishing" }]', "case.out_of_range", "prescription.steps.1.step"),
        (
            'steps = [{ step = "crown preparation", teeth = [19] }]',
            "case.tooth_number",
            "prescription.steps.1.teeth.1",
        ),
        (
            'steps = [{ step = "crown preparation", reversible_trial = 2026-03-04, no_reversible_trial = "none" }]',
            "case.contradiction",
            "prescription.steps.1.no_reversible_trial",
        ),
    ],
)
def test_what_cannot_be_asked_of_a_lab_is_refused(entry: str, code: str, field: str) -> None:
    with pytest.raises(FaultError) as caught:
        parse_case(f'code = "x"\n[prescription]\n{entry}\n')
    assert (code, field) in [(f.code, f.field) for f in caught.value.faults]


def test_each_paper_is_made_from_the_questions_it_names() -> None:
    case, sheet = full()
    for made in PAPERS.values():
        asked = (
            sheet
            if made.asks is None
            else Sheet(case.code, {k: sheet[k] for k in made.asks}, gates=sheet.gates)
        )
        assert made.make(case, asked) == made.make(case, sheet)
