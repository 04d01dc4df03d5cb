"""Sun position, horizon, hours of sun."""
