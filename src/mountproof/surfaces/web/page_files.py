"""The files of the built page: read once when the server starts, and nothing else is ever served."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

#: Where the build of the page is put.
PAGE = Path(__file__).parent / "page"
_KINDS = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".ico": "image/x-icon",
    ".woff2": "font/woff2",
    ".wasm": "application/wasm",
    ".txt": "text/plain; charset=utf-8",
}
_NOT_BUILT = """<!doctype html><html lang="en"><meta charset="utf-8"><title>mountproof</title>
<h1>The page is not built</h1>
<p>This copy of the program came without its page. In a checkout, build it with <code>make page</code>; the command
line does everything else.</p></html>
"""


class PageFile(NamedTuple):
    """One file of the page. ``lasting``: its name changes with what is in it, so that it may be kept for ever."""

    data: bytes
    kind: str
    tag: str
    lasting: bool


def page_files(folder: Path = PAGE) -> Mapping[str, PageFile]:
    """Return every file of the page by its address. An address is looked up here and never leads to the disk."""
    found: dict[str, PageFile] = {}
    for file in sorted(folder.rglob("*")) if folder.is_dir() else ():
        name = file.relative_to(folder).as_posix()
        if file.suffix in _KINDS and file.is_file() and not any(p.startswith(".") for p in Path(name).parts):
            found[f"/{name}"] = _file(file.read_bytes(), _KINDS[file.suffix], name.startswith("assets/"))
    if "/index.html" not in found:
        found["/index.html"] = _file(_NOT_BUILT.encode(), _KINDS[".html"], False)
    return found


def _file(data: bytes, kind: str, lasting: bool) -> PageFile:
    return PageFile(data, kind, f'"{hashlib.sha256(data).hexdigest()[:32]}"', lasting)
