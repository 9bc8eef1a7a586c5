"""From data to the bytes of a PDF, by one of our templates. The same data gives the same bytes, on any day."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

import typst

from mountproof.surfaces.report.text import FONTS

_HERE = Path(__file__).parent
_COMMON = "common.typ"


@lru_cache(maxsize=1)
def _fonts() -> typst.Fonts:
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(FONTS)])


def typeset(template: str, data: dict[str, Any], files: dict[str, bytes]) -> bytes:
    """Return a tagged PDF: PDF/UA-1, and PDF/A-2a too where ``data`` has a date. ``files`` are pictures by name."""
    source: Any = {  # the stubs do not know of several files
        "main": (_HERE / template).read_bytes(),
        _COMMON: (_HERE / _COMMON).read_bytes(),
        **files,
    }
    made: bytes = typst.compile(
        source,
        format="pdf",
        font_paths=_fonts(),
        ignore_system_fonts=True,
        sys_inputs={"sheet": json.dumps(data, ensure_ascii=False)},
        pdf_standards=["ua-1", "a-2a"] if data["date"] is not None else ["ua-1"],
        timestamp=0,
    )
    return made
