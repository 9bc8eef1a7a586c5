"""Read first by every process that works for the registry on this computer."""

from __future__ import annotations

import gc
import signal

import mountproof.surfaces.registry.one  # noqa: F401  so that the first case of each process is no slower than the others

# Ctrl+C reaches the whole group of a terminal; it is the driver that ends its workers.
signal.signal(signal.SIGINT, signal.SIG_IGN)
gc.freeze()
