"""Part of question 7: its tables."""

from __future__ import annotations

from mountproof.answers.change_stands import Stand
from mountproof.answers.change_swept import Swept, depth, front_pair, overlapping, pair_words, volume
from mountproof.answers.result import Table
from mountproof.case.model import Case
from mountproof.said import figure, say

#: Pairs that neither overlap nor come this near are not worth a line, mm along closure.
_NEAR_MM = 1.0


def height_table(case: Case, found: Swept) -> Table:
    """Return what every height takes: how many pairs, the most, the volume, and what is left open in front."""
    rows = []
    front = front_pair(found)
    for stand in found.heights.stands:
        if stand.key not in found.at:
            continue
        pin = found.heights.carried_pin(stand.closing)
        deep = overlapping(found, stand)
        most, all_of_it = "-", "-"
        if deep:
            off, sum_ = depth(found, deep[0], stand), volume(found, deep, stand)
            most = say(
                "{mm:.2f} ± {twice:.2f} ({pair})",
                mm=off.value,
                twice=2 * off.u,
                pair=pair_words(case, deep[0]),
            )
            low = max(sum_.value - 2 * sum_.u, 0.0)
            all_of_it = say(
                "{mm3:.1f} ({low:.1f} to {high:.1f})", mm3=sum_.value, low=low, high=sum_.value + 2 * sum_.u
            )
        left = "-"
        if front is not None:
            gap = -front.off(stand.closing)
            left = say("{mm:.2f} ± {twice:.2f}", mm=max(gap.value, 0.0) + 0.0, twice=2 * gap.u)
        rows.append(
            (
                stand.words,
                say("{mm:+.2f} ± {twice:.2f}", mm=pin.value, twice=2 * pin.u) if pin.u > 0.0 else figure(pin.value, ".2f"),
                figure(len(deep), "d"),
                most,
                all_of_it,
                left,
            )
        )  # fmt: skip
    return Table(
        say("What each height takes"),
        (
            say("height"),
            say("pin over MIP, mm") if found.heights.by_mip else say("pin over first contact, mm"),
            say("pairs that overlap"),
            say("most off, mm (pair)"),
            say("all off, mm3"),
            say("front still open, mm"),
        ),
        tuple(rows),
        say(
            "Off: across the surface, both teeth of a pair together. Open: along closure. ± 95 %, of the record and the "
            "placement."
        ),
    )  # fmt: skip


def pair_table(case: Case, found: Swept, target: Stand) -> Table:
    """Return every pair at one height: what comes off it, or what it lacks."""
    at = found.column(target)
    rows = []
    ordered = sorted(found.pairs, key=lambda p: -p.off(target.closing).value)
    told: set[int] = set()
    for pair in ordered:
        along = pair.off(target.closing)
        # What a tooth lacks is told once, against the opponent that it meets first.
        if along.value <= 0.0 and (along.value < -_NEAR_MM or {pair.upper, pair.lower} <= told):
            continue
        told |= {pair.upper, pair.lower}
        off = say("{mm:.2f} ± {twice:.2f}", mm=along.value, twice=2 * along.u)
        hole = say("at a hole: at least") if found.sweep.unknown_rad[pair.row] <= target.closing.value else ""
        if along.value > 0.0 and target.key in found.at:
            across = depth(found, pair, target)
            rows.append(
                (
                    pair_words(case, pair),
                    say("{mm:.2f} ± {twice:.2f}", mm=across.value, twice=2 * across.u),
                    off,
                    figure(float(found.sweep.upper_mm2[pair.row, at]), ".1f"),
                    figure(float(found.sweep.volume_mm3[pair.row, at]), ".2f"),
                    "-",
                    "-",
                    hole,
                )
            )
        else:
            gap = say("{mm:.2f} ± {twice:.2f}", mm=-along.value, twice=2 * along.u)
            fill = figure(float(found.sweep.fill_mm3[pair.row, at]), ".2f")
            rows.append((pair_words(case, pair), "-", "-", "-", "-", gap, fill, hole))
    return Table(
        say("Tooth by tooth at this height: {height}", height=target.words),
        (
            say("upper / lower"),
            say("off, across the surface mm"),
            say("off, along closure mm"),
            say("area mm2"),
            say("volume mm3"),
            say("or on, along closure mm"),
            say("on, mm3"),
            "",
        ),
        tuple(rows),
        say(
            "Off: both teeth together, at the deepest place. On: until the pair meets, over the patch within 0.1 mm of its "
            "first place. Each pair either loses or gains, or stays open."
        ),
    )


def order_table(case: Case, found: Swept, target: Stand) -> Table:
    """Return in which order the pairs join, as the pin comes down: the order of the first rounds of a trial."""
    rows = []
    meeting = sorted(overlapping(found, target), key=lambda p: p.meets.value)
    for n, pair in enumerate(meeting, start=1):
        later = (pair.meets - meeting[0].meets).times(pair.radius_mm)
        pin = found.heights.carried_pin(pair.meets)
        rows.append(
            (
                figure(n, "d"),
                pair_words(case, pair),
                say("{mm:+.2f} ± {twice:.2f}", mm=pin.value, twice=2 * pin.u),
                say("{mm:.2f} ± {twice:.2f}", mm=later.value, twice=2 * later.u) if n > 1 else "-",
            )
        )
    return Table(
        say("In which order pairs join on the way down"),
        (
            "",
            say("upper / lower"),
            say("pin over MIP, mm") if found.heights.by_mip else say("pin over first contact, mm"),
            say("after the first, mm along closure"),
        ),
        tuple(rows),
        say(
            "A trial on duplicate casts begins at the first and takes in the next as it joins. Where ± is wider than the "
            "step between two, either may come first."
        ),
    )  # fmt: skip
