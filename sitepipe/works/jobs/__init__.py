"""Materials, years and tasks."""
