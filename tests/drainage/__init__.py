"""Tests of the drainage room."""
