"""A value that cannot be read, with what to do instead."""

from __future__ import annotations

from mountproof.said import joined


class Unreadable(ValueError):
    """Says what is wrong with a value (``what``) and what to write instead (``todo``, may be empty)."""

    def __init__(self, what: str, todo: str = "") -> None:
        self.what, self.todo = what, todo
        super().__init__(self.sentence)

    @property
    def sentence(self) -> str:
        """Return both in one text."""
        return joined(": ", (self.what, self.todo)) if self.todo else self.what
