"""What one case gives to the registry, from its text alone: the same here, in another process, on another computer."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict
from functools import lru_cache
from pathlib import Path
from typing import Final, NamedTuple

from pydantic import TypeAdapter

from mountproof.answers.case_numbers import CaseNumbers, case_numbers
from mountproof.answers.progress import quiet
from mountproof.case.files import parse_case
from mountproof.case.text_file import CASE_FILE, decoded
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.version import VERSION

#: What made a row: the version of the program and the names of the numbers it gives, so that rows of another kind are not
#: taken for its own.
PROGRAM: Final = f"{VERSION}+{hashlib.sha256(' '.join(CaseNumbers._fields).encode()).hexdigest()[:8]}"


class Given(NamedTuple):
    """What a text gave, as text that any program can read. One of ``numbers`` and ``fault`` is there, as JSON."""

    program: str
    digest: str
    code: str
    numbers: str | None
    fault: str | None


def digest_of(data: bytes) -> str:
    """Return the SHA-256 of the bytes of a case file (64 hex digits): all that the numbers of a case are made of."""
    return hashlib.sha256(data).hexdigest()


def given_by(data: bytes) -> Given:
    """Return what the bytes of a case file give. A case that cannot be used gives its first fault; nothing is raised.

    Files beside the case are not looked at: the numbers are those of the bench alone.
    """
    code = ""
    try:
        case = parse_case(decoded(data, Path(CASE_FILE)), CASE_FILE, None)
        code = case.code
        found = case_numbers(case, quiet)
        return Given(PROGRAM, digest_of(data), code, _adapter().dump_json(found).decode(), None)
    except FaultError as error:
        fault = error.faults[0]
    except Exception as error:
        # One odd case among thousands must not keep the others from being worked out.
        what = say("the program itself went wrong here ({kind})", kind=type(error).__name__)
        fault = Fault("registry.went_wrong", what, say("Report it, with this case"), CASE_FILE)
    return Given(PROGRAM, digest_of(data), code, None, fault_text(fault))


def given_by_many(many: Sequence[bytes]) -> list[tuple[str | None, ...]]:
    """Return what each of several texts gives, as plain tuples: what other processes are asked for."""
    return [tuple(given_by(data)) for data in many]


def fault_text(fault: Fault) -> str:
    """Return a fault as JSON."""
    return json.dumps(asdict(fault), ensure_ascii=False)


def fault_of(text: str) -> Fault:
    """Return the fault that ``fault_text`` wrote."""
    return Fault(**json.loads(text))


def numbers_of(text: str) -> CaseNumbers:
    """Return the numbers that ``given_by`` wrote, to the last bit. ValueError for other text."""
    return _adapter().validate_json(text)


@lru_cache(maxsize=1)
def _adapter() -> TypeAdapter[CaseNumbers]:
    return TypeAdapter(CaseNumbers)
