"""The program's version; part of every digest, so that an answer never outlives the program that made it."""

from __future__ import annotations

VERSION = "0.1.0"
