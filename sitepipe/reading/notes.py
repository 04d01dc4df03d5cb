"""What was taken for granted on the way, and what the user should look at."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Notes:
    """Whole sentences; ``+`` puts those of two steps one after the other."""

    assumptions: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    def __add__(self, later: Notes) -> Notes:
        """Return both."""
        return Notes((*self.assumptions, *later.assumptions), (*self.warnings, *later.warnings))


NO_NOTES = Notes()
