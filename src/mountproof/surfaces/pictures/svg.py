"""A plate as an SVG file that stands by itself: on paper, in a report, in another program."""

from __future__ import annotations

import base64
from xml.sax.saxutils import escape, quoteattr

from mountproof.surfaces.palette import BANDS, CHANCE_EDGES, HOLE, Band, hexadecimal
from mountproof.surfaces.pictures.plate import Image, Mark, Plate

_INK, _QUIET, _LINE = "#16181d", "#565b66", "#c9ccd2"
_BAR = hexadecimal(BANDS[1].rgb)
_LOOKS = {
    "thick": f'fill="none" stroke="{_INK}" stroke-width="2"',
    "soft": f'fill="none" stroke="{_QUIET}" stroke-width="1"',
    "faint": f'fill="none" stroke="{_LINE}" stroke-width="1"',
    "panel": f'fill="none" stroke="{_LINE}" stroke-width="1"',
    "open": f'fill="#ffffff" stroke="{_INK}" stroke-width="1.4"',
    "full": f'fill="{_INK}" stroke="#ffffff" stroke-width="0.8"',
    "usual1": f'fill="none" stroke="{_BAR}" stroke-width="1.2" stroke-dasharray="6 3"',
    "usual2": f'fill="{_BAR}" fill-opacity="0.10" stroke="{_BAR}" stroke-width="1.2" stroke-dasharray="6 3"',
    "doubt": f'fill="none" stroke="{_INK}" stroke-width="1.3" stroke-dasharray="1 3" stroke-linecap="round"',
    "tooth": f'fill="#f6f4ef" stroke="{_QUIET}" stroke-width="1"',
    "frame": f'fill="none" stroke="{_INK}" stroke-width="2.4"',
    "bar": f'fill="{_BAR}" stroke="none"',
    "level": f'fill="none" stroke="{_BAR}" stroke-width="1" stroke-dasharray="8 4"',
    "hollow": f'fill="#ffffff" stroke="{_BAR}" stroke-width="1.2"',
    "hollowlines": f'fill="none" stroke="{_BAR}" stroke-width="1"',
    "stroke": f'fill="none" stroke="{_INK}" stroke-width="1.4"',
    "strokeup": f'fill="none" stroke="{_INK}" stroke-width="2"',
    "dashes": f'fill="none" stroke="{_INK}" stroke-width="2" stroke-dasharray="7 4"',
    "spread": f'fill="{_BAR}" fill-opacity="0.22" stroke="none"',
    "edge": f'fill="none" stroke="{_QUIET}" stroke-width="1"',
    "outline": f'fill="none" stroke="{_QUIET}" stroke-width="0.6"',
    "contour": f'fill="none" stroke="{_INK}" stroke-width="0.5"',
}


def _fill(band: Band) -> str:
    return f'fill="{hexadecimal(band.rgb)}" stroke="none"'


def _pattern(band: Band) -> str:
    # Dots are strokes without a length, round at their ends.
    wide = 2.0 if band.pattern in ("dots", "sparse") else 0.8
    return f'fill="none" stroke="{hexadecimal(band.ink)}" stroke-width="{wide}" stroke-linecap="round"'


for _rank in range(len(CHANCE_EDGES)):
    _LOOKS[f"band{_rank}"] = _fill(BANDS[_rank])
    _LOOKS[f"pattern{_rank}"] = _pattern(BANDS[_rank])
_LOOKS["hole"], _LOOKS["holelines"] = _fill(HOLE), _pattern(HOLE)
_FACE = "'Source Sans 3','Segoe UI','Helvetica Neue',Arial,sans-serif"


def plate_svg(plate: Plate) -> bytes:
    """Return a plate as an SVG with its title and what is to be seen, 96 units to the inch."""
    wide, high = plate.width, plate.height + 28.0
    images = [*([plate.image] if plate.image is not None else []), *plate.more]
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{wide * 25.4 / 96:.2f}mm" '
        f'height="{high * 25.4 / 96:.2f}mm" viewBox="-4 -28 {wide + 8:.0f} {high:.0f}" font-family="{_FACE}">',
        f"<title>{escape(plate.title)}</title><desc>{escape(plate.alt)}</desc>",
        f'<rect x="-4" y="-28" width="{wide + 8:.0f}" height="{high:.0f}" fill="#ffffff"/>',
        f'<text x="0" y="-10" font-size="15" font-weight="bold" fill="{_INK}">{escape(plate.title)}</text>',
        *(_image(one) for one in images),
        *(_mark(one) for one in plate.marks),
        "</svg>",
    ]
    return "".join(parts).encode()


def data_address(image: Image) -> str:
    """Return the pixels of an image as an address that holds them."""
    return f"data:image/png;base64,{base64.b64encode(image.png).decode('ascii')}"


def _image(one: Image) -> str:
    return (
        f'<image x="{one.x:.1f}" y="{one.y:.1f}" width="{one.width:.1f}" height="{one.height:.1f}" '
        f'preserveAspectRatio="none" href="{data_address(one)}"/>'
    )


def _mark(one: Mark) -> str:
    if one.d:
        return f"<path d={quoteattr(one.d)} {_LOOKS[one.look]}/>"
    paint = _QUIET if one.look == "quiet" else _INK
    bold = ' font-weight="bold"' if one.look == "bold" else ""
    return (
        f'<text x="{one.x:.1f}" y="{one.y:.1f}" font-size="{one.size:g}" text-anchor="{one.anchor}" '
        f'dominant-baseline="central" fill="{paint}"{bold} stroke="#ffffff" stroke-width="3" '
        f'paint-order="stroke" stroke-linejoin="round">{escape(one.text)}</text>'
    )
