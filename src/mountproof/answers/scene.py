"""The picture in space of one case: made from the answer to the contacts, or of what is placed so far."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from mountproof.answers.contact_evidence import ContactEvidence
from mountproof.answers.ledger import Ledger
from mountproof.answers.placement import placements
from mountproof.answers.result import Answer
from mountproof.answers.scan_units import unit_mm
from mountproof.answers.scans import read_entry, stand
from mountproof.answers.scene_arches import arch_without_gap, arches_with_gap
from mountproof.answers.scene_at import place_at
from mountproof.answers.scene_lines import scene_lines
from mountproof.answers.scene_parts import SceneArch, SceneLabel, SceneLine, ScenePlace, SceneStep, SceneStop
from mountproof.answers.scene_pin import pin_scene
from mountproof.answers.scene_sites import scene_steps, scene_stop
from mountproof.answers.scene_teeth import tooth_labels
from mountproof.case.model import Case
from mountproof.faults import Fault, FaultError
from mountproof.geometry.topology import border_edges
from mountproof.occlusion.incline import tooth_frames
from mountproof.occlusion.view import OcclusalView, occlusal_view
from mountproof.said import say
from mountproof.teeth import Arch

_NO_GAP = Fault(
    "scene.no_gap",
    say("no gap is known yet between these casts"),
    say("Scan and place both casts, and enter the relation of the CR record"),
)


@dataclass(frozen=True, slots=True)
class Scene:
    """Surfaces, lines, labels and the places of the slider.

    ``steps``: every place of the slider, from open to closed; ``stops``: numbers of those where it stops by itself;
    ``first``: number of the step of first contact, None where no gap is known. ``headline``: the answer to the contacts in one
    sentence; ``notes``: what keeps the picture from being whole.
    """

    case: Case
    arches: tuple[SceneArch, ...]
    lines: tuple[SceneLine, ...]
    labels: tuple[SceneLabel, ...]
    steps: tuple[SceneStep, ...]
    stops: tuple[int, ...]
    first: int | None
    headline: str
    notes: tuple[str, ...]
    evidence: ContactEvidence | None

    def stop(self, step: int) -> SceneStop:
        """Return what is to be told at one place of the slider. FaultError where there is none."""
        evidence = self._known()
        if not 0 <= step < len(self.steps):
            raise FaultError(
                [
                    Fault(
                        "scene.no_such_step",
                        say("the slider has no such place"),
                        say("Open the picture again"),
                        got=str(step),
                    )
                ]
            )
        upper, lower = self.arches
        return scene_stop(self.case, evidence, (upper, lower), self.steps[step])

    def at(self, arch: Arch, face: int, weights: tuple[float, float, float], closed_rad: float) -> ScenePlace:
        """Return what stands at a place of an arch. FaultError where there is none."""
        return place_at(self.case, self._known(), arch, face, weights, closed_rad)

    def view(self, arch: Arch, step: int) -> OcclusalView:
        """Return one occlusal view with the gap at one place of the slider, sites as ``stop`` lists them.

        FaultError where no gap is known or the slider has no such place.
        """
        evidence, stop = self._known(), self.stop(step)
        upper = arch == "upper"
        surface = evidence.sited.upper if upper else evidence.sited.lower
        points = [s.upper_point_mm if upper else s.lower_point_mm for s in stop.sites]
        return occlusal_view(
            evidence.views[0 if upper else 1].frame,
            surface.vertices_mm,
            surface.faces,
            evidence.upper_teeth if upper else evidence.lower_teeth,
            evidence.sited.closing,
            band_edges_mm=evidence.band_edges_mm,
            closed_rad=stop.step.closed_rad,
            border=border_edges(surface.faces),
            sites_mm=np.array(points).reshape(-1, 3),
        )

    def _known(self) -> ContactEvidence:
        if self.evidence is None:
            raise FaultError([_NO_GAP])
        return self.evidence


def scene(case: Case, contacts: Answer) -> Scene:
    """Return the picture of a case. ``contacts``: its answer to the contacts, with the evidence where there is any.

    Without evidence it shows the casts that are placed; what keeps the others out stands in the notes.
    """
    if isinstance(contacts.evidence, ContactEvidence):
        return _whole(case, contacts, contacts.evidence)
    lines, labels = scene_lines(case, pin_scene(case, 0.0))
    arches, notes = _placed(case)
    for arch in arches:
        # Only the faces' numbers are known to the frames; vertices carry one of theirs.
        frames = tooth_frames(arch.vertices_mm, arch.faces, arch.tooth[arch.faces].min(axis=1), arch.arch)
        labels += tooth_labels(case, arch, frames)
    return Scene(case, arches, lines, labels, (), (), None, contacts.headline, notes, None)


def _whole(case: Case, contacts: Answer, evidence: ContactEvidence) -> Scene:
    first = evidence.table.closed_rad
    pin = pin_scene(case, first)
    lines, labels = scene_lines(case, pin)
    arches = arches_with_gap(evidence)
    for arch, frames in zip(arches, (evidence.sited.upper_frames, evidence.sited.lower_frames), strict=True):
        labels += tooth_labels(case, arch, frames)
    steps, stops = scene_steps(evidence, pin)
    at = next(k for k, step in enumerate(steps) if step.closed_rad == first)
    notes = tuple(line.words for line in lines if line.assumed)
    return Scene(case, arches, lines, labels, steps, stops, at, contacts.headline, notes, evidence)


def _placed(case: Case) -> tuple[tuple[SceneArch, ...], tuple[str, ...]]:
    """Return the casts that can be placed without their relation, and why others cannot."""
    arches: list[SceneArch] = []
    notes: list[str] = []
    for entry in case.scans:
        only = case.scans if entry.placement.with_other_arch else (entry,)
        try:
            placed = placements(
                case.model_copy(update={"scans": only}),
                Ledger("contacts"),
                {e.arch: unit_mm(e) for e in only},
            )[entry.arch]
            stood = stand(case, entry, read_entry(case, entry), placed, None)
        except FaultError as error:
            notes += [say("{what}. {todo}.", what=f.what, todo=f.todo.rstrip(".")) for f in error.faults]
            continue
        arches.append(arch_without_gap(entry.arch.value, stood.scan))
    if len(arches) == 2:
        notes.append(
            say(
                "How the casts stand to each other in CR is not known: the lower is shown where its placement puts it."
            )
        )
    return tuple(arches), tuple(notes)
