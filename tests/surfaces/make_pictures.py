"""Invented evidence of records and mountings, for the drawings of it."""

from __future__ import annotations

import numpy as np

from mountproof.answers.picture_data import (
    Better,
    Budget,
    BudgetBar,
    Cause,
    ContactChances,
    Dots,
    DoubtEvidence,
    FoilChart,
    FoilSide,
    MountingEvidence,
    RecordEvidence,
    ResidualMap,
    Scatter,
    SplitPlane,
    ToothChance,
)
from mountproof.said import say
from mountproof.teeth import right_to_left

POINTS = ("right condyle", "left condyle", "incisors", "right second molar", "left second molar")


def make_scatter(count: int = 6, *, sd_mm: float = 0.15, long_names: bool = False) -> Scatter:
    """Return ``count`` records at five places; the second stands out, the third is mounted."""
    rng = np.random.default_rng(5)
    names = tuple(f"record number {k + 1}" if long_names else f"W{k + 1}" for k in range(count))
    turn = np.array([[0.6, -0.8, 0.0], [0.8, 0.6, 0.0], [0.0, 0.0, 1.0]])
    cov = turn @ np.diag([0.05**2, 0.02**2, 0.03**2]) @ turn.T
    dots = []
    for k, point in enumerate(POINTS):
        places = rng.normal(0.0, sd_mm, (count, 3))
        if count > 1:
            places[1] += 3.0 * sd_mm
        dots.append(Dots(say("right condyle") if k == 0 else point, places, cov, sd_mm, True))
    return Scatter(names, tuple(dots), names[min(2, count - 1)], names[1] if count > 1 else None, names[0])


def make_map(arch: str = "lower", *, spots: bool = True) -> ResidualMap:
    """Return an arch of fourteen domes, a record that touches their tops, with one patch nobody saw."""
    numbers = [47, 46, 45, 44, 43, 42, 41, 31, 32, 33, 34, 35, 36, 37]
    up = 1.0 if arch == "lower" else -1.0
    vertices, faces, teeth, residual = [], [], [], []
    for k, number in enumerate(numbers):
        angle = np.deg2rad(-15.0 + 210.0 * k / 13.0)
        middle = np.array([55.0 + 34.0 * np.sin(angle), -40.0, 25.0 * np.cos(angle)])
        radius = 5.0 if number % 10 > 5 else 3.4
        across = np.linspace(-radius, radius, 23)
        a, b = (g.ravel() for g in np.meshgrid(across, across, indexing="ij"))
        top = 4.0 - 0.12 * (a * a + b * b) + 0.4 * np.cos(1.6 * a) * np.cos(1.6 * b)
        start = sum(len(v) for v in vertices)
        vertices.append(np.stack([middle[0] + a, middle[1] + up * top, middle[2] + b], axis=1))
        gap = 0.35 * (4.2 - top) - 0.02
        gap[(np.hypot(a, b) > 0.95 * radius) | ((number == 36) & (a > 1.0))] = np.nan
        residual.append(gap)
        cells = np.arange(23 * 23).reshape(23, 23)
        p, q, r, s = (
            cells[:-1, :-1].ravel(),
            cells[1:, :-1].ravel(),
            cells[1:, 1:].ravel(),
            cells[:-1, 1:].ravel(),
        )
        faces.append(start + np.vstack([np.stack([p, q, r], axis=1), np.stack([p, r, s], axis=1)]))
        shown = number if arch == "lower" else {4: 1, 3: 2}[number // 10] * 10 + number % 10
        teeth.append(np.full(2 * 22 * 22, shown))
    every = np.vstack(vertices)
    places = (
        (say("void at {tooth}", tooth="46"), tuple(float(c) for c in vertices[1][264])),
        (say("stands off at {tooth}", tooth="37"), tuple(float(c) for c in vertices[13][264])),
        ("touches gum behind 47", tuple(float(c) for c in vertices[0][30])),
        ("perforated at 31", tuple(float(c) for c in vertices[7][264])),
    )
    return ResidualMap(
        "W1",
        arch,
        every,
        np.vstack(faces).astype(np.int32),
        np.concatenate(teeth).astype(np.int32),
        np.concatenate(residual),
        places if spots else (),  # type: ignore[arg-type]
    )


def make_foils(*, fitted: bool = True, closure: str = "light") -> FoilChart:
    """Return foils of both arches' back teeth; three of them differ."""
    teeth = (18, 17, 16, 15, 14, 24, 25, 26, 27, 28, 48, 47, 46, 45, 44, 34, 35, 36, 37, 38)
    mouth = {t: ("holds", "drags", "free")[k % 3] for k, t in enumerate(teeth) if t not in (18, 48)}
    casts = dict(mouth) | {16: "holds", 27: "holds", 36: "drags"}
    differs = tuple(t for t in teeth if mouth.get(t) != casts.get(t))
    gaps = {t: (5.0 * (k % 9), 5.0 * (k % 9) - 12.0, 5.0 * (k % 9) + 15.0) for k, t in enumerate(teeth)}
    return FoilChart(
        "CR",
        FoilSide("mouth", closure, 12.0, mouth),
        FoilSide("mounting", closure, 12.0, casts),
        teeth,
        differs,
        gaps if fitted else {},
    )


def make_split() -> SplitPlane:
    """Return three gaps of a base and what they come to at condyles and molars."""
    places = np.array([[40.0, 0.0], [10.0, 25.0], [10.0, -25.0], [22.0, 4.0]])
    plane = np.array([0.05, 0.004, 0.006])
    gaps = plane[0] + places @ plane[1:]
    carried = tuple(
        (words, ahead, right, float(plane[0] + plane[1] * ahead + plane[2] * right), 0.08)
        for words, ahead, right in (
            (say("right condyle"), 0.0, 50.0),
            (say("left condyle"), 0.0, -50.0),
            ("right second molar", 45.0, 28.0),
            ("left second molar", 45.0, -28.0),
        )
    )
    return SplitPlane("W1", places, gaps, np.full(4, 0.03), plane, carried)


def make_causes() -> tuple[Cause, ...]:
    """Return causes with texts long enough to need several lines."""
    long = "the second record does not seat on the base, and the pin stands 0.4 mm above what was predicted"
    return (
        Cause(
            "moved",
            "the lower cast moved while the stone set",
            0.62,
            (long, "marks before and after set"),
            "mount the lower cast anew",
            45.0,
            "measure the marks once more with the record in (10 min)",
        ),
        Cause(
            "record",
            "the record did not seat on the right side",
            0.21,
            (long,),
            "seat the record again",
            10.0,
        ),
        Cause("nothing", "nothing wrong", 0.004, (), "keep the mounting", 0.0),
    )


def make_record() -> RecordEvidence:
    """Return everything behind question 3."""
    return RecordEvidence(make_scatter(), (make_map("upper"), make_map("lower")))


def make_mounting() -> MountingEvidence:
    """Return everything behind question 4."""
    foils = (make_foils(), make_foils(fitted=False, closure="firm"))
    return MountingEvidence(foils, (make_split(),), make_causes())


#: Steps as question 8 tells them: key, words, share of the first number, own doubt (1 SD, mm), assumed.
STEPS = (
    ("record", say("how far CR records of one patient differ"), 0.52, 0.14, False),
    ("seat", say("how the lower cast sits in the record"), 0.21, 0.09, True),
    ("luting", say("movement of the lower cast while it is luted"), 0.12, 0.07, True),
    ("stone_lower", say("setting expansion of the stone under the lower cast"), 0.08, 0.055, True),
    ("facebow", say("hinge axis against the axis of the facebow"), 0.048, 0.04, False),
    ("plate", say("mounting plate taken off and put back"), 0.013, 0.02, True),
    ("play", say("play of the centric lock"), 0.006, 0.012, True),
    ("material", say("dimensional change of the record material"), 0.003, 0.01, True),
)


def make_budget(
    what: str = "height at the second molar, right", turn: int = 0, prior: float | None = 0.31
) -> Budget:
    """Return the budget of one number; ``turn`` makes another step the largest."""
    shares = [step[2] for step in STEPS]
    shares = shares[-turn:] + shares[:-turn] if turn else shares
    bars = [
        BudgetBar(key, words, share, 0.7 * share, min(1.0, 1.3 * share), sd, assumed)
        for (key, words, _, sd, assumed), share in zip(STEPS, shares, strict=True)
    ]
    return Budget(say(what), say("mm"), 0.194, tuple(sorted(bars, key=lambda b: -b.share)), prior)


def make_budgets() -> tuple[Budget, ...]:
    """Return the budgets of five numbers; another step is the largest in each."""
    words = (
        "height at the second molar, right", "height at the second molar, left", "height at the incisors",
        "ahead, at the incisors", "to the right, at the incisors",
    )  # fmt: skip
    return tuple(make_budget(what, k, 0.31 if k == 0 else None) for k, what in enumerate(words))


def make_better() -> tuple[Better, ...]:
    """Return seven measurements, one of them without a known time."""
    told = (
        (say("two more CR records, averaged by their marks"), 0.121, 15.0),
        (say("the record taken off and put back five times, read on four marks with the dial gauge each time"), 0.14, 12.0),
        (say("a hinge axis located on the patient instead of the usual distance"), 0.165, 40.0),
        (say("marks before and after the stone has set"), 0.17, 5.0),
        (say("foils in the mouth at six pairs of teeth"), 0.18, 8.0),
        (say("pin read before and after"), 0.19, 1.0),
        (say("the plate taken off and put back five times"), 0.192, float("nan")),
    )  # fmt: skip
    return tuple(Better(words, 0.194, then, minutes) for words, then, minutes in told)


def make_chances(count: int = 28, *, after: bool = True) -> ContactChances:
    """Return chances of so many teeth: certain, likely, rare, never; one in a hole, one that is no number, one gap far up."""
    numbers = [t for arch in ("upper", "lower") for t in right_to_left(arch) if t % 10 < 8]  # type: ignore[arg-type]
    if count == 3:
        numbers = [16, 26, 46]
    teeth = []
    for k, number in enumerate(numbers):
        first = (0.004, 0.62, 0.31, 0.08, 0.02, 0.0, 0.003, 0.0, 0.0, 0.012, 0.06, 0.2, 0.5, 1.0)[k % 14]
        holds = min(1.0, 1.4 * first + 0.02 * (k % 7))
        middle = 180.0 * (1.0 - first) ** 2 + 7.0 * (k % 5)
        gap = (middle, max(-4.0, 0.4 * middle - 8.0), 1.5 * middle + 12.0)
        if number == 11:
            gap = (1500.0, 1310.0, 1720.0)
        if number == 42:
            first, gap = float("nan"), (float("nan"), float("nan"), float("nan"))
        u = (first * (1.0 - first) / 2000.0) ** 0.5
        teeth.append(ToothChance(number, first, holds, u, 0.011, None if number == 41 else gap, number == 35))
    return ContactChances(12.0, "light", tuple(teeth), 2000, after)


def make_doubt(count: int = 28) -> DoubtEvidence:
    """Return everything behind question 8."""
    line = say(
        "CR records limit this mounting: they make 52 % of the doubt of the height at the second molars. Two more records "
        "would take it from ± 0.38 to ± 0.24 mm."
    )
    return DoubtEvidence(make_budgets(), make_better(), make_chances(count), line)
