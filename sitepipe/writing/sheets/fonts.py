"""The type of the sheets: one book face, embedded, so that a fraction prints everywhere."""

from __future__ import annotations

from functools import cache, lru_cache
from importlib import resources
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

REGULAR, BOLD, ITALIC = "sheet-regular", "sheet-bold", "sheet-italic"
_FILES = {REGULAR: "NotoSerif-Regular.ttf", BOLD: "NotoSerif-Bold.ttf", ITALIC: "NotoSerif-Italic.ttf"}
_LIKE = {"\u2011": "-", "\u200b": "", "\u00ad": ""}


@cache
def register() -> None:
    """Make the faces known to the PDF library, once."""
    folder = Path(str(resources.files("sitepipe.writing"))) / "fonts"
    for name, file in _FILES.items():
        pdfmetrics.registerFont(TTFont(name, str(folder / file)))


def printable(text: str) -> str:
    """Return a text in signs that the face has; others become an empty box, so that their loss shows.

    Examples
    --------
    >>> printable("Łąka 沼")
    'Łąka □'
    """
    register()
    known = pdfmetrics.getFont(REGULAR).face.charToGlyph
    kept = "".join(_LIKE.get(sign, sign) for sign in text)
    return "".join(sign if ord(sign) in known else "□" for sign in kept)


@lru_cache(maxsize=20_000)
def width_of(text: str, size: float, face: str = REGULAR) -> float:
    """Return how wide a text runs, in the unit of the size."""
    register()
    return float(pdfmetrics.stringWidth(printable(text), face, size))


def wrapped(text: str, size: float, width: float, face: str = REGULAR) -> list[str]:
    """Break a text at its ordinary spaces into lines no wider than asked; a longer word stands alone."""
    lines: list[str] = []
    line = ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if line and width_of(longer, size, face) > width:
            lines.append(line)
            line = word
        else:
            line = longer
    return [*lines, line] if line else lines
