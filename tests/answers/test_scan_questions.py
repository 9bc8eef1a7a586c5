"""Which questions look long at scans depends on which scans a case has."""

from __future__ import annotations

from mountproof.answers.known import scan_questions
from mountproof.answers.words import BY_KEY
from mountproof.case.files import parse_case

CASTS = '[[scans]]\narch = "upper"\nfile = "u.stl"\nunit = "mm"\n'
OTHER = '[[casts.other_scans]]\narch = "upper"\nfile = "a.stl"\nunit = "mm"\nshows = "another cast"\n'
RECORD = '[records.r]\nkind = "CR"\nscan = { file = "r.stl", unit = "mm", shows = "the record" }\n'
LATER = {"contacts", "guidance", "change", "doubt"}


def of(text: str) -> set[str]:
    return set(scan_questions(parse_case('code = "x"\n' + text)))


def test_a_bench_case_is_answered_at_once() -> None:
    assert of("") == set()


def test_scans_of_the_casts_alone_leave_record_and_mounting_at_once() -> None:
    assert of(CASTS) == LATER


def test_a_scanned_record_or_a_further_scan_lets_record_and_mounting_wait() -> None:
    both = {"record", "mounting"}
    assert of(RECORD) == of(OTHER) == both
    assert of(CASTS + RECORD) == of(CASTS + OTHER) == LATER | both


def test_record_and_mounting_read_what_they_are_about() -> None:
    record, mounting = set(BY_KEY["record"].reads), set(BY_KEY["mounting"].reads)
    repeats = {"record_repeat_mm", "record_repeat_dof", "visit_repeat_mm"}
    assert record >= {"scans", "dentition", "facebow", "few_teeth", *repeats} and "casts" not in record
    assert mounting >= {"casts", "facebow", "proof", "few_teeth", "scans", *repeats}
