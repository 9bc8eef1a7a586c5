"""The text of a revision: read into a case, changed for a case, brought together with another one's change."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path as FilePath
from typing import NamedTuple

from mountproof.case.checks import case_findings
from mountproof.case.digest import canonical
from mountproof.case.dump import dump
from mountproof.case.edits import Edits, edited_text
from mountproof.case.files import parse_case
from mountproof.case.finding import dotted
from mountproof.case.merge import merge
from mountproof.case.model import Case
from mountproof.case.store.differences import REMARKS, same
from mountproof.case.store.faults import refuse
from mountproof.case.store.file_names import named_by, plain_name
from mountproof.case.store.lines_merge import merged_lines
from mountproof.case.store.threeway import Clash, merged
from mountproof.case.text_file import CASE_FILE, LARGEST_BYTES, bytes_like, decoded
from mountproof.faults import Fault, FaultError
from mountproof.said import say

_REMARK = re.compile(r"#[^\n]*")


class Written(NamedTuple):
    """The text of a case, byte for byte, and the case that it is."""

    data: bytes
    case: Case

    @property
    def text(self) -> str:
        """The text as it is changed: without byte mark, lines ending in a line feed."""
        return plain_text(self.data)


def plain_text(data: bytes) -> str:
    """Return the bytes of a case file as text with lines ending in a line feed; FaultError where they are none."""
    if len(data) > LARGEST_BYTES:
        todo = say("Name the case.toml that a person typed")
        refuse(
            "case.too_large",
            say("this is too large for a case file"),
            todo,
            got=say("{size:.1f} MB", size=len(data) / 1e6),
        )
    return decoded(data, FilePath(CASE_FILE)).replace("\r\n", "\n")


@lru_cache(maxsize=128)
def read(data: bytes) -> Written:
    """Read the bytes of a case file; FaultError with every fault in them.

    The last texts are remembered: each is read for its own change, and again as what the next one is made from.
    """
    return Written(data, parse_case(plain_text(data)))


def written(case: Case, before: Written | None = None) -> Written:
    """Return the text of a case; remarks and layout of ``before`` stay with every entry that is still there.

    FaultError where the case does not fit together.
    """
    findings = list(case_findings(case))
    if findings:
        raise FaultError(
            [Fault(f.code, f.what, f.todo, "", None, dotted(f.path), f.got, f.allowed) for f in findings]
        )
    if before is None:
        return read(dump(case).encode())
    return _in_place(case, before) or read(bytes_like(dump(case), before.data))


def _in_place(case: Case, before: Written) -> Written | None:
    """Return ``before`` changed into ``case`` with its remarks; None where that cannot be done."""
    if same(before.case, case):
        return before
    text = merge(before.text, before.case, case)
    return read(bytes_like(text, before.data)) if text is not None and _is(text, case) else None


def edited(before: Written, fields: Edits) -> Written:
    """Return the text with some entries changed, named and given as in ``mountproof.case.edits.edited_text``.

    FaultError where one cannot be changed, or the case would not fit together with all of them.
    """
    return read(bytes_like(edited_text(before.text, fields), before.data))


def together(base: Written, mine: Written, theirs: Written) -> tuple[Written, tuple[Clash, ...]]:
    """Return the text with the changes of both, and every entry that both changed.

    Remarks that ``mine`` added where ``theirs`` changed the lines, too, are a clash of the entry ``REMARKS``.
    FaultError where both changes are fine alone and do not fit together.
    """
    if mine.data == base.data:
        return theirs, ()
    if theirs.data == base.data:
        return mine, ()
    case, clashes = merged(base.case, mine.case, theirs.case)
    if clashes:
        return theirs, clashes
    text = merged_lines(base.text, mine.text, theirs.text)
    if text is not None and _is(text, case):
        return read(bytes_like(text, theirs.data)), ()
    found = _in_place(case, theirs)
    lost = _lost_remarks(base, mine, found.text) if found else _remarks(theirs.text)
    if lost:
        return theirs, (
            Clash(REMARKS, None, "\n".join(lost) if found else None, None if found else "\n".join(lost)),
        )
    return found or written(case, theirs), ()


def _lost_remarks(base: Written, mine: Written, text: str) -> list[str]:
    known = {*_remarks(base.text), *_remarks(text)}
    return [remark for remark in _remarks(mine.text) if remark not in known]


def _remarks(text: str) -> list[str]:
    """Every remark of a text; with it what looks like one inside a value, which can only make us more careful."""
    return _REMARK.findall(text)


def text_digest(data: bytes) -> str:
    """Return the SHA-256 of the bytes of a case file."""
    return hashlib.sha256(data).hexdigest()


def with_digests(case: Case, files: Mapping[str, str]) -> Case:
    """Return a copy of a case that knows the SHA-256 of its stored scan files, so that its digests need no file."""
    known = {name: files[stored] for name in named_by(case) if (stored := plain_name(name)) in files}
    copy = case.model_copy()
    copy._scan_digests = known
    return copy


def case_digest(case: Case) -> str:
    """Return the SHA-256 of everything that is entered in a case, its scan files included, whatever the layout."""
    return hashlib.sha256(canonical(case, tuple(Case.model_fields))).hexdigest()


def _is(text: str, case: Case) -> bool:
    try:
        return same(parse_case(text), case)
    except FaultError:
        return False
