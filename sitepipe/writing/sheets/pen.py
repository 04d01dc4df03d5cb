"""A pen that draws in px from the upper left corner of a sheet. Nothing is scaled or turned but text."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence

from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from sitepipe.writing.sheets.fonts import BOLD, ITALIC, REGULAR, printable, register, width_of
from sitepipe.writing.sheets.paper import POINT

Point = tuple[float, float]
Line = Sequence[Point]

BLACK, SOFT, THIN, PALE, GREY, WHITE = 0.08, 0.30, 0.42, 0.87, 0.74, 1.0
"""Greys; PALE and GREY stand under water only."""


class Pen:
    """Draws on one sheet."""

    def __init__(self, canvas: Canvas, height: float) -> None:
        register()
        self.canvas = canvas
        self.height = height

    def _point(self, point: Point) -> Point:
        return round(point[0] * POINT, 3), round((self.height - point[1]) * POINT, 3)

    def _path(self, lines: Sequence[Line], is_closed: bool) -> PDFPathObject:
        # Written out here to a hundredth of a point: the library's own way to print a number takes five times as long.
        code: list[str] = []
        for line in lines:
            if len(line) < 2:
                continue
            code += [f"{x * POINT:.2f} {(self.height - y) * POINT:.2f} l" for x, y in line]
            code[-len(line)] = f"{code[-len(line)][:-1]}m"
            if is_closed:
                code.append("h")
        return PDFPathObject(code)

    def stroke(
        self,
        lines: Sequence[Line],
        width: float,
        grey: float = BLACK,
        dashes: Sequence[float] = (),
        is_closed: bool = False,
        is_round: bool = False,
    ) -> None:
        """Draw lines."""
        canvas = self.canvas
        canvas.setLineWidth(width * POINT)
        canvas.setStrokeGray(grey)
        canvas.setLineCap(1 if is_round else 0)
        canvas.setLineJoin(1)
        canvas.setDash([length * POINT for length in dashes] if dashes else [])
        canvas.drawPath(self._path(lines, is_closed), stroke=1, fill=0)
        canvas.setDash([])

    def fill(self, areas: Sequence[Line], grey: float) -> None:
        """Fill areas; a ring within a ring is a hole."""
        self.canvas.setFillGray(grey)
        self.canvas.drawPath(self._path(areas, True), stroke=0, fill=1, fillMode=0)

    def circle(self, middle: Point, radius: float, fill: float | None, width: float = 0.0, grey: float = BLACK) -> None:
        """Draw a circle, filled, outlined, or both."""
        canvas = self.canvas
        canvas.setLineWidth(width * POINT)
        canvas.setStrokeGray(grey)
        if fill is not None:
            canvas.setFillGray(fill)
        x, y = self._point(middle)
        canvas.circle(x, y, radius * POINT, stroke=int(width > 0.0), fill=int(fill is not None))

    def square(self, middle: Point, side: float, fill: float, width: float = 0.0) -> None:
        """Draw an upright square around a place."""
        x, y, half = *middle, side / 2.0
        ring = [(x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)]
        self.fill([ring], fill)
        if width > 0.0:
            self.stroke([ring], width, is_closed=True)

    @contextlib.contextmanager
    def inside(self, areas: Sequence[Line]) -> Iterator[None]:
        """Keep what is drawn inside areas."""
        self.canvas.saveState()
        self.canvas.clipPath(self._path(areas, True), stroke=0, fill=0, fillMode=0)
        try:
            yield
        finally:
            self.canvas.restoreState()

    def write(
        self,
        place: Point,
        text: str,
        size: float = 14.0,
        face: str = REGULAR,
        anchor: str = "start",
        grey: float = BLACK,
        has_edge: bool = False,
        turn: float = 0.0,
        spaced: float = 0.0,
    ) -> None:
        """Write a line of text with its foot at a place; an edge of paper keeps lines off it.

        Parameters
        ----------
        turn : float
            Against the clock. [deg]
        spaced : float
            Room put between the letters. [px]
        """
        said = printable(text)
        long = width_of(said, size, face) + spaced * max(len(said) - 1, 0)
        start = {"start": 0.0, "middle": -long / 2.0, "end": -long}[anchor]
        canvas = self.canvas
        canvas.saveState()
        x, y = self._point(place)
        canvas.translate(x, y)
        if turn:
            canvas.rotate(turn)
        for is_edge in (True, False) if has_edge else (False,):
            canvas.saveState()
            text_object = canvas.beginText(start * POINT, 0)
            text_object.setFont(face, size * POINT)
            text_object.setCharSpace(spaced * POINT)
            if is_edge:
                canvas.setLineWidth(3.5 * POINT)
                canvas.setLineJoin(1)
                text_object.setTextRenderMode(2)
                text_object.setStrokeGray(WHITE)
            text_object.setFillGray(WHITE if is_edge else grey)
            text_object.textOut(said)
            canvas.drawText(text_object)
            canvas.restoreState()
        canvas.restoreState()

    def picture(self, image: ImageReader, left: float, top: float, width: float, height: float) -> None:
        """Put a picture into a box."""
        x, y = self._point((left, top + height))
        self.canvas.drawImage(image, x, y, width * POINT, height * POINT)


__all__ = ["BLACK", "BOLD", "GREY", "ITALIC", "PALE", "REGULAR", "SOFT", "THIN", "WHITE", "Line", "Pen", "Point"]
