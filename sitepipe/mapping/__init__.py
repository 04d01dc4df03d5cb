"""The shared page."""
