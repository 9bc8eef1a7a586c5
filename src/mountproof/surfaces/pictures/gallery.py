"""All pictures of one answer, in the order in which they are looked at."""

from __future__ import annotations

from mountproof.answers.excursion_data import GuidanceEvidence
from mountproof.answers.picture_data import (
    ChangeEvidence,
    DoubtEvidence,
    MountingEvidence,
    RecordEvidence,
    SlidePath,
    SpaceChart,
)
from mountproof.answers.result import Answer
from mountproof.surfaces.pictures.better import better_plate
from mountproof.surfaces.pictures.budget import budget_plate
from mountproof.surfaces.pictures.budgets import budgets_plate
from mountproof.surfaces.pictures.causes import causes_plate
from mountproof.surfaces.pictures.chance_cast import cast_plate
from mountproof.surfaces.pictures.chances import chance_plate
from mountproof.surfaces.pictures.changes import pairs_plate, totals_plate
from mountproof.surfaces.pictures.foils import foil_plate
from mountproof.surfaces.pictures.gaps import gap_plate
from mountproof.surfaces.pictures.plate import Plate, Speak, Tooth
from mountproof.surfaces.pictures.replay import replay_plate
from mountproof.surfaces.pictures.residual import residual_plate
from mountproof.surfaces.pictures.scatter import scatter_plate
from mountproof.surfaces.pictures.settings import settings_plate, told
from mountproof.surfaces.pictures.slides import slide_plate
from mountproof.surfaces.pictures.space import space_plates
from mountproof.surfaces.pictures.splits import split_plate
from mountproof.surfaces.pictures.thirds import thirds_plate
from mountproof.surfaces.pictures.tradeoff import tradeoff_plate
from mountproof.surfaces.pictures.travel import travel_plate

#: Questions whose answers may carry pictures.
PICTURED = ("record", "mounting", "contacts", "guidance", "change", "doubt")


def gallery(
    answer: Answer, speak: Speak, tooth: Tooth = str, contacts: Answer | None = None
) -> tuple[Plate, ...]:
    """Return the pictures of an answer; ``speak`` says a text, ``tooth`` writes a tooth (ISO 3950).

    ``contacts``: the answer to the contacts of the same case, whose casts carry the chances of the teeth.
    """
    found = answer.evidence
    if isinstance(found, RecordEvidence):
        drawn = (
            [] if found.scatter is None or not found.scatter.dots else [scatter_plate(found.scatter, speak)]
        )
        maps = [residual_plate(one, f"record-{k + 1}", speak, tooth) for k, one in enumerate(found.maps)]
        return (*drawn, *maps)
    if isinstance(found, MountingEvidence):
        causes = [causes_plate(found, speak)] if found.causes else []
        foils = [foil_plate(one, f"foils-{k + 1}", speak, tooth) for k, one in enumerate(found.foils)]
        splits = [split_plate(one, f"split-{k + 1}", speak) for k, one in enumerate(found.splits)]
        return (*causes, *foils, *splits)
    if isinstance(found, GuidanceEvidence):
        card = [settings_plate(found, speak)] if told(found) else []
        return (*card, *(travel_plate(one, speak, tooth) for one in found.travels))
    if isinstance(found, ChangeEvidence):
        space = () if found.space is None else space_plates(found.space, speak, tooth)
        curves = (pairs_plate(found, speak, tooth), totals_plate(found, speak)) if found.curves else ()
        replays = [
            replay_plate(one, k, found, speak, tooth) for k, one in enumerate(found.replays) if one.rounds
        ]
        tips = (thirds_plate(found.across, speak, tooth),) if found.across else ()
        return (tradeoff_plate(found, speak, tooth), *curves, *tips, *replays, *space)
    if isinstance(found, SpaceChart):
        return space_plates(found, speak, tooth)
    if isinstance(found, DoubtEvidence):
        return _of_doubt(found, contacts, speak, tooth)
    # the evidence of the contacts by what it carries: its module needs kernels that a case without scans must not wait for
    slid = getattr(found, "slide", None)
    return (slide_plate(slid, speak),) if isinstance(slid, SlidePath) else ()


def _of_doubt(found: DoubtEvidence, contacts: Answer | None, speak: Speak, tooth: Tooth) -> tuple[Plate, ...]:
    drawn = []
    budgets = [one for one in found.budgets if one.bars]
    if budgets:
        drawn.append(budget_plate(budgets[0], found.limits_line, speak))
    if found.better:
        drawn.append(better_plate(found.better, speak))
    if len(budgets) > 1:
        drawn.append(budgets_plate(budgets, speak))
    chances = found.contacts
    if chances is None or not chances.teeth:
        return tuple(drawn)
    drawn.append(chance_plate(chances, speak, tooth))
    views = getattr(contacts.evidence, "views", ()) if contacts is not None else ()
    drawn += [cast_plate(chances, view, speak, tooth) for view in views]
    if any(one.gap_um is not None for one in chances.teeth):
        drawn.append(gap_plate(chances, speak, tooth))
    return tuple(drawn)
