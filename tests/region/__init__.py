"""Tests of the region: real schedulers, real workers."""
