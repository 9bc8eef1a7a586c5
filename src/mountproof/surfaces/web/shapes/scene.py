"""The picture in space as it travels: every text in the language asked for."""

from __future__ import annotations

from collections.abc import Iterable

from mountproof.answers.result import Need
from mountproof.answers.scene import Scene
from mountproof.answers.scene_parts import SceneArch, SceneLabel, SceneLine, ScenePlace, SceneSite, SceneStop
from mountproof.geometry.poses import Array
from mountproof.said import say
from mountproof.surfaces.palette import BANDS, CITATION, HOLE, TOOTH, Band, band_words, hexadecimal
from mountproof.surfaces.web.scene_binary import RELIEF_MM, scene_size
from mountproof.surfaces.web.shapes.basics import need_out
from mountproof.surfaces.web.tongue import Speak, System, speaker
from mountproof.surfaces.web.wire import (
    ArchMeshOut,
    AtOut,
    BandOut,
    LabelOut,
    LineOut,
    SceneOut,
    SiteOut,
    SlideOut,
    StopOut,
)

#: A hundredth of a micrometre: more than any picture shows.
_DECIMALS = 5


def scene_out(
    scene: Scene,
    revision: int,
    case_id: int,
    of: str,
    needs: Iterable[Need],
    language: str,
    numbering: System,
) -> SceneOut:
    """Return the scene of a revision; ``of`` names what its surfaces were made from, so that old ones are not mixed in."""
    speak = speaker(language, numbering)
    edges = scene.evidence.band_edges_mm if scene.evidence is not None else ()
    now = None if scene.first is None else stop_out(scene.stop(scene.first), scene.first, speak)
    return SceneOut(
        revision=revision,
        headline=speak(scene.headline),
        notes=[speak(note) for note in scene.notes],
        arches=[_arch(arch, case_id, revision, of) for arch in scene.arches],
        lines=[_line(line, speak) for line in scene.lines],
        labels=[_label(label, speak) for label in scene.labels],
        bands=[
            _band(BANDS[rank], edge, speak(text.long))
            for rank, (edge, text) in enumerate(zip(edges, band_words(edges) if edges else (), strict=True))
        ],
        unknown=_band(HOLE, 0.0, speak(say("unknown: a hole of a scan"))),
        tooth_colour=hexadecimal(TOOTH),
        palette=speak(CITATION),
        steps=[
            SlideOut(closed_rad=step.closed_rad, shown=speak(step.words), pin=speak(step.pin))
            for step in scene.steps
        ],
        stops=list(scene.stops),
        first=scene.first,
        now=now,
        pictures=scene.evidence is not None,
        right_words=speak(say("patient's right")),
        left_words=speak(say("patient's left")),
        needs=[need_out("contacts", need, language, numbering) for need in needs],
        work=None,
    )


def waiting_out(revision: int, headline: str, work: str | None, language: str) -> SceneOut:
    """Return an empty scene while its answer is being made, or was stopped."""
    speak = speaker(language, "iso3950")
    return SceneOut(
        revision=revision,
        headline=speak(headline),
        notes=[],
        arches=[],
        lines=[],
        labels=[],
        bands=[],
        unknown=_band(HOLE, 0.0, speak(say("unknown: a hole of a scan"))),
        tooth_colour=hexadecimal(TOOTH),
        palette=speak(CITATION),
        steps=[],
        stops=[],
        first=None,
        now=None,
        pictures=False,
        right_words=speak(say("patient's right")),
        left_words=speak(say("patient's left")),
        needs=[],
        work=work,
    )


def stop_out(stop: SceneStop, number: int, speak: Speak) -> StopOut:
    """Return what is to be told at one place of the slider."""
    step = stop.step
    return StopOut(
        step=number,
        closed_rad=step.closed_rad,
        shown=speak(step.words),
        pin=speak(step.pin),
        sites=[_site(site, speak) for site in stop.sites],
        labels=[_label(label, speak) for labels in stop.contours for label in labels],
        notes=[speak(note) for note in stop.notes],
    )


def at_out(place: ScenePlace, speak: Speak) -> AtOut:
    """Return what stands at a tapped place."""
    return AtOut(
        words=speak(place.words),
        tooth=speak(place.tooth),
        opposite=speak(place.opposite),
        along=speak(place.along),
        normal=speak(place.normal),
        point_mm=_point(place.point_mm),
        point_shown=speak(place.point_words),
    )


def _arch(arch: SceneArch, case_id: int, revision: int, of: str) -> ArchMeshOut:
    return ArchMeshOut(
        arch=arch.arch,
        url=f"/api/cases/{case_id}/scene/{arch.arch}.bin?revision={revision}&of={of[:16]}",
        vertices=len(arch.vertices_mm),
        faces=len(arch.faces),
        bytes=scene_size(arch),
        relief_mm=RELIEF_MM,
    )


def _line(line: SceneLine, speak: Speak) -> LineOut:
    return LineOut(
        key=line.key,
        kind=line.kind,
        words=speak(line.words),
        points_mm=[_point(point) for point in line.points_mm],
        moves=line.moves,
        assumed=line.assumed,
    )


def _label(label: SceneLabel, speak: Speak) -> LabelOut:
    return LabelOut(
        kind=label.kind, words=speak(label.words), point_mm=_point(label.point_mm), moves=label.moves
    )


def _site(site: SceneSite, speak: Speak) -> SiteOut:
    return SiteOut(
        key=site.key,
        upper_tooth=speak(site.upper_tooth),
        lower_tooth=speak(site.lower_tooth),
        words=speak(site.words),
        along=speak(site.along),
        normal=speak(site.normal),
        point_mm=_point(site.upper_point_mm),
        lower_point_mm=_point(site.lower_point_mm),
        point_shown=speak(site.point_words),
        facing=speak(site.facing),
        holds=speak(site.holds),
    )


def _band(band: Band, upto_mm: float, text: str) -> BandOut:
    return BandOut(
        upto_mm=upto_mm,
        colour=hexadecimal(band.rgb),
        ink=hexadecimal(band.ink),
        pattern=band.pattern,
        pitch_mm=band.pitch_mm,
        stroke_mm=band.stroke_mm,
        words=text,
    )


def _point(point: Array) -> tuple[float, float, float]:
    x, y, z = (round(float(v), _DECIMALS) + 0.0 for v in point)
    return x, y, z
