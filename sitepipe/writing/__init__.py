"""Rasters, vectors, printed sheets, provenance."""
