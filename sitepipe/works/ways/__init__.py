"""Paths, and where a truck may tip."""
