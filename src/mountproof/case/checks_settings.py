"""Can an instrument be set as its case says, and does every typed angle have its plane?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from mountproof.case.finding import Finding
from mountproof.case.lines import Path
from mountproof.case.model import Case, Measured, PlaneName, Takes
from mountproof.case.takes import ends_of
from mountproof.case.tooth_numbers import told_otherwise
from mountproof.said import say, term

#: Each range of the instrument, and the setting of a joint that it bounds.
_SETTINGS: Final = (("inclination", "inclination_deg"), ("lateral", "lateral_deg"), ("shift", "shift_mm"))


def setting_findings(case: Case) -> Iterator[Finding]:
    """Yield what is wrong with the typed settings, the range of the instrument, and the space that is wanted."""
    yield from _range_findings(case)
    yield from _plane_findings(case)
    for side in ("right", "left"):
        joint = getattr(case.settings, side)
        for range_, name in _SETTINGS:
            given: Measured | None = getattr(joint, name)
            if given is not None:
                yield from _beyond(case, ("settings", side, name), range_, given.value)
        if joint.over_mm is not None and joint.inclination_deg is None:
            yield Finding(
                "case.missing_field",
                ("settings", side, "over_mm"),
                say("a length is given here, but no inclination that was taken over it"),
                say("Add inclination_deg, or take over_mm out"),
            )
    yield from _wanted_findings(case)


def _range_findings(case: Case) -> Iterator[Finding]:
    if case.instrument is None:
        return
    for name, _ in _SETTINGS:
        ends = ends_of(getattr(case.instrument.takes, name))
        if ends.lowest is not None and ends.highest is not None and ends.lowest >= ends.highest:
            yield Finding(
                "case.contradiction",
                ("instrument", "takes", name),
                say("a range goes from its lowest to its highest setting; here it does not"),
                say("Put lowest and highest right"),
                say("{low:g} to {high:g}", low=ends.lowest, high=ends.highest),
            )


def _plane_findings(case: Case) -> Iterator[Finding]:
    against = case.settings.against
    if against is None or against is PlaneName.INSTRUMENT:
        return
    if case.plane is None or case.plane.name is not against:
        yield Finding(
            "case.reference",
            ("settings", "against"),
            say(
                "the settings are against {plane}, which is not the plane of this case", plane=term(against.value)
            ),
            say("Put this plane under plane with its tilt, or give the settings as the instrument's own scale shows them"),
            f'"{against.value}"',
        )  # fmt: skip
    elif case.plane.tilt_deg is None:
        yield Finding(
            "case.missing_field",
            ("plane", "tilt_deg"),
            say("the settings are against this plane, and how it is tilted is not said"),
            say("Add tilt_deg, or give the settings as the instrument's own scale shows them"),
        )


def _beyond(case: Case, path: Path, name: str, value: float) -> Iterator[Finding]:
    """A setting that its own instrument cannot be set to was read or typed wrongly."""
    takes = Takes() if case.instrument is None else case.instrument.takes
    ends = ends_of(getattr(takes, name))
    shown = value
    if name == "inclination" and case.settings.against not in (None, PlaneName.INSTRUMENT):
        if case.plane is None or case.plane.tilt_deg is None:
            return
        shown = value + case.plane.tilt_deg.value
    low, high = ends.lowest, ends.highest
    if (low is not None and shown < low) or (high is not None and shown > high):
        yield Finding(
            "case.contradiction",
            path,
            say("this articulator cannot be set to that: see instrument.takes"),
            say("Read the scale again, or put the range of the instrument right"),
            say("{value:g} on its own scale", value=shown),
            _allowed(low, high),
            about=("instrument", "takes", name),
        )


def _allowed(low: float | None, high: float | None) -> str:
    if low is None:
        return say("at most {high:g}", high=high or 0.0)
    return (
        say("at least {low:g}", low=low) if high is None else say("{low:g} to {high:g}", low=low, high=high)
    )


def _wanted_findings(case: Case) -> Iterator[Finding]:
    given = ((one.teeth, one.thickness_mm) for one in case.space.wanted)
    for at, i, tooth, before, now in told_otherwise(given):
        yield Finding(
            "case.contradiction",
            ("space", "wanted", at, "teeth", i),
            say(
                "tooth {tooth} shall have {before:g} mm, and here {now:g} mm",
                tooth=tooth,
                before=before,
                now=now,
            ),
            say("Name each tooth once"),
            str(tooth),
        )
    if case.space.pin_reads is not None and case.instrument is None:
        yield Finding(
            "case.missing_field",
            ("space", "pin_reads"),
            say("a pin reading needs the lengths of the instrument and its pin"),
            say("Fill in instrument.pin, or take pin_reads out"),
        )
