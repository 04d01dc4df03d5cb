"""Printed sheets at a true scale, black on white."""
