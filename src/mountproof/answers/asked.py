"""Answers to the single questions, kept for question 8, which shows every number of them beside the steps."""

from __future__ import annotations

from collections import OrderedDict
from importlib import import_module
from threading import Lock
from typing import Final

from mountproof.answers.progress import Progress
from mountproof.answers.result import Answer
from mountproof.answers.words import BY_KEY
from mountproof.case.digest import digest, only
from mountproof.case.model import Case

#: Answers that are kept: those of a few cases. What is not there is made again, and is the same.
_MOST: Final = 24
_kept: OrderedDict[str, Answer] = OrderedDict()
_lock: Final = Lock()


def keep(name: str, answer: Answer) -> None:
    """Keep an answer under its question and digest, for whoever asks next in this process."""
    with _lock:
        _kept[name] = answer
        _kept.move_to_end(name)
        while len(_kept) > _MOST:
            _kept.popitem(last=False)


def asked(case: Case, key: str, progress: Progress) -> Answer:
    """Return the answer to one question, from the parts of the case that it reads.

    FaultError where a scan cannot be used, Cancelled where ``progress`` raises it: neither is kept.
    """
    reads = BY_KEY[key].reads
    name = f"{key} {digest(case, reads, seed=0)}"
    with _lock:
        found = _kept.get(name)
    if found is None:
        made: Answer = import_module(f"mountproof.answers.{key}").answer(only(case, reads), progress)
        keep(name, made)
        found = made
    return found
