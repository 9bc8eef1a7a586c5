"""The published description of the server: ``docs/openapi.json``, from which the page's types are made.

``python -m mountproof.surfaces.web.described`` writes it.
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


if __name__ == "__main__":
    (Path(__file__).parents[4] / "docs" / "openapi.json").write_text(described(), encoding="utf-8")
