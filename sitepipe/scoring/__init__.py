"""Memberships, uses and zones."""
