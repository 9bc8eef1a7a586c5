"""A case told apart by the parts that some work reads of it, so that the work is done once for all who ask."""

from __future__ import annotations

from mountproof.answers.ledger import Ledger
from mountproof.answers.progress import Progress
from mountproof.case.digest import canonical
from mountproof.case.model import Case


class Told:
    """A case, equal to another where the parts ``reads`` are; what it carries beside does not count.

    ``page``: what earlier parts of the same answer wrote, which follows from the same parts of the case.
    """

    def __init__(
        self, case: Case, reads: tuple[str, ...], progress: Progress, page: Ledger | None = None
    ) -> None:
        self.case, self.progress = case, progress
        self.page = Ledger("record") if page is None else page
        self._told = canonical(case, reads)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Told) and self._told == other._told

    def __hash__(self) -> int:
        return hash(self._told)
