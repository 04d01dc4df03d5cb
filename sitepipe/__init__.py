"""From heights and one hand-drawn layer to a map of water, sun and what to build on wet ground."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sitepipe.analysis import Analysis, analyse

__all__ = ["Analysis", "analyse"]
__version__ = "0.1.0"


def __getattr__(name: str) -> object:
    """Import the pipeline only when it is asked for, so that ``sitepipe --help`` stays quick."""
    if name in __all__:
        # By name: every room may import this root for its version, and no room but the top ones may know of pages.
        import_module("sitepipe.mapping.inline").show_in_notebooks()
        return getattr(import_module("sitepipe.analysis"), name)
    raise AttributeError(f"module 'sitepipe' has no attribute {name!r}")
