"""The command line."""

from __future__ import annotations


def main() -> None:
    """Run the command line (the entry point of the installed program)."""
    from mountproof.surfaces.cli.app import run

    run()
