"""Tests of the page to draw on."""
