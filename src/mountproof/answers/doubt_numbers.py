"""Part of question 8: every number of questions 1 to 7, by its own readings and with all steps that stand before it."""

from __future__ import annotations

import math
from collections.abc import Callable
from fnmatch import fnmatchcase
from typing import Final, NamedTuple

import numpy as np

from mountproof.answers.asked import asked
from mountproof.answers.doubt_budget import PLACES, Ground
from mountproof.answers.guidance_paths import SIDES, excursions
from mountproof.answers.guidance_ranges import MOVED_BY, longest
from mountproof.answers.ledger import Ledger
from mountproof.answers.progress import Progress, quiet, within
from mountproof.answers.result import K95, Answer, Quantity, Table
from mountproof.answers.usual_sites import usual_sites
from mountproof.answers.words import BY_KEY, QUESTIONS
from mountproof.case.model import Case, RecordKind, Relation
from mountproof.case.tooth_numbers import teeth_iso
from mountproof.doubt.chain import ROUTES
from mountproof.doubt.motions import WAYS, at_place, hinge_opening
from mountproof.faults import FaultError
from mountproof.geometry.poses import Array
from mountproof.records.settings import STAYED_MM
from mountproof.said import capital, figure, say
from mountproof.teeth import opposite

#: Where the teeth first meet in CR when nobody knows: at a first molar (ahead, up, right; mm).
_USUAL_CONTACT: Final = (60.0, -37.0, 25.0)
_PIN_AHEAD_MM: Final = 110.0
#: Steps that the answers to the contacts count already.
_COUNTED: Final = ("record", "seat")


class Stage(NamedTuple):
    """What the numbers hang on: the steps as one motion (6, K), their covariance before and after the checks, and places.

    ``contact`` and ``next`` (3,): where the teeth meet first and next; ``paths``: for each joint the length of its path
    ahead (mm) and what it turned by (rad), ``axis_u_mm`` of the hinge axis.
    """

    ground: Ground
    motion: Array
    after: Array
    contact: Array
    next: Array | None
    pin_ahead_mm: float
    paths: dict[str, tuple[float, float]]
    axis_u_mm: float

    def closing(self) -> Array:
        """Return (K,): how much farther the hinge closes (rad) until the same teeth meet, for each number of the steps."""
        down = at_place(self.contact)[0]
        out: Array = -(down @ self.motion) / float(down @ hinge_opening())
        return out

    def met(self, place: Array, way: str) -> Array:
        """Return (K,): how far a place goes one way (mm) once the same teeth meet again."""
        row = at_place(place)[WAYS.index(way)]
        out: Array = row @ self.motion + float(row @ hinge_opening()) * self.closing()
        return out


class Reach(NamedTuple):
    """What the steps add to a number: its standard uncertainty from them, and whether that is all of it."""

    u: float
    whole: bool = False


def _slide(way: str) -> Callable[[Stage, Quantity], Reach | None]:
    """The slide at the incisors, from where the same teeth meet on the casts."""

    def reach(stage: Stage, _: Quantity) -> Reach:
        return Reach(_u(stage, stage.met(np.array(PLACES[2][2]), way)))

    return reach


def _at_pin(stage: Stage, _: Quantity) -> Reach:
    return Reach(stage.pin_ahead_mm * _u(stage, stage.closing()))


def _off(row: int) -> Callable[[Stage, Quantity], Reach | None]:
    """A mounting against its record: against the mouth all steps count, after the checks."""

    def reach(stage: Stage, _: Quantity) -> Reach:
        r = stage.ground.rows[row]
        return Reach(math.sqrt(max(float(r @ stage.after @ r), 0.0)), True)

    return reach


def _scanned_closing(stage: Stage, _: Quantity) -> Reach:
    return Reach(180.0 / math.pi * _u(stage, stage.closing(), _COUNTED))


def _scanned_pin(stage: Stage, _: Quantity) -> Reach:
    return Reach(stage.pin_ahead_mm * _u(stage, stage.closing(), _COUNTED))


def _runner_up(stage: Stage, _: Quantity) -> Reach | None:
    if stage.next is None:
        return None
    return Reach(_u(stage, stage.met(stage.next, "down"), _COUNTED))


def _inclination(stage: Stage, q: Quantity) -> Reach | None:
    """A condyle's path read about an axis that is off by ``e``: its turn ``t`` moves the end by ``t e``, over its length."""
    path = stage.paths.get(q.key)
    if path is None:
        return None
    length, turn = path
    return Reach(math.degrees(abs(turn) * stage.axis_u_mm / max(length, STAYED_MM)))


def _u(stage: Stage, row: Array, without: tuple[str, ...] = ()) -> float:
    used = row.copy()
    for key, where in stage.ground.joined.columns.items():
        if key in without:
            used[where] = 0.0
    return math.sqrt(max(float(used @ stage.ground.joined.cov @ used), 0.0))


#: Numbers between which and the mouth the steps stand: (question, key), a star for any ending.
MOVED: Final[dict[tuple[str, str], Callable[[Stage, Quantity], Reach | None]]] = {
    ("mounting", "slide_forward"): _slide("ahead"),
    ("mounting", "slide_up"): _slide("down"),
    ("mounting", "slide_right"): _slide("right"),
    ("mounting", "contact_over_mip"): _at_pin,
    ("mounting", "off_right"): _off(0),
    ("mounting", "off_left"): _off(3),
    ("mounting", "off_front"): _off(6),
    ("contacts", "closing"): _scanned_closing,
    ("contacts", "closing_pin"): _scanned_pin,
    ("contacts", "runner_up"): _runner_up,
    ("guidance", "horizontal_*"): _inclination,
    ("guidance", "sideways_*"): _inclination,
}

_BENCH: Final = say("of bench and instrument alone")
_DROPS: Final = say("two readings of the same casts: all steps before them drop out")
_MOUTH: Final = say("held against the mouth itself")
_AMOUNT: Final = say("an amount of one step, not a place")
_SIDE: Final = say("of paths to the side, which the hinge axis hardly touches")
_IN_CHANGE: Final = say("reckoned in question 7 from record and placement")
_IN_CONTACTS: Final = say(
    "reckoned from record and placement with the scans, or as question 4 has it from the marks"
)
_CHANCE: Final = say("a chance, reckoned from the record alone")
_TYPED: Final = say("what is set on the instrument: no step stands before it")
_RANGE: Final = say("reckoned over the range of the settings alone")

#: Numbers that the steps do not touch, and why.
UNTOUCHED: Final[dict[tuple[str, str], str]] = {
    ("pin", "*"): _BENCH,
    ("stone", "*"): _BENCH,
    ("record", "reseat_*"): _AMOUNT,
    ("record", "records_*"): _AMOUNT,
    ("record", "base_*"): _AMOUNT,
    ("record", "tracing_*"): _MOUTH,
    ("record", "axis_*"): _AMOUNT,
    ("mounting", "lift"): _DROPS,
    ("mounting", "set_*"): _DROPS,
    ("mounting", "predicted*"): _BENCH,
    ("mounting", "found*"): _BENCH,
    ("mounting", "second_record"): _DROPS,
    ("mounting", "split_cast*"): _DROPS,
    ("mounting", "foil_fit_*"): _MOUTH,
    ("mounting", "hand_foils_*"): _MOUTH,
    ("mounting", "width_*"): _MOUTH,
    ("mounting", "other_scan_width_*"): _DROPS,
    ("mounting", "axis_*"): _AMOUNT,
    ("mounting", "pitch"): _BENCH,
    ("mounting", "cant*"): _BENCH,
    ("contacts", "overlap"): _DROPS,
    ("contacts", "first_chance"): _CHANCE,
    ("contacts", "slide_*"): _IN_CONTACTS,
    ("contacts", "rest_off_mip"): _DROPS,
    ("change", "*"): _IN_CHANGE,
    ("guidance", "steeper_*"): _DROPS,
    ("guidance", "lateral_*"): _SIDE,
    ("guidance", "immediate_*"): _SIDE,
    ("guidance", "progressive_*"): _SIDE,
    ("guidance", "typed_*"): _TYPED,
    ("guidance", "gap_behind"): _RANGE,
    ("guidance", "least_gap_*"): _RANGE,
}


def reach_of(question: str, key: str) -> Callable[[Stage, Quantity], Reach | None] | None:
    """Return how the steps reach a number, or None where they do not, or it is in neither list."""
    return next((f for (q, k), f in MOVED.items() if q == question and fnmatchcase(key, k)), None)


def why_untouched(question: str, key: str) -> str | None:
    """Return why the steps do not touch a number, or None where they do, or it is in neither list."""
    return next((w for (q, k), w in UNTOUCHED.items() if q == question and fnmatchcase(key, k)), None)


def others(case: Case, progress: Progress) -> dict[str, Answer]:
    """Return the answers to questions 1 to 7; one that cannot be given is left out, and says so itself."""
    found: dict[str, Answer] = {}
    rest = [q for q in QUESTIONS if q.key != "doubt"]
    for n, question in enumerate(rest):
        try:
            found[question.key] = asked(case, question.key, within(progress, n / len(rest), 1.0 / len(rest)))
        except FaultError:
            continue
    return found


def tell_numbers(
    case: Case, ground: Ground, after: Array, answers: dict[str, Answer], axis_u_mm: float, ledger: Ledger
) -> None:
    """Note every number of the other answers: its own doubt, and with every step where these stand between.

    ``after`` (K, K): covariance of the steps after the checks.
    """
    stage = stage_of(case, ground, after, answers, axis_u_mm)
    moved, still = [], []
    for key, one in answers.items():
        for q in one.quantities:
            own = _own(q)
            head = (str(BY_KEY[key].number), capital(q.label), _value(q), own)
            reach = reach_of(key, q.key)
            added = reach(stage, q) if reach is not None else None
            if added is not None and q.u is not None:
                u = added.u if added.whole else math.hypot(q.u, added.u)
                moved.append((*head, say("± {half}", half=figure(K95 * u, f".{q.decimals}f"))))
            else:
                why = why_untouched(key, q.key)
                still.append((*head, why if why is not None else say("not reckoned for this case")))
    title = say("quantity")
    if moved:
        ledger.tables.append(
            Table(
                say(
                    "Numbers before which the steps stand: ± 95 % of their own readings, and with every step"
                ),
                (say("question"), title, say("value"), say("own readings"), say("all steps")),
                tuple(moved),
                say(
                    "The teeth close until the same ones meet again. Before any check, but for what the mounting is off."
                ),
            )
        )
    if still:
        ledger.tables.append(
            Table(
                say("Numbers that the steps do not touch: ± 95 % of their own readings"),
                (say("question"), title, say("value"), say("own readings"), say("why")),
                tuple(still),
            )
        )


def _value(q: Quantity) -> str:
    return say("{value} {unit}", value=figure(q.value, f".{q.decimals}f"), unit=q.unit)


def _own(q: Quantity) -> str:
    if q.low is None or q.high is None:
        return "-"
    form = f".{q.decimals}f"
    if abs((q.high - q.value) - (q.value - q.low)) <= 0.1 * (q.high - q.low):
        return say("± {half}", half=figure(0.5 * (q.high - q.low), form))
    return say("{low} to {high}", low=figure(q.low, form), high=figure(q.high, form))


def stage_of(case: Case, ground: Ground, after: Array, answers: dict[str, Answer], axis_u_mm: float) -> Stage:
    """Return what the numbers hang on, from the answers that name the places and from the case.

    ``after`` (K, K): covariance of the steps after the checks.
    """
    network = ground.chain.chain.network
    motion = network.pick(*ROUTES[ground.route]) @ network.honest
    contact, after_it = _contacts(case, answers)
    pin = case.instrument.pin.ahead_mm.value if case.instrument is not None else _PIN_AHEAD_MM
    paths = _paths(case) if "guidance" in answers and answers["guidance"].quantities else {}
    return Stage(ground, motion, after, contact, after_it, pin, paths, axis_u_mm)


def _contacts(case: Case, answers: dict[str, Answer]) -> tuple[Array, Array | None]:
    """Where the teeth meet first, and next: by the scans, else where foil held in CR, else at a first molar."""
    table = getattr(getattr(answers.get("contacts"), "evidence", None), "table", None)
    if table is not None and table.pairs:
        places = [np.asarray(p.upper_point_mm, dtype=np.float64) for p in table.pairs[:2]]
        return places[0], places[1] if len(places) > 1 else None
    held = [f for f in case.foils if f.relation is Relation.CR and f.held]
    if held:
        sites = usual_sites(case, Ledger("doubt"))
        at = [sites.get(t, sites.get(opposite(t))) for t in teeth_iso(case, held[-1].held)]
        known = [a for a in at if a is not None]
        if known:
            ahead, right = np.mean(np.array(known), axis=0)
            return np.array([ahead, _USUAL_CONTACT[1], right]), None
    return np.array(_USUAL_CONTACT), None


def _paths(case: Case) -> dict[str, tuple[float, float]]:
    """Length of the path (mm, seen from the side) and turn (rad) behind each inclination, by its key."""
    found = excursions(case, Ledger("guidance"), quiet)
    out = {}
    for side in SIDES:
        for key, kind in (("horizontal", RecordKind.PROTRUSIVE), ("sideways", MOVED_BY[side])):
            one = longest(found, kind, side)
            if one is not None:
                ahead, up = one.paths[side].values[:2]
                out[f"{key}_{side}"] = (math.hypot(float(ahead), float(up)), one.opening_rad)
    return out
