"""The page inside a notebook."""

from __future__ import annotations

import html

from sitepipe.analysis import Analysis

HEIGHT = 640
"""Height of the frame. [px]"""


def as_html(analysis: Analysis) -> str:
    """Return the map as a frame that a notebook shows in place, closed off from the notebook around it."""
    from sitepipe.mapping.page import draw_map

    page = html.escape(draw_map(analysis), quote=True)
    title = html.escape(f"Map of {analysis.site.name}", quote=True)
    return (
        f'<iframe title="{title}" sandbox="allow-scripts" width="100%" height="{HEIGHT}" '
        f'style="border:1px solid #1C2328" srcdoc="{page}"></iframe>'
    )


def show_in_notebooks() -> None:
    """Let a notebook show an analysis as its map; the records themselves know nothing of pages."""
    setattr(Analysis, "_repr_html_", as_html)  # noqa: B010 (a record of a lower room gains a view here)
