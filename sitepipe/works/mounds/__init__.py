"""Where mounds go, how high, of what."""
