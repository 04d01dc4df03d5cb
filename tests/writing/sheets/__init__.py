"""The printed sheets."""
