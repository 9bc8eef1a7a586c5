"""An occlusal view as a picture for the page and for paper: pixels below, lines and numbers above, to scale."""

from __future__ import annotations

import base64
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from mountproof.answers.foils import written
from mountproof.answers.scene import Scene
from mountproof.surfaces.report.pictures import occlusal_picture
from mountproof.surfaces.report.raster import as_png
from mountproof.teeth import Arch

#: Width of one picture on paper, mm: two stand beside each other on a sheet.
WIDTH_MM = 88.0
_MM_PER_PT = 25.4 / 72.0
_ANCHORS = {"left": "start", "center": "middle", "right": "end"}
_DASHES = {"dashed": "1.2 0.9", "dotted": "0.25 0.75"}
_FACE = "'Source Sans 3','Segoe UI','Helvetica Neue',Arial,sans-serif"


def occlusal_svg(scene: Scene, arch: Arch, step: int) -> bytes:
    """Return one occlusal view at one place of the slider as an SVG of ``WIDTH_MM``; the patient's right is on the left.

    FaultError where no gap is known or the slider has no such place.
    """
    view = scene.view(arch, step)
    edges = scene.evidence.band_edges_mm if scene.evidence is not None else ()
    picture, pixels = occlusal_picture(view, edges, WIDTH_MM, lambda tooth: written(scene.case, tooth))
    link = base64.b64encode(as_png(pixels)).decode("ascii")
    wide, high = picture.width, picture.height
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.2f}mm" height="{high:.2f}mm" '
        f'viewBox="0 0 {wide:.3f} {high:.3f}">',
        f'<image width="{wide:.3f}" height="{high:.3f}" preserveAspectRatio="none" href="data:image/png;base64,{link}"/>',
        *(_stroke(one) for one in picture.strokes),
        *(_dot(one) for one in picture.dots),
        f'<g font-family="{_FACE}" dominant-baseline="central">',
        *(_word(one) for one in picture.texts),
        "</g></svg>",
    ]
    return "".join(parts).encode()


def _stroke(one: dict[str, Any]) -> str:
    points = " ".join(f"{x:.2f},{y:.2f}" for x, y in one["points"])
    dash = f' stroke-dasharray="{_DASHES[one["dash"]]}"' if one["dash"] else ""
    kind = "polygon" if one["closed"] else "polyline"
    fill = quoteattr(one["fill"] or "none")
    return (
        f'<{kind} points="{points}" fill={fill} stroke={quoteattr(one["paint"])} stroke-linejoin="round" '
        f'stroke-linecap="round" stroke-width="{one["width"] * _MM_PER_PT:.3f}"{dash}/>'
    )


def _dot(one: dict[str, Any]) -> str:
    return (
        f'<circle cx="{one["x"]:.2f}" cy="{one["y"]:.2f}" r="{one["r"]:.2f}" fill={quoteattr(one["fill"])} '
        f'stroke={quoteattr(one["line"])} stroke-width="{0.7 * _MM_PER_PT:.3f}"/>'
    )


def _word(one: dict[str, Any]) -> str:
    bold = ' font-weight="bold"' if one["weight"] == "bold" else ""
    # A rim of paper around the letters keeps them readable over the bands.
    rim = ' stroke="#ffffff" stroke-width="0.9" stroke-opacity="0.85" paint-order="stroke" stroke-linejoin="round"'
    return (
        f'<text x="{one["x"]:.2f}" y="{one["y"]:.2f}" font-size="{one["size"] * _MM_PER_PT:.2f}"{bold} '
        f'text-anchor="{_ANCHORS[one["anchor"]]}" fill={quoteattr(one["paint"])}{rim if one["ground"] else ""}>'
        f"{escape(one['text'])}</text>"
    )
