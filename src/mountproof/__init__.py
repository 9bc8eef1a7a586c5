"""Mountproof: mount casts on an articulator and know whether the mounting can be trusted."""
