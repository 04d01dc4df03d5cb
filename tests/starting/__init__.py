"""Tests of beginning a site."""
