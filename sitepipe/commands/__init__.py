"""One file for each command, and the console that they speak through."""
