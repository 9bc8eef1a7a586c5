"""The sheet: a case in, the eight answers out."""

from __future__ import annotations

from collections.abc import Mapping, MutableMapping, Sequence
from dataclasses import replace
from importlib import import_module

from mountproof.answers.asked import keep
from mountproof.answers.progress import Progress, quiet, within
from mountproof.answers.result import Answer, Gate, Need, Reason, Sheet, Verdict, Why
from mountproof.answers.words import BY_KEY, CAUTION_BY_KEY, QUESTIONS
from mountproof.case.digest import digest, only
from mountproof.case.model import Case, Procedure
from mountproof.faults import Fault, FaultError
from mountproof.said import joined, say


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
    the question and the digest of those parts to the answer (two questions may read the same parts), so that changing
    one reading recomputes only what depends on it.
    ``progress`` may raise ``mountproof.faults.Cancelled``. A scan that cannot be used keeps only its own questions
    from being answered; what is wrong with it stands in ``Sheet.faults``. KeyError for a question that is none.
    """
    keys = [q.key for q in QUESTIONS] if questions is None else list(questions)
    answers: dict[str, Answer] = {}
    faults: list[Fault] = []
    for done, key in enumerate(keys):
        if key not in BY_KEY:
            raise KeyError(f"{key!r}; the questions are {', '.join(BY_KEY)}")
        question = BY_KEY[key]
        progress(done / len(keys), question.words)
        inputs, found, whole = "", None, True
        try:
            inputs = digest(case, question.reads, seed=0)
            found = None if cache is None else cache.get(f"{key} {inputs}")
        except FaultError as error:
            faults += error.faults
            found = kept_from(key, error.faults)
        if found is None:
            part = within(progress, done / len(keys), 1.0 / len(keys))
            try:
                made = import_module(f"mountproof.answers.{key}").answer(only(case, question.reads), part)
            except FaultError as error:
                faults += error.faults
                made, whole = kept_from(key, error.faults), False
            found = replace(made, digest=inputs, cautions=CAUTION_BY_KEY.get(key, ()))
            if whole:
                keep(f"{key} {inputs}", found)
            if cache is not None and whole:
                cache[f"{key} {inputs}"] = found
        answers[key] = found
    progress(1.0, say("done"))
    asked = [r.text for found in answers.values() for r in found.reasons if r.why is Why.QUESTIONED]
    return Sheet(
        case.code,
        answers,
        tuple(dict.fromkeys(asked)),
        case.echoes,
        tuple(dict.fromkeys(faults)),
        gates_of(case, answers, cache),
    )


def gates_of(
    case: Case, answers: Mapping[str, Answer], cache: MutableMapping[str, Answer] | None = None
) -> tuple[Gate, ...]:
    """Return the gates of the procedure that are not met; answers that they are held against are asked for where missing."""
    if not case.procedure.steps:
        return ()
    from mountproof.answers.procedure import LOOKED_AT, open_gates

    missing = [key for key in LOOKED_AT if key not in answers]
    # Without its procedure: these answers do not read it, and its gates are asked for here.
    bare = case.model_copy(update={"procedure": Procedure()})
    more = answer(bare, missing, cache=cache).answers if missing else {}
    return open_gates(case, {**answers, **more})


def kept_from(key: str, faults: Sequence[Fault]) -> Answer:
    """Return the answer to a question whose input cannot be used: what is wrong, and what to do."""
    where_and_what = [part for part in (faults[0].where, faults[0].what) if part]
    return Answer(
        key=key,
        question=BY_KEY[key].words,
        headline=say("Not answered: {what}.", what=joined(": ", where_and_what)),
        verdict=Verdict.CANNOT_TELL,
        reasons=tuple(Reason(Why.FAULTY, fault.sentence()) for fault in faults),
        needs=tuple(Need(fault.todo, fault.what, fault.field) for fault in faults),
    )
