"""What to build: mounds, hoop house, trellis, paths, materials."""
