"""Writing: rasters, vectors, printed sheets, exports and provenance, all or nothing."""

from sitepipe.reading import hardening

__all__ = ["hardening"]  # Imported first of all, so that the file libraries start in its environment.
