"""The palette keeps its contrasts, and its fills stay apart for colour-blind eyes."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from sitepipe.arrays import FloatArray
from sitepipe.mapping.marks import MARKS, flow_width
from sitepipe.mapping.palette import COLOURS, RELIEF_SHADED, style_sheet

# Machado, Oliveira & Fernandes (2009), IEEE Trans. Vis. Comput. Graph. 15(6):1291, table 1, severity 1.0;
# for linear RGB. Values from memory, checked against their rows: each sums to 1.
EYES = {
    "normal": np.eye(3),
    "no red cones": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no green cones": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "no blue cones": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
LEAST = {"normal": 7.0, "no red cones": 7.0, "no green cones": 7.0, "no blue cones": 5.0}
"""Goal of the page's design: 7 for red-green blindness, 5 for blue blindness, since the mark carries the class too."""
FILLS_OF_VIEW = {
    "water": ("stands-8", "stands-5", "stands-2"),
    "sun": ("sun-8", "sun-6", "sun-4", "sun-0"),
    "build": ("mound", "path", "plant", "tree", "stands-8"),
}
"""Fills that stand beside each other in one view and must be told apart."""
LINES = ("water-line", "built-line", "plant-line", "path-line", "ink")


def rgb(colour: str) -> FloatArray:
    return np.array([int(colour[k : k + 2], 16) / 255.0 for k in (0, 2, 4)])


def linear(colour: FloatArray) -> FloatArray:
    """IEC 61966-2-1 (sRGB)."""
    return np.where(colour <= 0.04045, colour / 12.92, ((colour + 0.055) / 1.055) ** 2.4)


def encoded(light: FloatArray) -> FloatArray:
    light = np.clip(light, 0.0, 1.0)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1.0 / 2.4) - 0.055)


def contrast(first: str, second: str) -> float:
    """WCAG 2.2, relative luminance and contrast ratio."""
    weights = np.array([0.2126, 0.7152, 0.0722])
    bright, dim = sorted((float(linear(rgb(colour)) @ weights) for colour in (first, second)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


def seen_distance(first: str, second: str, eye: str) -> float:
    labs = [rgb2lab(encoded(EYES[eye] @ linear(rgb(colour)))[None, None, :]) for colour in (first, second)]
    return float(deltaE_ciede2000(labs[0], labs[1])[0, 0])  # type: ignore[no-untyped-call]


@pytest.mark.parametrize("eye", EYES)
def test_each_matrix_keeps_grey_grey(eye: str) -> None:
    assert EYES[eye].sum(axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=2e-6)


def test_contrast_is_that_of_the_standard() -> None:
    """WCAG 2.2: black on white is 21 to 1; #767676 on white is the lightest grey that reaches 4.5."""
    assert contrast("000000", "FFFFFF") == pytest.approx(21.0)
    assert contrast("767676", "FFFFFF") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("eye", EYES)
@pytest.mark.parametrize("view", FILLS_OF_VIEW)
def test_fills_that_stand_together_are_told_apart(view: str, eye: str, scheme: str) -> None:
    for first, second in combinations(FILLS_OF_VIEW[view], 2):
        colours = [getattr(COLOURS[role], scheme) for role in (first, second)]
        assert seen_distance(colours[0], colours[1], eye) >= LEAST[eye], (first, second)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("eye", EYES)
def test_line_colours_are_told_apart(eye: str, scheme: str) -> None:
    for first, second in combinations(LINES, 2):
        colours = [getattr(COLOURS[role], scheme) for role in (first, second)]
        assert seen_distance(colours[0], colours[1], eye) >= LEAST[eye], (first, second)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("role", ["ink", "soft"])
@pytest.mark.parametrize("ground", ["paper", "card"])
def test_text_reaches_the_contrast_of_text(role: str, ground: str, scheme: str) -> None:
    assert contrast(getattr(COLOURS[role], scheme), getattr(COLOURS[ground], scheme)) >= 4.5


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_ink_and_soft_ink_read_on_the_worst_relief(scheme: str) -> None:
    """The light ground's darkest tone; the dark ground's lightest is checked by the level lines below."""
    worst = RELIEF_SHADED.light if scheme == "light" else "363C3F"
    for role in ("ink", "soft", "water-line", "plant-line", "path-line"):
        assert contrast(getattr(COLOURS[role], scheme), worst) >= 4.5, role
    for role in ("level", "built-line"):
        assert contrast(getattr(COLOURS[role], scheme), worst) >= 2.6, role


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_mark_stands_out_from_its_own_fill(scheme: str) -> None:
    for name, mark in MARKS.items():
        if mark.line and mark.fill:
            line, fill = (getattr(COLOURS[role], scheme) for role in (mark.line, mark.fill))
            assert contrast(line, fill) >= 3.0, name


def test_every_class_of_a_view_has_a_mark_of_its_own_besides_its_colour() -> None:
    for roles in (("stands-8", "stands-5", "stands-2"), ("sun-8", "sun-6", "sun-4", "sun-0")):
        looks = {(MARKS[role].pattern, MARKS[role].dashes) for role in roles}
        assert len(looks) == len(roles)


def test_a_flow_line_widens_with_the_ground_behind_it() -> None:
    widths = [flow_width(area) for area in (0.0, 100.0, 2000.0, 1e6, 1e9)]
    assert widths == sorted(widths)
    assert widths[0] == 1.2
    assert widths[-1] == 3.6


def test_the_style_sheet_holds_every_role_by_day_and_by_night() -> None:
    sheet = style_sheet()
    for role, ink in COLOURS.items():
        assert f"--{role}:#{ink.light};" in sheet
        assert f"--{role}:#{ink.dark};" in sheet
