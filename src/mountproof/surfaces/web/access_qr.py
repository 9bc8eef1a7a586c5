"""A picture of an address that the camera of a tablet reads."""

from __future__ import annotations

import io

import segno


def qr_svg(address: str) -> str:
    """Return a QR code as SVG: dark on white whatever the look of the page, with the quiet zone that readers need."""
    sink = io.BytesIO()
    made = segno.make_qr(address, error="m")
    made.save(
        sink,
        kind="svg",
        scale=1,
        border=4,
        dark="#000",
        light="#fff",
        xmldecl=False,
        svgns=True,
        omitsize=True,
    )
    return sink.getvalue().decode("utf-8")
