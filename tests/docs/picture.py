"""Turn page 1 of a PDF into a PNG of limited size: at most 256 colours, no dithering."""

from __future__ import annotations

import sys
from pathlib import Path

import pypdfium2
from PIL import Image

#: What a page on a screen may weigh.
LIMIT_BYTES = 300_000
_WIDTHS = (1240, 1100, 990, 900, 800)


def render(pdf: Path, png: Path) -> int:
    """Write page 1 as wide as the limit allows; return the number of bytes."""
    document = pypdfium2.PdfDocument(pdf)
    page = document[0]
    png.parent.mkdir(parents=True, exist_ok=True)
    for width in _WIDTHS:
        image = page.render(scale=width / page.get_width()).to_pil().convert("RGB")
        # By coverage of the colours, not by their number: the page is mostly grey, and the bands must keep theirs.
        small = image.quantize(256, method=Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE)
        small.save(png, optimize=True)
        if png.stat().st_size <= LIMIT_BYTES:
            break
    page.close()
    document.close()
    return png.stat().st_size


if __name__ == "__main__":
    sys.stdout.write(f"{render(Path(sys.argv[1]), Path(sys.argv[2])) / 1000:.0f} kB\n")
