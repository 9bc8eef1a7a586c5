"""Interocclusal records: repeats, seating, thickness."""
