"""Slope, aspect, and the ground at a chosen scale."""
