"""Where a hoop house may stand, and why there."""
