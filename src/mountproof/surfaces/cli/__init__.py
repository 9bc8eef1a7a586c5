"""The command line."""

from __future__ import annotations


def main() -> None:
    """Run the command line (the entry point of the installed program)."""
    import os

    # Our matrices are small: threads of the linear algebra library would only wait for each other.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    from mountproof.surfaces.cli.app import run

    run()
