"""The rows of a bundle, as they are written and checked."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from mountproof.case.store.records import CaseState
from mountproof.case.store.times import from_text

#: Name of the format, in every bundle.
FORMAT = "mountproof case bundle"
#: Raised when a bundle of this kind can no longer be read by an older program.
BUNDLE_VERSION = 1


def _time(text: str) -> str:
    from_text(text)
    return text


Digest = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
Time = Annotated[str, Field(max_length=40), AfterValidator(_time)]
Short = Annotated[str, Field(max_length=1000)]
#: What SQLite can hold.
Whole = Annotated[int, Field(ge=0, lt=2**63)]


class _Row(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, defer_build=True)


class Entry(_Row):
    """One file of a bundle."""

    name: Short
    sha256: Digest
    bytes: Whole


class Manifest(_Row):
    """What a bundle is and what it holds. Further entries are left to later versions."""

    model_config = ConfigDict(frozen=True, extra="ignore", strict=True, defer_build=True)

    format: Literal["mountproof case bundle"] = "mountproof case bundle"
    bundle_version: Whole = BUNDLE_VERSION
    schema_version: Whole
    store_version: Whole
    program: Short
    uid: Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]
    files: tuple[Entry, ...]


class ChangeRow(_Row):
    """One changed entry of a revision."""

    field: str
    old: str | None
    new: str | None


class RevisionRow(_Row):
    """One revision with its whole text."""

    number: Annotated[int, Field(ge=1, lt=2**31)]
    parent: int | None
    who: Short
    at: Time
    what: Short
    program: Short
    digest: Digest
    text_sha256: Digest
    text: str
    changes: tuple[ChangeRow, ...]
    files: dict[str, Digest]


class StateRow(_Row):
    """Where the case stood from a time on."""

    state: CaseState = Field(strict=False)
    who: Short
    at: Time


class AcceptedRow(_Row):
    """One acceptance, or one taken back."""

    number: Annotated[int, Field(ge=1, lt=2**31)]
    question: Short
    reads: tuple[Short, ...]
    seed: Annotated[int, Field(ge=-(2**63), lt=2**63)]
    digest: Short
    stands: bool
    who: Short
    at: Time
