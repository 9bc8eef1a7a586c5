"""A scanned relation means one thing only once its coordinates are told."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mountproof.answers.contacts import answer
from mountproof.answers.ledger import Ledger
from mountproof.answers.placement import Placed
from mountproof.answers.progress import quiet
from mountproof.answers.relation import Relation, hold_together, pose_in_frame, told
from mountproof.answers.result import Verdict
from mountproof.case.model import Case, RelationIn
from mountproof.geometry.poses import exp6, transform

_twist = st.tuples(
    st.lists(st.floats(-0.5, 0.5), min_size=3, max_size=3),
    st.lists(st.floats(-60, 60), min_size=3, max_size=3),
).map(lambda parts: exp6(np.array([*parts[0], *parts[1]])))
_LANDMARKS = {
    "landmarks": [
        {"name": str(k), "scan": at, "ahead_mm": at[0], "above_mm": at[1], "right_mm": at[2]}
        for k, at in enumerate(([92, -42, 0], [50, -35, 28], [50, -35, -28]))
    ]
}
_MATRIX = {"frame_from_scan": np.eye(4).tolist()}
_OTHER = {"with_other_arch": True}
_TURNED = exp6(np.array([0.02, 0.01, -0.03, 1.0, -2.0, 0.5]))


def _placed(frame_from_scan: np.ndarray) -> Placed:
    return Placed(frame_from_scan, None, "for the test", False)


def _case(upper: dict[str, Any], lower: dict[str, Any], matrix: np.ndarray, **record: Any) -> Case:
    scans = [
        {"arch": arch, "file": f"{arch}.stl", "unit": "mm", "placement": way}
        for arch, way in (("upper", upper), ("lower", lower))
    ]
    one = {"kind": "CR", "upper_from_lower": matrix.tolist(), **record}
    return Case(code="T", scans=scans, records={"one": one})


@given(upper=_twist, lower=_twist, relation=_twist)
def test_in_scan_coordinates_a_point_goes_where_the_scanner_put_it(
    upper: np.ndarray, lower: np.ndarray, relation: np.ndarray
) -> None:
    points = np.array([[0.0, 0.0, 0.0], [30.0, 4.0, -2.0], [-25.0, 3.0, 8.0]])
    pose = pose_in_frame(Relation(relation, True), _placed(upper), _placed(lower))
    seen = transform(pose, transform(lower, points))
    assert np.allclose(seen, transform(upper, transform(relation, points)), atol=1e-9)


@given(upper=_twist, lower=_twist, relation=_twist)
def test_in_the_frame_the_matrix_is_the_pose(
    upper: np.ndarray, lower: np.ndarray, relation: np.ndarray
) -> None:
    pose = pose_in_frame(Relation(relation, False), _placed(upper), _placed(lower))
    assert pose.tobytes() == relation.tobytes()


def test_a_doubt_in_the_placement_moves_both_casts_where_the_scanner_holds_them_together() -> None:
    one, other = _placed(np.eye(4)), _placed(_TURNED)
    assert hold_together(Relation(_TURNED, True), one, other)
    assert not hold_together(Relation(_TURNED, False), one, other)
    assert hold_together(Relation(_TURNED, False), one, one._replace(how="with the other"))


@pytest.mark.parametrize("written_in", list(RelationIn))
@pytest.mark.parametrize("ways", [(_LANDMARKS, _OTHER), (_MATRIX, _MATRIX)])
def test_what_is_told_is_taken(written_in: RelationIn, ways: tuple[dict[str, Any], dict[str, Any]]) -> None:
    ledger = Ledger("contacts")
    found = told(_case(*ways, _TURNED), ledger, _TURNED, written_in, "here")
    assert found is not None and found.in_scans is (written_in is RelationIn.SCANS)
    assert not ledger.assumptions and not ledger.needs


def test_beside_landmarks_it_is_asked_and_nothing_is_closed() -> None:
    found = answer(_case(_LANDMARKS, _OTHER, _TURNED), quiet)
    assert found.verdict is Verdict.CANNOT_TELL
    assert found.needs[0].field == "records.one.relation_in"
    assert "frame" in found.needs[0].reading and "scans' own coordinates" in found.needs[0].reading


def test_beside_matrices_the_frame_is_assumed_and_shown_so() -> None:
    ledger = Ledger("contacts")
    found = told(_case(_MATRIX, _OTHER, _TURNED), ledger, _TURNED, None, "records.one.relation_in")
    assert found == Relation(found.matrix, False) if found else False
    assert [a.field for a in ledger.assumptions] == ["records.one.relation_in"]


def test_scans_that_lie_as_the_record_holds_them_need_no_question() -> None:
    ledger = Ledger("contacts")
    found = told(_case(_LANDMARKS, _OTHER, np.eye(4)), ledger, np.eye(4), None, "here")
    assert found is not None and not found.in_scans and not ledger.needs
    ledger = Ledger("contacts")
    assert told(_case(_LANDMARKS, _LANDMARKS, np.eye(4)), ledger, np.eye(4), None, "here") is None
