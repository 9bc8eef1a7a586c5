"""The command line."""

from __future__ import annotations


def main() -> None:
    """Run the command line (the entry point of the installed program)."""
    import gc
    import os

    # One command, one short life: walking what was made so often costs a tenth of a bench answer's time.
    gc.disable()
    # Our matrices are small: threads of the linear algebra library would only wait for each other.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # Looking through everything that is installed for plug-ins of the case model costs as much again.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    from mountproof.surfaces.cli.app import run

    run()
