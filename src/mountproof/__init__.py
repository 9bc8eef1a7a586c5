"""Mountproof: mount casts on an articulator and know whether the mounting can be trusted.

>>> import mountproof as mp
>>> sheet = mp.answer(mp.load_case("my-case"))       # doctest: +SKIP
>>> sheet["pin"].headline                            # doctest: +SKIP
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from mountproof.version import VERSION as __version__

if TYPE_CHECKING:
    from mountproof.answers.result import Answer, Quantity, Sheet, Verdict
    from mountproof.answers.sheet import answer
    from mountproof.case.files import load_case
    from mountproof.case.model import Case
    from mountproof.faults import Fault, FaultError


__all__ = [
    "Answer",
    "Case",
    "Fault",
    "FaultError",
    "Quantity",
    "Sheet",
    "Verdict",
    "__version__",
    "answer",
    "load_case",
]

#: Where each public name lives; imported on first use, so that a command line starts quickly.
_HOME = {
    "Answer": "mountproof.answers.result",
    "Quantity": "mountproof.answers.result",
    "Sheet": "mountproof.answers.result",
    "Verdict": "mountproof.answers.result",
    "answer": "mountproof.answers.sheet",
    "load_case": "mountproof.case.files",
    "Case": "mountproof.case.model",
    "Fault": "mountproof.faults",
    "FaultError": "mountproof.faults",
}


def __getattr__(name: str) -> Any:
    """Import a public name on first use."""
    if name in _HOME:
        from importlib import import_module

        return getattr(import_module(_HOME[name]), name)
    raise AttributeError(f"module 'mountproof' has no attribute {name!r}")
