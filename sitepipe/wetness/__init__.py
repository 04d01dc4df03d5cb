"""Wetness index, depth to water, probability of standing water."""
