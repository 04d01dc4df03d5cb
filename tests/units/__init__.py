"""Units: lengths read and said."""
