"""The sheet: a case in, the eight answers out."""

from __future__ import annotations

from collections.abc import MutableMapping, Sequence
from dataclasses import replace
from importlib import import_module

from mountproof.answers.progress import Progress, quiet, within
from mountproof.answers.result import Answer, Sheet
from mountproof.answers.words import BY_KEY, CAUTION_BY_KEY, QUESTIONS
from mountproof.case.digest import digest, only
from mountproof.case.model import Case

def answer(
    case: Case,
    questions: Sequence[str] | None = None,
    *,
    cache: MutableMapping[str, Answer] | None = None,
    progress: Progress = quiet,
) -> Sheet:
    """Answer the eight questions of a case, or only those named.

    ``questions`` are keys (``pin``, ``stone``, ``record``, ``mounting``, ``contacts``, ``guidance``, ``change``,
    ``doubt``); None means all. An answer is a pure function of the parts of the case it reads: ``cache`` maps
    the digest of those parts to the answer, so that changing one reading recomputes only what depends on it.
    ``progress`` may raise ``mountproof.faults.Cancelled``. KeyError for a question that is none;
    ``FaultError`` for a scan that cannot be used.
    """
    keys = [q.key for q in QUESTIONS] if questions is None else list(questions)
    answers: dict[str, Answer] = {}
    for done, key in enumerate(keys):
        if key not in BY_KEY:
            raise KeyError(f"{key!r}; the questions are {', '.join(BY_KEY)}")
        question = BY_KEY[key]
        progress(done / len(keys), question.words)
        inputs = digest(case, question.reads, seed=0)
        found = None if cache is None else cache.get(inputs)
        if found is None:
            module = import_module(f"mountproof.answers.{key}")
            found = replace(
                module.answer(only(case, question.reads), within(progress, done / len(keys), 1.0 / len(keys))),
                digest=inputs,
                cautions=CAUTION_BY_KEY.get(key, ()),
            )
            if cache is not None:
                cache[inputs] = found
        answers[key] = found
    progress(1.0, "done")
    asked: list[str] = []
    for found in answers.values():
        asked += [reason.text for reason in found.reasons if reason.why == "questioned-reading"]
    return Sheet(case.code, answers, tuple(dict.fromkeys(asked)), case.echoes)

