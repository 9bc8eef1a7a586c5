"""Run every console block again and write the pages made from the program. Called by ``tools/pages``."""

from __future__ import annotations

import tempfile
from pathlib import Path

from docs.console import DOCS, blocks, renewed
from docs.generate import ROOT, answers_page, commands_page, entries_of, example_sheets


def pages_with_blocks() -> list[Path]:
    """Every page that shows output of the program."""
    pages = [ROOT / "README.md", *sorted(DOCS.rglob("*.md"))]
    return [page for page in pages if blocks(page.read_text(encoding="utf-8"))]


def main() -> None:
    """Write what changed."""
    made = {
        DOCS / "commands.md": commands_page(),
        DOCS / "answers.md": answers_page(entries_of(example_sheets())),
    }
    for page in pages_with_blocks():
        with tempfile.TemporaryDirectory() as place:
            made[page] = renewed(page.read_text(encoding="utf-8"), Path(place))
    for page, text in made.items():
        if not page.exists() or page.read_text(encoding="utf-8") != text:
            page.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
