"""What stands on a sheet, measured from the PDF itself by a reader that shares no code with what drew it."""

from __future__ import annotations

import io
from dataclasses import dataclass, field

from pypdf import PdfReader
from pypdf.generic import ContentStream, FloatObject, NumberObject

POINTS_PER_INCH = 72.0


@dataclass(frozen=True, slots=True)
class Stroke:
    """One painted path: its pieces as points, the width of its line, its dashes. [pt]."""

    lines: tuple[tuple[tuple[float, float], ...], ...]
    width: float
    dashes: tuple[float, ...]
    grey: float


@dataclass(slots=True)
class _State:
    width: float = 1.0
    dashes: tuple[float, ...] = ()
    grey: float = 0.0
    lines: list[list[tuple[float, float]]] = field(default_factory=list)


def reader(pdf: bytes) -> PdfReader:
    """Open a PDF."""
    return PdfReader(io.BytesIO(pdf), strict=True)


def strokes(pdf: bytes, page: int = 0) -> list[Stroke]:
    """Return every stroked path of a page that no matrix has moved. [pt], from the lower left corner."""
    opened = reader(pdf)
    content = ContentStream(opened.pages[page].get_contents(), opened)
    state, kept, found = _State(), [], []
    depth_moved = None
    for operands, operator in content.operations:
        values = [float(value) for value in operands if isinstance(value, FloatObject | NumberObject)]
        match operator:
            case b"q":
                kept.append((state.width, state.dashes, state.grey))
            case b"Q":
                state.width, state.dashes, state.grey = kept.pop()
                depth_moved = None if depth_moved is not None and len(kept) < depth_moved else depth_moved
            case b"cm":
                # ReportLab opens every page with a unit matrix; any other belongs to text or pictures.
                if values != [1.0, 0.0, 0.0, 1.0, 0.0, 0.0]:
                    depth_moved = len(kept)
            case b"w":
                state.width = values[0]
            case b"G":
                state.grey = values[0]
            case b"d":
                state.dashes = tuple(float(value) for value in operands[0])
            case b"m":
                state.lines.append([(values[0], values[1])])
            case b"l":
                state.lines[-1].append((values[0], values[1]))
            case b"S" | b"s":
                if depth_moved is None:
                    lines = tuple(tuple(line) for line in state.lines)
                    found.append(Stroke(lines, state.width, state.dashes, state.grey))
                state.lines = []
            case b"n" | b"f" | b"f*" | b"B":
                state.lines = []
    return found


def text_of(pdf: bytes, page: int = 0) -> str:
    """Return the text of a page."""
    text: str = reader(pdf).pages[page].extract_text()
    return text.replace("\u00a0", " ")
