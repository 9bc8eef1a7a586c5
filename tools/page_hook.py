"""A wheel without the page would start and show nothing: refuse to build one."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

PAGE = "src/mountproof/surfaces/web/page/index.html"


class PageHook(BuildHookInterface[Any]):
    """Look for the built page before a wheel is made; an editable installation may come first."""

    PLUGIN_NAME = "page"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Raise ``RuntimeError`` where the page is missing from a wheel."""
        if version != "editable" and not (Path(self.root) / PAGE).exists():
            raise RuntimeError("the page is not built yet: run `make page` first")
