"""What the plan does to the water."""
