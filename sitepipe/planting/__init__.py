"""Palette, matching, counts."""
