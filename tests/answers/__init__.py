"""What the program says."""
