"""Rows for vines."""
