"""The steps of a mounting: their order, what the case says of them, and the gates that stay open."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from answers.kestrel import case as kestrel_case
from mountproof.answers.procedure import ProcedureStep, StepState, open_gates, procedure_steps
from mountproof.answers.procedure_words import STAGES, USUAL_WORDS
from mountproof.answers.sheet import answer
from mountproof.case.files import parse_case
from mountproof.case.model import Case, OwnStep, Procedure, Stage, StepEntry
from mountproof.case.procedure import USUAL
from mountproof.case.steps_order import placed
from mountproof.faults import FaultError

AT = "2026-03-17T09:55:00+01:00"
PIN = 'pin = { kind = "straight", ahead_mm = 110, below_mm = 62 }'


def case(steps: str = "", more: str = "", top: str = "") -> Case:
    return parse_case(f'code = "HERON-1"\n{top}\n{more}\n[procedure.steps]\n{steps}\n')


def by_key(one: Case) -> dict[str, ProcedureStep]:
    return {step.key: step for step in procedure_steps(one, answer(one, ["pin", "record"]).answers)}


def test_every_usual_step_has_its_words() -> None:
    assert list(USUAL_WORDS) == list(USUAL)
    assert set(STAGES) == set(Stage)
    assert all(words.words and words.why for words in USUAL_WORDS.values())
    gates = [key for key, words in USUAL_WORDS.items() if words.closes]
    assert {"fork", "upper_base", "upper_space", "home", "record", "luted", "lower_base", "pin_set"} <= set(
        gates
    )


def test_a_case_without_procedure_has_all_steps_to_come_and_no_open_gate() -> None:
    plain = parse_case('code = "HERON-1"\n')
    assert {step.state for step in procedure_steps(plain)} == {StepState.TO_COME}
    assert answer(plain).gates == ()


def test_states_of_a_step() -> None:
    steps = by_key(
        case(
            f'fork = {{ met = true, at = {AT}, by = "QP" }}\n'
            "upper_base = { met = false }\n"
            'upper_space = { left_out = true, note = "split cast" }\n'
            "pin_back = { met = true }\n"
        )
    )
    assert steps["fork"].state is StepState.MET
    assert steps["upper_base"].state is StepState.NOT_MET
    assert steps["upper_space"].state is StepState.LEFT_OUT
    assert steps["upper_mix"].state is StepState.PASSED
    assert steps["home"].state is StepState.TO_COME


def test_open_gates_say_why_and_where() -> None:
    found = case(
        f'fork = {{ met = false, at = {AT}, by = "QP", note = "rocks at the left end" }}\n'
        'upper_base = { left_out = true, note = "split cast" }\n'
        "upper_close = { met = true }\n"
    )
    gates = {gate.key: gate for gate in answer(found, ["stone"]).gates}
    assert set(gates) == {"fork", "upper_base", "upper_space"}
    assert gates["fork"].why == "not met; 2026-03-17 09:55 by QP; rocks at the left end"
    assert gates["upper_base"].why == "left out; split cast"
    assert gates["upper_space"].why == "not ticked, though later steps are"
    assert gates["fork"].field == "procedure.steps.fork"
    # Steps that are no gates are nobody's business on the sheet.
    assert "upper_mix" not in gates


def luted(places: str) -> Case:
    return case("luted = { met = true }", more=f"[bench]\nluted_at = [{places}]")


def test_luted_is_held_against_the_places() -> None:
    three = (
        "{ ahead_mm = 90, right_mm = 2 }, { ahead_mm = 56, right_mm = 27 }, { ahead_mm = 55, right_mm = -27 }"
    )
    assert by_key(luted(three))["luted"].state is StepState.MET
    assert by_key(luted(three))["luted"].found == "luted at 3 places"
    two = luted("{ ahead_mm = 90, right_mm = 0 }, { ahead_mm = 50, right_mm = 0 }")
    step = by_key(two)["luted"]
    assert step.state is StepState.ASKED and "2 places" in step.asked
    line = luted(
        "{ ahead_mm = 90, right_mm = 0 }, { ahead_mm = 70, right_mm = 0 }, { ahead_mm = 50, right_mm = 0 }"
    )
    assert by_key(line)["luted"].state is StepState.ASKED
    assert by_key(luted(""))["luted"].state is StepState.MET  # nothing is entered: the tick stands alone


@pytest.mark.parametrize(("reads", "state"), [(3.2, StepState.ASKED), (4.2, StepState.MET)])
def test_the_pin_is_held_against_the_answer(reads: float, state: StepState) -> None:
    demo = kestrel_case()
    readings = tuple(r.model_copy(update={"reads": reads}) if r.set_by_hand else r for r in demo.pin_readings)
    ticked = demo.model_copy(
        update={"pin_readings": readings, "procedure": Procedure(steps={"pin_set": StepEntry(met=True)})}
    )
    step = by_key(ticked)["pin_set"]
    assert step.state is state
    assert step.found.startswith(f"the pin was set to {reads}, question 1 says 4.2")
    assert [g.key for g in answer(ticked, ["stone"]).gates].count("pin_set") == (state is StepState.ASKED)


def test_the_record_is_held_against_question_3() -> None:
    ticked = case("record = { met = true }")
    step = by_key(ticked)["record"]
    assert step.state is StepState.ASKED and step.asked == "question 3 says: cannot tell"
    assert open_gates(ticked, answer(ticked).answers)[-1].why == "ticked, but question 3 says: cannot tell"


@pytest.mark.parametrize(
    ("tick", "released", "state"),
    [
        ("10:48", "10:48", StepState.MET),
        ("10:30", None, StepState.ASKED),
        ("10:48", "10:30", StepState.ASKED),
        ("09:30", None, StepState.ASKED),
    ],
)
def test_the_wait_is_held_against_the_pour(tick: str, released: str | None, state: StepState) -> None:
    end = f", released = 2026-03-17T{released}:00+01:00" if released else ""
    waited = case(
        f"lower_wait = {{ met = true, at = 2026-03-17T{tick}:00+01:00 }}",
        more=f'[pours]\n"lower 1" = {{ cast = "lower", powder_met_water = 2026-03-17T10:02:00+01:00{end} }}',
    )
    step = by_key(waited)["lower_wait"]
    assert step.state is state
    assert step.found == "may be released from 10:47 on"


def test_own_words_and_own_steps_of_instrument_and_case() -> None:
    one = case(
        'luted = { words = "Luted with pins" }\n"bow looked at" = { met = true, stage = "upper", gate = true }\n',
        more=f'[instrument]\nname = "no. 2"\n{PIN}\n'
        '[instrument.steps]\nmagnets = { words = "Wipe the magnets", after = "luted", gate = true }\n'
        'pin_back = { words = "Table, pin and screws back" }\n',
    )
    steps = by_key(one)
    order = list(steps)
    assert order[order.index("luted") + 1] == "magnets"
    assert steps["magnets"].own == "instrument" and steps["magnets"].gate
    assert steps["pin_back"].words == "Table, pin and screws back" and steps["pin_back"].own == ""
    assert steps["luted"].words == "Luted with pins" and steps["luted"].closes
    bow = steps["bow looked at"]
    assert (bow.words, bow.own, bow.stage, bow.gate) == ("bow looked at", "case", Stage.UPPER, True)


@given(st.lists(st.sampled_from([*USUAL, "mine"]), unique=True))
def test_no_step_is_lost_and_parts_stay_in_order(order: list[str]) -> None:
    own = {"mine": OwnStep(words="mine", before="column")}
    found = placed(Procedure(order=tuple(order)), own)
    assert found.circle == ()
    assert set(found.stages) == {*USUAL, "mine"}
    stages = [list(Stage).index(stage) for stage in found.stages.values()]
    assert stages == sorted(stages)
    for stage in Stage:
        wanted = [name for name in order if found.stages[name] is stage]
        assert [name for name, its in found.stages.items() if its is stage and name in order] == wanted


def test_the_usual_order_is_kept_where_nothing_is_said() -> None:
    assert list(placed(Procedure(), {}).stages) == list(USUAL)
    own = {"a": OwnStep(after="luted"), "b": OwnStep(after="a"), "c": OwnStep(before="fork"), "d": OwnStep()}
    names = list(placed(Procedure(), own).stages)
    assert names[0] == "c" and names[-1] == "d"
    assert names[names.index("luted") :][:3] == ["luted", "a", "b"]


@pytest.mark.parametrize(
    ("text", "field", "says"),
    [
        ('[procedure]\norder = ["luted", "luted"]', "procedure.order.2", "twice"),
        ('[instrument.steps]\na = { after = "lutedd" }', "instrument.steps.a.after", "Did you mean luted?"),
        (
            '[instrument.steps]\na = { after = "luted", before = "fork" }',
            "instrument.steps.a.before",
            "not both",
        ),
        ('[instrument.steps]\na = { after = "b" }\nb = { after = "a" }', "instrument.steps.a", "a place"),
        ("[procedure.steps]\nluted = { at = 2026-03-17T09:55:00 }", "procedure.steps.luted.at", "offset"),
        ('[procedure.steps]\nluted = { at = "gestern" }', "procedure.steps.luted.at", "offset"),
        ("[procedure.steps]\nluted = { at = 0003-03-17T09:55:00Z }", "procedure.steps.luted.at", "year"),
        ('[pours]\na = { cast = "lower" }', "pours.a.powder_met_water", "missing"),
    ],
)
def test_what_cannot_be_is_refused_with_the_next_step(text: str, field: str, says: str) -> None:
    with pytest.raises(FaultError) as caught:
        parse_case(f'code = "x"\n[instrument]\nname = "no. 2"\n{PIN}\n{text}\n')
    fault = next(fault for fault in caught.value.faults if fault.field == field)
    assert says in f"{fault.what} {fault.todo}" and fault.todo and fault.line is not None


def test_a_moment_keeps_its_offset_and_its_second() -> None:
    one = case('fork = { at = "2026-03-17T09:55:07.25+01:00" }\nhome = { at = 2026-03-17T08:55:07Z }')
    first, second = one.procedure.steps["fork"].at, one.procedure.steps["home"].at
    assert first == second == dt.datetime(2026, 3, 17, 8, 55, 7, tzinfo=dt.UTC)
    assert first is not None and first.utcoffset() == dt.timedelta(hours=1)


def test_gates_that_carry_the_relation_are_a_need_of_question_4() -> None:
    """Gates of the lower cast and between; neither the fork, nor the pin that its own reading tells of."""
    steps = {name: StepEntry(met=False) for name in ("fork", "home", "luted", "pin_set")}
    sheet = answer(kestrel_case().model_copy(update={"procedure": Procedure(steps=steps)}), ["mounting"])
    (need,) = (n for n in sheet["mounting"].needs if n.reading.startswith("a second look"))
    assert "Index parts home" in need.reading and "Casts luted together" in need.reading
    assert "fork" not in need.reading and "Pin set" not in need.reading
    assert need.field == "procedure.steps.home"
    plain = answer(kestrel_case(), ["mounting"])["mounting"]
    assert not [n for n in plain.needs if n.reading.startswith("a second look")]
    assert plain.verdict is sheet["mounting"].verdict


def test_the_gates_of_the_demo_fit_its_story() -> None:
    gates = answer(kestrel_case(), ["pin"]).gates
    assert [gate.key for gate in gates] == ["pin_set"]
    assert gates[0].why == "not met, the pin was set to 3.2, question 1 says 4.2; 09:55 by B2"
