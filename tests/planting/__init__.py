"""Tests of the planting room."""
