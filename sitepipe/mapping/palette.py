"""Colours of the map and the printed sheet by role, for day, for night and for print."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Ink:
    """One role's colour on light and on dark paper, as six hexadecimal digits, and its grey in print, 0 to 1."""

    light: str
    dark: str
    grey: float = 1.0


COLOURS: dict[str, Ink] = {
    "paper": Ink("FBFBF7", "14191C", 1.0),
    "card": Ink("FFFFFF", "1B2226", 1.0),
    "ink": Ink("1C2328", "EEF1EC", 0.08),
    "soft": Ink("4A5359", "B4BDC0", 0.3),
    "level-whole": Ink("545E63", "9EAAAE", 0.42),
    "level": Ink("6C767A", "808C90", 0.5),
    "tree-line": Ink("3B4744", "B9C4BF", 0.3),
    "tree": Ink("E6EAE7", "2B3432", 0.97),
    "water-line": Ink("0A4A86", "9CCBF2", 0.08),
    "stands-8": Ink("6FA8D6", "1F66A6", 0.74),
    "stands-5": Ink("A5CBE8", "22486B", 0.87),
    "stands-2": Ink("D3E5F2", "26343F", 1.0),
    "built-line": Ink("B8360B", "FF8F63", 0.08),
    "mound": Ink("F1AE8D", "74301B", 1.0),
    "plant-line": Ink("075440", "7FD6B0", 0.08),
    "plant": Ink("A6D8C2", "1F4F3E", 1.0),
    "path-line": Ink("3A3012", "F4E9C0", 0.08),
    "path": Ink("F7EECB", "75693F", 1.0),
    "shade-line": Ink("2E2745", "C9BFE0", 0.08),
    "sun-8": Ink("FFEB9C", "806A1B", 1.0),
    "sun-6": Ink("E6D2B8", "5C5239", 1.0),
    "sun-4": Ink("BDB0C8", "4A4159", 1.0),
    "sun-0": Ink("8B80A4", "231B35", 1.0),
}
"""Ink is what is there, blue is water, red is what we propose, green is what we plant, violet is shade."""

RELIEF_LIT = Ink("FFFEF9", "363C3F")
RELIEF_SHADED = Ink("BEC5CC", "20272B")
"""The ends of the ground's tone: lit and shaded."""


def style_sheet() -> str:
    """Return the colours as CSS: one property and two classes a role, the dark ones where a device asks for dark."""
    light = "".join(f"--{role}:#{ink.light};" for role, ink in COLOURS.items())
    dark = "".join(f"--{role}:#{ink.dark};" for role, ink in COLOURS.items())
    pens = "".join(
        f".pen-{role}{{fill:none;stroke:var(--{role})}}.ink-{role}{{fill:var(--{role})}}" for role in COLOURS
    )
    return f":root{{{light}color-scheme:light dark}}\n@media (prefers-color-scheme:dark){{:root{{{dark}}}}}\n{pens}\n"
