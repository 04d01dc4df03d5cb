"""From the files of a site folder to a Site."""

from sitepipe.reading import hardening

__all__ = ["hardening"]
