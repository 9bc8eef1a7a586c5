"""The published description of the server: ``docs/openapi.json``, from which the page's types are made, and its page.

``python -m mountproof.surfaces.web.described`` writes both.
"""

from __future__ import annotations

import json
import tempfile
from pathlib import Path

from mountproof.surfaces.web.app import create_app


def described() -> str:
    """Return the text of ``docs/openapi.json``."""
    with tempfile.TemporaryDirectory(prefix="mountproof-") as folder:
        app = create_app(Path(folder))
        try:
            found = app.openapi()
        finally:
            app.state.bench.close()
    return json.dumps(found, indent=1, ensure_ascii=False) + "\n"


def addresses(description: str) -> str:
    """Return the text of ``docs/web-addresses.md``, read off a description of the server."""
    lines = [
        "# Addresses of the web bench",
        "",
        "Made from the program itself; what each takes and gives stands in [openapi.json](openapi.json). A change names",
        "who makes it in the header `X-Who`. Texts come in the language of `Accept-Language`, or of `?lang=`. What goes",
        "wrong comes as a list of faults, with a status from 400 to 499. How to use the bench:",
        "[The web bench](how-to/web-bench.md).",
        "",
        "| address | what it is |",
        "|---|---|",
    ]
    for path, methods in sorted(json.loads(description)["paths"].items()):
        lines += [f"| `{method.upper()} {path}` | {one['summary']} |" for method, one in methods.items()]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    docs = Path(__file__).parents[4] / "docs"
    text = described()
    (docs / "openapi.json").write_text(text, encoding="utf-8")
    (docs / "web-addresses.md").write_text(addresses(text), encoding="utf-8")
