"""Rigid motion, hinge rasters and exact contact. Arrays in, arrays out; knows no teeth and no files."""
