"""Moved to mountproof.teeth (the case needs the names too); import from there."""

from mountproof.teeth import *  # noqa: F403
